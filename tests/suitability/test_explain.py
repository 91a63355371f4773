"""Why a plant suits a place or not, in words and numbers."""

import math

import numpy as np
import pytest

from habitat.knowledge import load_knowledge
from habitat.settings.knowledge import KnowledgeSettings
from habitat.settings.suitability import SuitabilitySettings
from habitat.suitability import compile_needs, explain
from habitat.suitability.explain import (
    alternatives,
    best_place,
    change_words,
    class_areas,
    room_words,
    wanted_words,
)
from habitat.suitability.fit import Scores

KNOWLEDGE = load_knowledge(KnowledgeSettings())
LIMITS = (0.75, 0.5, 0.25)
GOOD = {"sun_h": 8.0, "ph": 6.5, "drainage": 4.0, "texture": 4.0}


def needs(*assessed):
    return compile_needs(KNOWLEDGE, SuitabilitySettings(), assessed or tuple(GOOD))


def test_a_good_place():
    found = explain(needs(), "Asclepias incarnata", GOOD)
    assert (found.low, found.class_name) == (1.0, "S1")
    assert found.words == "highly suitable (S1)"
    assert not any(n.limiting for n in found.needs)
    states = {n.need: n.state for n in found.needs}
    assert states["ph"] == "assessed"
    assert states["depth_cm"] == "not assessed"
    assert states["sun_afternoon_h"] == "not stated"


def test_the_limiting_need_in_words():
    found = explain(needs(), "Asclepias incarnata", GOOD | {"drainage": 5.0, "ph": 7.4})
    assert found.words == "moderately suitable, limited by drainage (S2)"
    by = {n.need: n for n in found.needs}
    assert by["drainage"].score == 0.5
    assert by["ph"].score == pytest.approx(0.75)
    assert by["drainage"].here == "well drained"
    assert "lives with very poorly drained to well drained" in by["drainage"].wants
    assert by["drainage"].limiting
    assert "hold water longer" in by["drainage"].change
    assert "0.2 units" in by["ph"].change
    assert by["sun_h"].change == ""


def test_a_measured_value_on_a_limit_is_in_the_better_class():
    """pH 7.4 lies at (8 - 7.4) / 0.8 = 0.75 on the falling side, though as a 32-bit number just beyond."""
    found = explain(needs("ph"), "Asclepias incarnata", {"ph": 7.4})
    assert (found.class_name, found.low) == ("S1", pytest.approx(0.75, abs=1e-6))
    assert explain(needs("ph"), "Asclepias incarnata", {"ph": 7.401}).class_name == "S2"


def test_unknown_is_neither_good_nor_bad():
    found = explain(needs(), "Asclepias incarnata", GOOD | {"ph": math.nan})
    assert (found.low, found.high, found.class_name) == (0.0, 1.0, "")
    assert found.words == ("between not suitable (N) and highly suitable (S1): soil pH is unknown")
    missing = explain(needs(), "Asclepias incarnata", {k: v for k, v in GOOD.items() if k != "ph"})
    assert missing.words == found.words


def test_unknown_where_another_need_already_rules_it_out():
    found = explain(needs(), "Asclepias incarnata", GOOD | {"ph": math.nan, "sun_h": 1.0})
    assert found.class_name == "N"
    assert found.words == "not suitable, limited by sun (N)"


def test_nothing_assessed_is_said_not_praised():
    found = explain(needs("salt"), "Asclepias incarnata", {"salt": 0.0})
    assert found.class_name == "S1"
    bare = compile_needs(KNOWLEDGE, SuitabilitySettings(), ())
    found = explain(bare, "Asclepias incarnata", {})
    assert found.class_name == ""
    assert found.words.startswith("not assessed")


def test_the_table_has_a_row_per_need():
    table = explain(needs(), "Asclepias incarnata", GOOD).table()
    assert len(table) == 9
    assert list(table.columns) == ["need", "here", "wanted", "score", "state", "limiting", "change"]
    assert table["score"].notna().sum() == 4


