"""Maps: nothing written over anything, type that can be read, looks told apart in grey, sizes, names."""

import itertools
from types import SimpleNamespace

import matplotlib as mpl
import numpy as np
import pandas as pd
import pytest
from matplotlib.colors import to_rgb
from pyproj import CRS

from habitat.grid import Grid
from habitat.knowledge import load_knowledge
from habitat.report.maps.fit import scores
from habitat.report.public.reduce import public_plan
from habitat.settings.knowledge import KnowledgeSettings
from habitat.study.fitting import needs_of
from habitat.study.model import Study


@pytest.mark.parametrize("confidence", [None, 0.8])
def test_classes_on_a_map_come_from_unrounded_scores(confidence):
    """Fit is kept in bytes, where 0.7505 is 191 / 255 = 0.749; a hole is undecided with confidence too.

    Swamp milkweed wants pH 5.5 and bears 5: 5.37525 is 0.7505 (S1), 5.37450 is 0.749 (S2). An error so small
    changes neither.
    """
    asked = {} if confidence is None else {"confidence": confidence, "draws": 50}
    ph = {"path": "ph.tif"} | ({} if confidence is None else {"error": 1e-5})
    study = Study(layers={"yards": {"path": "y.gpkg"}}, rasters={"ph": ph}, suitability=asked)
    values = np.array([[5.37525, 5.3745, np.nan, 6.0]], np.float32)
    grid = Grid.from_bounds((0, 0, 4, 1), 1.0, CRS.from_epsg(32617))
    site = SimpleNamespace(grid=grid, rasters={"ph": values}, assessed=("ph",))
    needs = needs_of(study, load_knowledge(KnowledgeSettings()), ("ph",)).subset(["Asclepias incarnata"])
    number, undecided, _ = scores(SimpleNamespace(site=site), needs)
    assert undecided.tolist() == [[False, False, True, False]]
    assert np.nan_to_num(number).tolist() == [[4, 3, 0, 4]]


def test_ground_that_nobody_tested_has_no_class():
    """Where soil tests alone tell anything, ground without one is not assessed: no class, and no fit of 1."""
    study = Study(layers={"yards": {"path": "y.gpkg"}})
    knowledge = load_knowledge(KnowledgeSettings())
    values = np.array([[6.0, np.nan]], np.float32)
    grid = Grid.from_bounds((0, 0, 2, 1), 1.0, CRS.from_epsg(32617))
    site = SimpleNamespace(grid=grid, rasters={"ph": values}, assessed=("ph",))
    needs = needs_of(study, knowledge, ("ph",), ("ph",)).subset(["Asclepias incarnata"])
    number, undecided, _ = scores(SimpleNamespace(site=site), needs)
    assert not undecided.any()
    assert np.isnan(number).tolist() == [[False, True]]


MAPS = (
    "plan", "sun", "sun-by-month", "soil", "closed-ground", "invitations", "fit-asclepias-incarnata",
    "corridor-monarch", "corridor-black-swallowtail", "corridor-pearl-crescent",
    "corridor-spicebush-swallowtail", "weakest-spicebush-swallowtail",
)  # fmt: skip


def written(sheet):
    """Return every text of a sheet that shows, with its box in pixels."""
    figure = sheet.figure
    texts = list(figure.texts)
    for legend in figure.legends:
        texts += legend.get_texts()
    for ax in figure.axes:
        texts += [*ax.texts, ax.xaxis.label, ax.yaxis.label]
        if ax.axison:
            texts += [*ax.get_xticklabels(), *ax.get_yticklabels()]
    shown = [t for t in texts if t.get_visible() and t.get_text().strip()]
    return [(t, t.get_window_extent(sheet.renderer)) for t in shown]


def test_there_is_a_map_for_everything(sheets):
    assert set(MAPS) <= set(sheets)
    assert "year" in sheets


def test_no_text_lies_on_another_or_leaves_the_sheet(sheets):
    for name, sheet in sheets.items():
        found = written(sheet)
        wide, high = sheet.figure.bbox.size
        for text, box in found:
            told = (name, text.get_text())
            assert box.x0 >= 0, told
            assert box.y0 >= 0, told
            assert box.x1 <= wide, told
            assert box.y1 <= high, told
        for (one, a), (two, b) in itertools.combinations(found, 2):
            over_x = min(a.x1, b.x1) - max(a.x0, b.x0)
            over_y = min(a.y1, b.y1) - max(a.y0, b.y0)
            assert min(over_x, over_y) < 2.0, (name, one.get_text(), two.get_text())


def test_no_text_lies_on_a_sign_of_the_legend(sheets):
    for name, sheet in sheets.items():
        signs = [
            handle.get_window_extent(sheet.renderer)
            for legend in sheet.figure.legends
            for handle in legend.legend_handles
        ]
        for text, box in written(sheet):
            for sign in signs:
                over_x = min(box.x1, sign.x1) - max(box.x0, sign.x0)
                over_y = min(box.y1, sign.y1) - max(box.y0, sign.y0)
                assert min(over_x, over_y) < 2.0, (name, text.get_text())


