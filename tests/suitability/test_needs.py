"""Needs as trapezia: what the tables mean, what the study overrides, what is not stated or not assessed."""

import numpy as np
import pytest

from habitat.errors import ParameterError, StudyError
from habitat.factors import FACTORS
from habitat.factors.classes import TEXTURES
from habitat.knowledge import load_knowledge
from habitat.settings.knowledge import KnowledgeSettings
from habitat.settings.suitability import SuitabilitySettings
from habitat.suitability import build_needs, compile_needs, fit
from habitat.suitability.fit import score
from habitat.suitability.needs import trapezium

NEEDS = FACTORS.names
KNOWLEDGE = load_knowledge(KnowledgeSettings())
ALL = tuple(NEEDS)


def needs(assessed=ALL, **suitability):
    return compile_needs(KNOWLEDGE, SuitabilitySettings(**suitability), assessed)


def fit_of(found, plant, need, values):
    ranges = found.tables["ranges"][found.plants.index(plant), NEEDS.index(need)]
    return trapezium(np.asarray(values, float), ranges).tolist()


def test_ph_is_the_tables_trapezium():
    # Asclepias incarnata: 5.0, 5.5, 7.2, 8.0
    assert fit_of(needs(), "Asclepias incarnata", "ph", [5.0, 5.25, 5.5, 7.2, 7.6, 8.0]) == pytest.approx(
        [0, 0.5, 1, 1, 0.5, 0]
    )


def test_fifteen_hours_of_sun_are_no_upper_limit():
    # Antennaria plantaginifolia: 3, 4, 10, 15
    assert fit_of(needs(), "Antennaria plantaginifolia", "sun_h", [3, 3.5, 4, 12, 15]) == [0, 0.5, 1, 1, 1]
    # Actaea racemosa: 0.5, 1.5, 4, 6
    assert fit_of(needs(), "Actaea racemosa", "sun_h", [1.0, 4.0, 5.0, 6.0]) == [0.5, 1.0, 0.5, 0.0]


def test_the_outermost_drainage_class_named_is_tolerated():
    # Asclepias incarnata: ranks 1, 1, 4, 5
    assert fit_of(needs(), "Asclepias incarnata", "drainage", range(1, 8)) == [1, 1, 1, 1, 0.5, 0, 0]


def test_texture_is_in_or_out():
    # Asclepias tuberosa: coarse and medium
    expected = [1.0] * 7 + [0.0] * 5
    assert fit_of(needs(), "Asclepias tuberosa", "texture", range(1, 13)) == expected


def test_texture_groups_are_those_of_the_plant_table():
    groups = {
        "coarse": ("sand", "loamy sand"),
        "medium": ("sandy loam", "loam", "silt loam", "silt", "sandy clay loam"),
        "fine": ("clay loam", "silty clay loam", "sandy clay", "silty clay", "clay"),
    }
    for name, (first, last) in FACTORS["texture"].wants.groups.items():
        assert TEXTURES[first - 1 : last] == groups[name]


def test_depth_is_full_at_the_least_good_depth_and_nothing_at_half():
    # Asclepias incarnata: 46 cm
    assert fit_of(needs(), "Asclepias incarnata", "depth_cm", [23, 34.5, 46, 300]) == [0, 0.5, 1, 1]


def test_other_needs():
    assert fit_of(needs(), "Panicum virgatum", "salt", [0, 8, 9, 12]) == [1, 1, 0.75, 0]
    assert fit_of(needs(), "Passiflora incarnata", "zone", [5, 5.5, 6, 9, 10]) == [0, 0.5, 1, 1, 0]
    assert fit_of(needs(), "Actaea racemosa", "sun_afternoon_h", [0, 2, 3, 4]) == [1, 1, 0.5, 0]
    assert fit_of(needs(), "Asclepias tuberosa", "available_water_mm", [10, 35, 400]) == [0, 1, 1]


