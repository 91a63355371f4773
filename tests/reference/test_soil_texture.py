"""Texture, reaction, drainage against the Soil Survey Manual (USDA Handbook 18, ch. 3); B1-B5, B7, B8."""

from pathlib import Path

import numpy as np
import pandas as pd
import pedotri
import pytest
import shapely

from habitat.factors.classes import DRAINAGE, drainage_rank, texture_number
from habitat.factors.classes import TEXTURES as CLASSES
from habitat.soil.texture import texture_class
from habitat.soil.words import drainage_word, reaction_class

HERE = Path(__file__).parent
POINTS = pd.read_csv(HERE / "texture_points.csv", comment="#")
CORNERS = pd.read_csv(HERE / "texture_triangle_vertices.csv", comment="#")


def names(sand, clay):
    return [CLASSES[int(n) - 1] for n in texture_class(sand, clay)]


def test_b1_b3_points_of_the_table():
    """Twelve inner points, and points on class borders under the half-open rules."""
    assert names(POINTS["sand_pct"], POINTS["clay_pct"]) == POINTS["class_by_rules"].tolist()


def test_b2_agreement_with_another_implementation_off_the_borders():
    rng = np.random.default_rng(0)
    shares = 100 * rng.dirichlet([1, 1, 1], 20_000)
    sand, clay = shares[:, 0], shares[:, 2]
    theirs = pedotri.classify(sand, clay, "USDA")
    assert names(sand, clay) == [str(t).lower().replace("_", " ") for t in theirs]


def test_b4_areas_of_the_classes():
    """Polygons of the triangle give the printed shares; a half-percent grid falls into the same polygons."""
    whole = 0.5 * 100 * 100
    sand, clay = (v.ravel() for v in np.meshgrid(np.arange(0.25, 100, 0.5), np.arange(0.25, 100, 0.5)))
    keep = sand + clay < 100
    got = texture_class(sand[keep], clay[keep])
    for name, group in CORNERS.groupby("class"):
        polygon = shapely.Polygon(group[["sand_pct", "clay_pct"]].to_numpy())
        share = group["class_area_share"].iloc[0]
        assert polygon.area / whole == pytest.approx(share, abs=5e-5)
        assert (got == texture_number(str(name))).mean() == pytest.approx(share, abs=4e-3)


def test_every_mixture_has_one_class():
    sand, clay = (v.ravel() for v in np.meshgrid(np.arange(0, 100.5, 0.5), np.arange(0, 100.5, 0.5)))
    keep = sand + clay <= 100
    assert keep.sum() == 20_301
    assert np.isfinite(texture_class(sand[keep], clay[keep])).all()


def test_b5_points_that_find_slips():
    assert names([78, 86], [10, 0]) == ["sandy loam", "sand"]


def test_unknown_and_impossible_shares_stay_unknown():
    assert np.isnan(texture_class([np.nan, 50, 70, -1], [20, np.nan, 40, 5])).all()
    assert texture_number("Silty-Clay loam") == 9
    assert np.isnan(texture_number("mud"))


def test_b7_reaction_classes():
    """Bounds as printed; between printed decimals the pH is rounded to one decimal, halves up."""
    table = pd.read_csv(HERE / "ph_classes.csv", comment="#")
    for row in table.itertuples():
        for ph in (row.ph_low, row.ph_high):
            if np.isfinite(ph):
                assert reaction_class(ph) == row[1]
    assert reaction_class(6.55) == "neutral"
    assert reaction_class(6.5499) == "slightly acid"


def test_b8_drainage_from_wet_to_dry():
    assert [drainage_rank(word) for word in DRAINAGE] == [1, 2, 3, 4, 5, 6, 7]
    assert drainage_word(5.0) == "well drained"
    assert drainage_word(float("nan")) == ""