def test_no_text_is_smaller_than_seven_points(sheets):
    for name, sheet in sheets.items():
        assert [t.get_text() for t, _ in written(sheet) if t.get_fontsize() < 7.0] == [], name


@pytest.mark.parametrize("name", MAPS)
def test_every_map_has_scale_north_legend_and_caption(sheets, name):
    sheet = sheets[name]
    texts = [t.get_text() for t, _ in written(sheet)]
    assert "N" in texts
    assert any(t.endswith(" ft") for t in texts)  # the end of the scale bar, in the study's units
    assert sheet.figure.legends
    assert any("Heron Lane" in t and "1 March 2026" in t for t in texts)
    assert any(t.startswith("For the group only") and "not a survey" in t for t in texts)


def test_scale_bars_are_as_long_as_they_say(sheets):
    for name in MAPS:
        sheet = sheets[name]
        main, bar = sheet.figure.axes[0], scale_bar_of(sheet)
        feet = max(float(t.get_text().split()[0]) for t in bar.texts if t.get_text().endswith(" ft"))
        on_paper = sum(p.get_width() for p in bar.patches)  # inches
        inch = main.get_window_extent(sheet.renderer).width / sheet.figure.dpi
        west, east = main.get_xlim()
        assert on_paper * (east - west) / inch == pytest.approx(feet * 0.3048, rel=1e-6), name


def test_where_it_breaks_every_way_bed_and_narrow_place_is_drawn(plan, sheets):
    found = plan.breaks["Papilio troilus"]
    left, right = sheets["weakest-spicebush-swallowtail"].figure.axes[:2]
    ways = [c for c in left.collections if c.get_zorder() == 10]
    assert [len(c.get_segments()) for c in ways] == [len(found["pairs"][0]["flow_links"])]
    rings = [c for c in left.collections if c.get_zorder() == 12]
    assert [len(c.get_offsets()) for c in rings] == [len(found["pairs"][0]["narrow_places"])]
    (beds,) = [c for c in right.collections if c.get_zorder() == 8]
    bed = found["one_more_bed"]
    assert np.asarray(beds.get_offsets()) == pytest.approx(np.column_stack([bed["x"], bed["y"]]))
    lightness = [grey(c[:3]) for c in beds.get_facecolors()]
    assert np.diff(lightness).max() <= 1e-9, "the more it brings, the darker"
    (star,) = [c for c in right.collections if c.get_zorder() == 16]
    assert np.asarray(star.get_offsets())[0].tolist() == [bed["x"][-1], bed["y"][-1]]


def scale_bar_of(sheet):
    return next(ax for ax in sheet.figure.axes if any(t.get_text() == "N" for t in ax.texts))


def grey(colour):
    """Return how light a colour prints: relative luminance of sRGB (IEC 61966-2-1) to the power 1 / 2.2."""
    r, g, b = (c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in to_rgb(colour))
    return (0.2126 * r + 0.7152 * g + 0.0722 * b) ** (1 / 2.2)


def looks(handle):
    """Return what tells a legend's sign apart without colour: how light, and the rest of its look."""
    if isinstance(handle, mpl.lines.Line2D):
        fill = (
            handle.get_markerfacecolor()
            if handle.get_marker() not in ("", "None", None)
            else handle.get_color()
        )
        kind = ("line", handle.get_marker(), handle.get_linestyle(), handle.get_linewidth())
        return grey("#fcfbf7" if fill == "none" else fill), kind
    face = handle.get_facecolor()
    light = 1.0 - (1.0 - grey(face[:3])) * face[3]
    return light, ("patch", handle.get_hatch(), round(handle.get_linewidth(), 1))


def test_signs_of_one_legend_differ_in_grey(sheets):
    """Two signs under one heading differ in hatch, shape, line, or by 4 % of the way from black to white."""
    for name, sheet in sheets.items():
        for legend in sheet.figure.legends:
            if any("buildings" in t.get_text() for t in legend.get_texts()):
                continue  # the ground: outlines one knows by their shape
            signs = [looks(h) for h in legend.legend_handles]
            for k, j in itertools.combinations(range(len(signs)), 2):
                (light, kind), (other, other_kind) = signs[k], signs[j]
                words = [legend.get_texts()[i].get_text() for i in (k, j)]
                assert kind != other_kind or abs(light - other) > 0.04, (name, words)


def test_addresses_stand_only_on_the_groups_map_of_whom_to_ask(sheets, plan):
    """Whom to ask is told by address, to the group alone; a public plan has no addresses to tell."""
    for name, sheet in sheets.items():
        text = " ".join(t.get_text() for t, _ in written(sheet))
        told = {address for address in plan.layers.yards["address"] if address in text}
        assert not told or name == "invitations"
    assert public_plan(plan).layers.yards.get("address", pd.Series(dtype=object)).isna().all()