def test_what_the_table_does_not_state_limits_nothing():
    found = needs()
    p, column = found.plants.index("Asclepias incarnata"), NEEDS.index("sun_afternoon_h")
    assert not found.tables["stated"][p, column]
    assert fit_of(found, "Asclepias incarnata", "sun_afternoon_h", [0.0, 8.0]) == [1, 1]


def test_not_assessed_is_named_in_the_fixed_order():
    found = needs(("ph", "sun_h"))
    assert found.assessed == ("sun_h", "ph")
    assert found.not_assessed == tuple(n for n in NEEDS if n not in ("sun_h", "ph"))
    assert needs(tuple(reversed(ALL))).assessed == ALL


def test_width_is_greater_for_the_more_tolerant():
    found = needs(("sun_h",))
    narrow, wide = (
        found.width[found.plants.index(p)] for p in ("Vaccinium corymbosum", "Schizachyrium scoparium")
    )
    assert 0 <= narrow < wide <= 1
    assert (needs(ALL).width == 0).all()


def test_width_is_the_share_of_what_is_usual_that_is_full():
    """With one need not assessed: how much of its usual range scores 1, counted in 4,000 places of it."""
    rest, every = needs(tuple(n for n in NEEDS if n != "ph")), needs(NEEDS)
    values = np.linspace(*FACTORS["ph"].usual_range, 4001)
    for p, plant in enumerate(rest.plants):
        full = np.asarray(fit_of(every, plant, "ph", values)) >= 1.0 - 1e-6
        assert rest.width[p] == pytest.approx(full.mean(), abs=2e-3)


def test_unknown_is_scored_at_the_worst_and_best_a_factor_can_be():
    found = needs()
    tables = found.tables
    for p, plant in enumerate(found.plants):
        for f, name in enumerate(found.assessed):
            first, last = FACTORS[name].possible
            every = np.array(fit_of(found, plant, name, np.linspace(first, last, 2001)))
            assert tables["worst"][p, f] <= every.min() + 1e-6
            assert tables["best"][p, f] >= every.max() - 1e-6


def test_a_plant_for_any_texture_is_known_to_suit_an_unknown_one():
    found = needs(("texture",))
    p = found.plants.index("Panicum virgatum")
    assert found.tables["worst"][p, 0] == found.tables["best"][p, 0] == 1


def test_overrides_by_any_name_of_the_plant():
    found = needs(plants={"swamp milkweed": {"ph_max": 9.0, "texture_ok": "coarse"}})
    assert fit_of(found, "Asclepias incarnata", "ph", [8.1]) == pytest.approx([0.5])
    assert fit_of(found, "Asclepias incarnata", "texture", [1, 4]) == [1, 0]
    assert fit_of(found, "Asclepias syriaca", "ph", [8.1]) == [0]
    assert KNOWLEDGE.plants.loc["Asclepias incarnata", "ph_max"] == 8.0  # the tables stay as they are


@pytest.mark.parametrize(
    ("given", "pattern"),
    [
        ({"plants": {"swamp milkwed": {"ph_max": 9}}}, "did you mean Asclepias incarnata"),
        ({"plants": {"swamp milkweed": {"height_m": 9}}}, "no need"),
        ({"plants": {"swamp milkweed": {"ph_max": "high"}}}, "a number"),
        ({"plants": {"swamp milkweed": {"texture_ok": 3.0}}}, "text such as"),
        ({"plants": {"swamp milkweed": {"texture_ok": "loamy"}}}, "coarse, medium, fine"),
        ({"plants": {"swamp milkweed": {"ph_max": 5.2}}}, "must not fall"),
        ({"weights": {"moonlight": 1.0}}, "no need"),
    ],
)
def test_overrides_that_make_no_sense(given, pattern):
    with pytest.raises(StudyError, match=pattern):
        needs(**given)


