"""Maps of sun, soil and closed ground: told apart in grey, words for every class, one value per yard."""

import re
from dataclasses import replace

import matplotlib as mpl
import numpy as np
import pytest

from habitat.ground.setbacks import DEFAULTS, SEPTIC_SOMEWHERE, STEEP
from habitat.report.maps import classes as map_classes
from habitat.report.maps import ground as map_yards
from habitat.report.maps.classes import DEPTH, PH, SUN, TEXTURE, WATER, WET
from habitat.report.maps.ground import GROUPS, VIRIDIS, draw_yards, yard_factors
from habitat.report.maps.style import Sheet, style, wrapped
from habitat.report.maps.year import draw_year
from habitat.report.public.reduce import for_audience
from tests.report.small_plan import agreed, small_plan

# A person with deuteranopia, and one with protanopia: linear RGB, severity 1 (Machado, Oliveira & Fernandes
# 2009, IEEE Transactions on Visualization and Computer Graphics 15:1291-1298, table 1).
EYES = {
    "deuteranopia": [
        [0.367322, 0.860646, -0.227968],
        [0.280085, 0.672501, 0.047413],
        [-0.011820, 0.042940, 0.968881],
    ],
    "protanopia": [
        [0.152286, 1.052583, -0.204868],
        [0.114503, 0.786281, 0.099216],
        [-0.003882, -0.048116, 1.051998],
    ],
}


def lightness(colours, eye=None):
    """CIE 1976 lightness L* of sRGB colours (IEC 61966-2-1), as one sees it who sees no hue."""
    rgb = np.array([mpl.colors.to_rgb(c) for c in colours])
    linear = np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4)
    if eye is not None:
        linear = np.clip(linear @ np.array(EYES[eye]).T, 0, 1)
    y = linear @ [0.2126, 0.7152, 0.0722]
    return np.where(y > (6 / 29) ** 3, 116 * np.cbrt(y) - 16, y * (29 / 3) ** 3)


@pytest.mark.parametrize("eye", [None, *EYES])
@pytest.mark.parametrize("classes", [SUN, PH, WET, DEPTH, WATER, TEXTURE])
def test_classes_rise_in_lightness_for_every_eye_and_in_grey(classes, eye):
    """The next class is always lighter: by 3 of 100 steps at least, 7 where there are at most seven."""
    found = np.arange(len(classes.words), dtype=float)
    colours, entries = map_classes._spread(classes, found, None)
    steps = np.diff(lightness(list(colours.values()), eye))
    assert steps.min() > (7 if len(found) <= 7 else 3)
    assert [words for _, words in entries] == list(classes.words)


def test_every_key_of_closed_ground_has_one_colour():
    keys = [key for _, keys, _, _ in GROUPS for key in keys]
    assert sorted(keys) == sorted(s.what for s in (*DEFAULTS, STEEP, SEPTIC_SOMEWHERE))


def test_reasons_of_closed_ground_rise_in_lightness_too():
    assert np.diff(lightness([VIRIDIS(at) for _, _, at, _ in GROUPS])).min() > 2
    light = [hatch for _, _, at, hatch in GROUPS if at > 0.85]
    assert len(set(light)) == len(light)  # what is light differs by hatch as well


@pytest.fixture(scope="module")
def plan(tmp_path_factory):
    return small_plan(tmp_path_factory.mktemp("maps"))


def drawn(monkeypatch, plan, folder):
    """Return the words and fills of the map of yards."""
    kept = []

    def save(sheet, folder, name):
        kept.append(sheet)
        return [folder / f"{name}.png"]

    monkeypatch.setattr(Sheet, "save", save)
    with style():
        files = draw_yards(plan, folder)
    figure = kept[0].figure
    words = [" ".join(t.get_text().split()) for legend in figure.legends for t in legend.get_texts()]
    return files, words, figure


def test_each_yard_is_filled_by_its_own_value(monkeypatch, plan, tmp_path):
    files, words, figure = drawn(monkeypatch, plan, tmp_path)
    assert [file.name for file in files] == ["yards.png"]
    panels = [ax for ax in figure.axes if ax.collections]
    assert len(panels) == len(yard_factors(plan)) >= 2
    yards = plan.site.yards
    expected = {SUN.words[int(k)] for k in SUN.of(yards["sun_h_mean"].to_numpy(float)) if np.isfinite(k)}
    assert expected <= set(words)
    filled = sum(len(c.get_paths()) for c in panels[0].collections if len(c.get_facecolor()))
    assert filled >= len(yards)


