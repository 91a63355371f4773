"""What a walk form makes known: ground kept, sun in bounds, obstacles that nobody need look for."""

import geopandas as gpd
import numpy as np
import pytest

from habitat.ground.unseen import OBSTACLES, unseen
from habitat.pipeline.reading import read_layers
from habitat.pipeline.survey import survey
from habitat.study.reading import read_study
from tests.layers import builders as make

HEAD = "yard_id,trees,drive,walks,wires,septic,play,sun_front,sun_back\n"
HOUSES = {"a": make.box(10, 12, 20, 22), "b": make.box(46, 12, 56, 22)}


@pytest.fixture
def site_of(tmp_path):
    """Survey three yards on a street to their south, two with a house, with the rows of a walk form."""

    def made(rows, streets=True, houses=True, drainage=None, head=HEAD):
        make.yards(address=make.ADDRESSES).to_file(tmp_path / "yards.gpkg")
        make.yards(HOUSES).rename(columns={"yard_id": "name"}).to_file(tmp_path / "houses.gpkg")
        files = {"yards": "yards.gpkg", "buildings": "houses.gpkg", "walk": "walk.csv"}
        if not houses:
            files.pop("buildings")
        if streets:
            gpd.GeoDataFrame(
                {"name": ["Low Road"]}, geometry=[make.box(-20, -12, 130, -6)], crs=make.CRS
            ).to_file(tmp_path / "streets.gpkg")
            files["streets"] = "streets.gpkg"
        (tmp_path / "walk.csv").write_text(head + rows, encoding="utf-8")
        rasters = {}
        if drainage is not None:
            place = make.Affine(10, 0, make.WEST - 100, 0, -10, make.SOUTH + 200)
            make.raster(tmp_path, np.full((30, 30), drainage), "drainage.tif", transform=place)
            rasters = {"drainage": "drainage.tif"}
        study = read_study(make.study(tmp_path, files, rasters))
        layers = read_layers(study)
        return layers, survey(study, layers)

    return made


def closed(site, yard, what):
    rows = site.closed_ground
    rows = rows[(rows["yard_id"] == yard) & (rows["what"] == what)]
    return rows[rows["growth_form"].isin(["all", "herb"])].geometry.union_all()


def moved(shape):
    return (
        shape.bounds[0] - make.WEST,
        shape.bounds[1] - make.SOUTH,
        *(shape.bounds[k] - (make.WEST, make.SOUTH)[k - 2] for k in (2, 3)),
    )


def test_a_drive_on_the_right_keeps_a_strip_from_the_street_to_the_back_of_the_house(site_of):
    _, site = site_of("TB-01,,right side,,,,,,\n")
    west, south, east, north = moved(closed(site, "TB-01", "told"))
    assert (west, south, east, north) == pytest.approx((20 - 0.15, 0, 23.5 + 0.15, 22), abs=0.3)
    assert site.walked == {"TB-01": frozenset({"paving"})}


def test_what_is_told_not_to_be_there_is_not_looked_for(site_of):
    layers, site = site_of("TB-01,none,none,,no,,,,\nTB-02,yes,,none,,,,,\n")
    assert site.walked["TB-01"] == {"trees", "paving", "wires"}
    assert site.walked["TB-02"] == frozenset()  # no walks is not yet no drive
    found = unseen(layers.yards, {}, site.walked)
    assert found["TB-01"] == ("buried", "fences", "water", "septic")
    assert found["TB-02"] == found["TB-03"] == OBSTACLES


def test_sun_is_held_within_what_was_seen(site_of):
    _, bare = site_of("TB-03,,,,,,,,\n")
    _, site = site_of("TB-01,,,,,,,shade,full\n")
    front = site.grid.window((make.WEST + 2, make.SOUTH + 1, make.WEST + 28, make.SOUTH + 11))
    back = site.grid.window((make.WEST + 2, make.SOUTH + 24, make.WEST + 28, make.SOUTH + 39))
    was, now = bare.rasters["sun_h"], site.rasters["sun_h"]
    assert np.nanmin(was[front]) > 3
    assert now[front] == pytest.approx(np.clip(was[front], 0, 3))
    assert now[back] == pytest.approx(np.clip(was[back], 6, 16))
    assert "sun" in site.walked["TB-01"]
    other = site.grid.window((make.WEST + 42, make.SOUTH + 1, make.WEST + 64, make.SOUTH + 30))
    assert now[other] == pytest.approx(was[other], nan_ok=True)
    month = min(site.sun_by_month)
    assert site.sun_by_month[month][front].mean() < bare.sun_by_month[month][front].mean()


def test_septic_and_play_keep_their_ground(site_of):
    _, site = site_of("TB-01,,,,,back,front,,\n")
    rows = site.closed_ground
    trees = rows[(rows["yard_id"] == "TB-01") & (rows["what"] == "septic") & (rows["growth_form"] == "tree")]
    assert trees.geometry.union_all().covers(make.box(2, 24, 28, 38))
    assert closed(site, "TB-01", "told").area == pytest.approx(np.pi * 4.15**2, rel=0.03)
    assert "septic" in site.walked["TB-01"]


def test_without_a_street_sides_mean_nothing_and_that_is_told(site_of):
    _, site = site_of("TB-01,none,left,,,,,full,full\n", streets=False)
    assert closed(site, "TB-01", "told").is_empty
    assert site.walked["TB-01"] == {"trees"}
    assert "walk_without_front" in [note.kind for note in site.notes]


@pytest.mark.parametrize(("mapped", "wet"), [(5, 4), (1, 1)])
def test_where_water_stands_drainage_is_a_class_wetter(site_of, mapped, wet):
    """Ranks of the Soil Survey Manual: 5 well drained, 4 moderately well drained, 1 the wettest there is."""
    _, site = site_of("TB-01,back\nTB-02,yes\nTB-03,none\n", drainage=mapped, head="yard_id,wet\n")
    rank = site.rasters["drainage"]
    back = site.grid.window((make.WEST + 2, make.SOUTH + 24, make.WEST + 28, make.SOUTH + 38))
    assert np.unique(rank[back]).tolist() == [wet]
    front = site.grid.window((make.WEST + 2, make.SOUTH + 2, make.WEST + 28, make.SOUTH + 10))
    others = site.grid.window((make.WEST + 33, make.SOUTH + 2, make.WEST + 94, make.SOUTH + 38))
    assert np.unique(rank[front]).tolist() == np.unique(rank[others]).tolist() == [mapped]
    assert {y for y, known in site.walked.items() if "wet" in known} == {"TB-01"}


def test_wet_sides_mean_nothing_without_a_street_and_drainage_is_not_invented(site_of):
    _, site = site_of("TB-01,back\n", streets=False, drainage=5, head="yard_id,wet\n")
    assert np.nanmin(site.rasters["drainage"]) == 5
    assert "walk_without_front" in [note.kind for note in site.notes]
    _, site = site_of("TB-01,back\n", head="yard_id,wet\n")
    assert "drainage" not in site.rasters


def test_words_for_sun_are_not_dropped_in_silence_where_nothing_tells_hours(site_of):
    _, site = site_of("TB-01,,,,,,,shade,full\n", houses=False)
    assert "sun_h" not in site.rasters
    assert "walk_sun_unused" in [note.kind for note in site.notes]


def test_a_yard_without_a_house_is_parted_in_its_middle(site_of):
    _, site = site_of("TB-03,,,,,,,shade,full\n")
    low = site.grid.window((make.WEST + 76, make.SOUTH + 2, make.WEST + 94, make.SOUTH + 11))
    assert np.nanmax(site.rasters["sun_h"][low]) <= 3