@pytest.mark.parametrize(
    ("need", "wanted", "words"),
    [
        ("ph", [5, 5.5, 7.2, 8], "best 5.5 to 7.2, lives with 5 to 8"),
        ("sun_h", [4, 6, np.inf, np.inf], "best 6 or more, lives with 4 or more h per clear day"),
        ("zone", [2, 3, 9, 10], "zone 3 to 9"),
        ("texture", [0, 1, 7, 8], "sand to sandy clay loam"),
        ("drainage", [3, 5, 7, 8],
         "best well drained to excessively drained, "
         "lives with moderately well drained to excessively drained"),
        ("salt", [-np.inf, -np.inf, 2, 4], "best up to 2, lives with up to 4 dS/m"),
    ],
)  # fmt: skip
def test_ranges_in_words(need, wanted, words):
    assert wanted_words(need, np.array(wanted, float)) == words


def test_changes_in_words():
    acid = change_words("ph", 4.0, np.array([5.0, 5.5, 7.2, 8.0]))
    assert acid.startswith("lime raises pH slowly; 1.5 units")
    assert "choose another plant" in acid
    assert "sulphur lowers" in change_words("ph", 7.5, np.array([5.0, 5.5, 7.2, 8.0]))
    assert "arborist" in change_words("sun_h", 3.0, np.array([4.0, 6.0, np.inf, np.inf]))
    assert "raised bed of 10 cm" in change_words("depth_cm", 36.0, np.array([23.0, 46.0, np.inf, np.inf]))


def test_where_it_fits_best_and_how_much():
    low = np.array([[0.9, 0.3], [1.0, 0.6]])
    inside = np.array([[True, True], [False, True]])
    assert best_place(low, inside) == (0, 0)
    assert best_place(low, np.zeros((2, 2), bool)) is None
    found = Scores(low, low, np.zeros((2, 2), np.uint8))
    areas = {"S1": 4.0, "S2": 4.0, "S3": 4.0, "N": 0.0, "": 0.0}
    assert class_areas(found, inside, 2.0, LIMITS) == areas
    unsure = Scores(low, np.array([[1.0, 0.45], [1.0, 0.8]]), found.limiting)
    assert class_areas(unsure, inside, 2.0, LIMITS) == areas | {"S2": 0.0, "": 4.0}  # S2 might be S1


def test_room_for_crowns():
    oak, milkweed = (KNOWLEDGE.plants.loc[p] for p in ("Quercus alba", "Asclepias incarnata"))
    assert "crown is 20 m wide" in room_words(oak, 100.0, 0.0)
    assert room_words(oak, 100.0, 3.0) == ""  # the crown may hang over ground where no trunk may stand
    assert f"takes {math.pi / 4 * 0.75**2:.1f} m2" in room_words(milkweed, 0.3, 0.3)  # 0.75 m wide
    assert room_words(milkweed, 3.0, 3.0) == ""


def test_alternatives_feed_the_same_butterflies_and_fit_better_first():
    shape = (2, 2)
    values = {k: np.full(shape, v, np.float32) for k, v in (GOOD | {"sun_h": 3.0, "drainage": 5.0}).items()}
    found = alternatives(KNOWLEDGE, needs(), "Asclepias incarnata", values, lambda _: np.ones(shape, bool))
    assert found["fit"].is_monotonic_decreasing
    assert found["plant"][0] == "Asclepias exaltata"
    assert set(found["plant"]) <= set(KNOWLEDGE.hosts_of("Danaus plexippus")["plant"]) - {
        "Asclepias incarnata"
    }
    assert len(found) <= 5
    few = alternatives(
        KNOWLEDGE, needs(), "Asclepias incarnata", values, lambda _: np.ones(shape, bool), count=1
    )
    assert few.equals(found.head(1))


def test_alternatives_for_a_nectar_plant_share_its_months():
    shape = (1, 1)
    values = {k: np.full(shape, v, np.float32) for k, v in GOOD.items()}
    found = alternatives(KNOWLEDGE, needs(), "Liatris spicata", values, lambda _: np.ones(shape, bool))
    rows = KNOWLEDGE.plants.loc[found["plant"]]
    assert len(found) == 5
    assert (rows["nectar_value"] > 0).all()
    assert ((rows["bloom_start_month"] <= 8) & (rows["bloom_end_month"] >= 7)).all()
    none = alternatives(KNOWLEDGE, needs(), "Liatris spicata", values, lambda _: np.zeros(shape, bool))
    assert none.empty