def test_a_yard_of_unknown_value_is_hatched_and_a_measured_one_dotted(monkeypatch, plan, tmp_path):
    yards = plan.site.yards.copy()
    yards.loc[yards.index[0], "ph_mean"] = np.nan
    yards.loc[yards.index[1], "ph_source"] = "soil test"
    changed = replace(plan, site=replace(plan.site, yards=yards))
    _, words, figure = drawn(monkeypatch, changed, tmp_path)
    assert "unknown" in words
    assert "measured in the yard itself" in words
    assert any(c.get_hatch() for ax in figure.axes for c in ax.collections)
    assert map_yards.MEASURED == ("soil test", "counted by people")


def test_for_the_public_no_dot_tells_who_measured(monkeypatch, plan, tmp_path):
    site = replace(plan.site, yards=plan.site.yards.assign(ph_source="soil test"))
    told = replace(plan, site=site, study=plan.study.changed(report={"audience": "public"}))
    _, words, _ = drawn(monkeypatch, for_audience(told), tmp_path)
    assert "measured in the yard itself" not in words


def test_for_the_public_closed_ground_is_told_of_the_yards_shown(monkeypatch, plan, tmp_path):
    """Hidden yards are drawn as such, not as open ground, and in no share; no caption has an empty word."""
    reduced = agreed(plan, [True] * 3 + [False] * 4)
    shown = plan.layers.yards["yard_id"].iloc[:3]
    herbs = plan.open_ground[plan.open_ground["growth_form"] == "herb"].set_index("yard_id")["open_m2"]
    share = herbs[shown].sum() / plan.layers.yards.geometry.iloc[:3].area.sum()
    told, captions = [], []
    monkeypatch.setattr(Sheet, "notes", lambda sheet, lines, y: told.extend(lines))
    monkeypatch.setattr(Sheet, "caption", lambda sheet, words: captions.append(words))
    legends = []
    monkeypatch.setattr(Sheet, "legend", lambda sheet, groups: legends.extend(groups) or 1.0)
    monkeypatch.setattr(Sheet, "save", lambda sheet, *_: [])
    map_yards.draw_closed(reduced, tmp_path)
    map_yards.draw_sun(reduced, tmp_path)
    assert told[0] == f"Open for flowers and grasses: {100 * share:.0f} % of the ground of the yards shown."
    assert "yards that are not shown" in [words for _, words in legends[0][1]]
    assert captions[1] == "cells of 1 m"
    map_yards.draw_closed(plan, tmp_path)
    map_yards.draw_sun(plan, tmp_path)
    assert captions[3].startswith("sun: from ")
    assert "yards that are not shown" not in [words for _, words in legends[2][1]]


def test_numbers_keep_their_units_on_one_line():
    lines = wrapped("What hides the southern sky stands about 4 m away.", 42).split("\n")
    assert lines[1] == "4\u00a0m away."


def test_the_year_says_what_is_lacking_and_what_not_to_tidy(monkeypatch, plan, tmp_path):
    """Without plants that flower in June nothing is open for monarchs then; hosts that stand still count."""
    kept = []
    monkeypatch.setattr(Sheet, "save", lambda sheet, *_: kept.append(sheet) or [])
    months = plan.knowledge.plants[["bloom_start_month", "bloom_end_month"]]
    june = months.index[(months["bloom_start_month"] <= 6) & (months["bloom_end_month"] >= 6)]
    poorer = replace(
        plan,
        plantings=plan.plantings[~plan.plantings["plant"].isin(june)],
        existing_plants=plan.existing_plants[~plan.existing_plants["plant"].isin(june)],
    )
    with style():
        draw_year(plan, tmp_path)
        draw_year(poorer, tmp_path)
    whole, lacking = (" ".join(t.get_text().replace("\n", " ") for t in s.figure.texts) for s in kept)
    dry = [" ".join(re.findall(r"Nothing flowers in .*?monarch", text)) for text in (whole, lacking)]
    assert ["June" in text for text in dry] == [False, True]
    assert "Leave stems standing until spring has stayed warm: black swallowtail" in whole