def test_subset_keeps_order_and_values():
    found = needs()
    part = found.subset(["Viola sororia", "Asclepias incarnata"])
    assert part.plants == ("Viola sororia", "Asclepias incarnata")
    for p, plant in enumerate(part.plants):
        q = found.plants.index(plant)
        for key in ("params", "worst", "best", "ranges", "stated"):
            assert np.array_equal(part.tables[key][p], found.tables[key][q], equal_nan=True)


def test_every_need_has_words_and_columns():
    for factor in FACTORS.values():
        assert factor.words
        assert factor.source
        assert set(factor.wants.columns) <= set(KNOWLEDGE.plants.columns)


@pytest.mark.parametrize("combine", ["scarcest", "geometric", "square_root"])
def test_what_only_tests_tell_is_left_out_where_nobody_tested(combine):
    """Two cells, the second without a test: its score is that of a study that knows of the sun alone."""
    values = {"sun_h": np.full((1, 2), 4.0, np.float32), "ph": np.array([[5.0, np.nan]], np.float32)}
    settings = {"combine": combine, "weights": {"ph": 2.0}}
    tested = compile_needs(KNOWLEDGE, SuitabilitySettings(**settings), ("sun_h", "ph"), ("ph",))
    mapped = compile_needs(KNOWLEDGE, SuitabilitySettings(**settings), ("sun_h", "ph"))
    sun_only = compile_needs(KNOWLEDGE, SuitabilitySettings(**settings), ("sun_h",))
    found, told = fit(tested, values, shape=(1, 2)), fit(mapped, values, shape=(1, 2))
    alone = fit(sun_only, {"sun_h": values["sun_h"]}, shape=(1, 2))
    assert (found.low[:, 0, 1] == alone.low[:, 0, 1]).all()
    assert (found.low == found.high).all()
    assert (found.low[:, 0, 0] == told.low[:, 0, 0]).all()
    assert (told.low[:, 0, 1] < found.low[:, 0, 1]).any()  # a hole in a map stays at its worst


def test_needs_built_from_numbers_score_as_those_of_the_table_do():
    """The numbers of Asclepias incarnata as the plant table states them, written out by hand."""
    wanted = {"ph": (5.0, 5.5, 7.2, 8.0), "drainage": (0, 1, 4, 6), "depth_cm": (23, 46, np.inf, np.inf)}
    built = build_needs({"Asclepias incarnata": wanted})
    tables = needs(("ph", "drainage", "depth_cm")).subset(["Asclepias incarnata"])
    assert built.assessed == tables.assessed
    assert built.not_assessed == tables.not_assessed
    rng = np.random.default_rng(11)
    values = {name: rng.uniform(*FACTORS[name].possible, (9, 13)).astype(np.float32) for name in wanted}
    values["depth_cm"] = rng.uniform(0, 80, (9, 13)).astype(np.float32)
    values["ph"][0, :4] = np.nan
    one, other = (score(n, "Asclepias incarnata", values) for n in (built, tables))
    assert np.array_equal(one.low, other.low)
    assert np.array_equal(one.high, other.high)
    assert np.array_equal(one.limiting, other.limiting)
    assert 0 < (one.low > 0).mean() < 1


@pytest.mark.parametrize("wanted", [{"moonlight": (0, 1, 2, 3)}, {"ph": (5, 6, 7)}, {"ph": (5, 7, 6, 8)}])
def test_needs_from_numbers_that_make_no_sense(wanted):
    with pytest.raises(ParameterError, match="wanted"):
        build_needs({"a plant": wanted})


def test_a_factor_known_of_the_place_that_a_plant_does_not_want_limits_nothing():
    found = build_needs({"a plant": {"ph": (5, 6, 7, 8)}}, assessed=("ph", "salt"))
    low = fit(found, {"ph": np.full((1, 1), 6.5, np.float32), "salt": np.full((1, 1), 50, np.float32)}).low
    assert low.tolist() == [[[255]]]
