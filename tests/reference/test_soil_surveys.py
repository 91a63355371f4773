"""Real soil surveys through layers and site: ``oxford_soil.csv`` and ``meuse_soil.csv``; catalogue B10.

Counts, ranges and means are the catalogue's, worked out from the data sets apart from this project; sums over
yards are plain arithmetic on the tables.
"""

from pathlib import Path

import geopandas as gpd
import pandas as pd
import pytest
import rasterio
from affine import Affine
from pyproj import Transformer
from shapely.geometry import box

from habitat.pipeline.reading import read_layers
from habitat.pipeline.survey import survey
from habitat.soil.words import reaction_class
from habitat.study.reading import read_study

HERE = Path(__file__).parent
OXFORD = pd.read_csv(HERE / "oxford_soil.csv", comment="#")
MEUSE = pd.read_csv(HERE / "meuse_soil.csv", comment="#")
WEST, SOUTH = 600_000.0, 5_700_000.0
"""Where the local coordinates of the Oxford survey are put down, in UTM 30N."""


def test_the_tables_are_those_of_the_catalogue():
    assert (len(OXFORD), OXFORD["XCOORD"].nunique(), OXFORD["YCOORD"].nunique()) == (126, 6, 21)
    assert not OXFORD.duplicated(["XCOORD", "YCOORD"]).any()
    assert (OXFORD["PH1"].min(), OXFORD["PH1"].max()) == (4.2, 7.7)
    assert OXFORD["PH1"].mean() == pytest.approx(7.1516, abs=5e-5)
    assert (OXFORD["PCLAY1"].min(), OXFORD["PCLAY1"].max()) == (10, 37)
    assert (OXFORD["OM1"].min(), OXFORD["OM1"].max()) == (2.6, 13.1)
    assert (len(MEUSE), MEUSE["om"].isna().sum(), MEUSE["landuse"].isna().sum()) == (155, 2, 1)
    assert MEUSE["soil"].value_counts().tolist() == [97, 46, 12]
    assert (MEUSE["lime"] == 1).sum() == 44


def on_grid(column):
    """The survey as an array, north up, 100 m cells whose centres are the profiles."""
    table = OXFORD.pivot_table(index="YCOORD", columns="XCOORD", values=column)
    return table.sort_index(ascending=False).to_numpy(float)


def write_raster(path, values):
    north = SOUTH + 100 * values.shape[0]
    with rasterio.open(
        path, "w", driver="GTiff", height=values.shape[0], width=values.shape[1], count=1, dtype="float32",
        crs="EPSG:32630", transform=Affine(100, 0, WEST, 0, -100, north),
    ) as out:  # fmt: skip
        out.write(values.astype("float32"), 1)


@pytest.fixture(scope="module")
def oxford(tmp_path_factory):
    """Yards of two by three profiles, and one that lies half beyond the survey."""
    folder = tmp_path_factory.mktemp("oxford")
    shapes = [
        box(WEST + 200 * c, SOUTH + 300 * r, WEST + 200 * c + 200, SOUTH + 300 * r + 300)
        for r in range(7)
        for c in range(3)
    ]
    shapes.append(box(WEST - 100, SOUTH + 50, WEST + 100, SOUTH + 150))
    ids = [f"b{r}{c}" for r in range(7) for c in range(3)] + ["half"]
    gpd.GeoDataFrame({"yard_id": ids}, geometry=shapes, crs=32630).to_file(folder / "yards.gpkg")
    write_raster(folder / "ph.tif", on_grid("PH1"))
    write_raster(folder / "depth.tif", on_grid("DEPTHCM"))
    (folder / "study.toml").write_text(
        '[study]\ndate = 2026-03-01\ncrs = "EPSG:32630"\ncell_m = 100\n[layers.yards]\npath = "yards.gpkg"\n'
        '[rasters.ph]\npath = "ph.tif"\n[rasters.depth_cm]\npath = "depth.tif"\n',
        encoding="utf-8",
    )
    study = read_study(folder / "study.toml")
    return survey(study, read_layers(study))


def test_means_of_yards_are_plain_means_of_their_profiles(oxford):
    ph, depth = on_grid("PH1"), on_grid("DEPTHCM")
    table = oxford.yards.set_index("yard_id")
    for r in range(7):
        for c in range(3):
            part = (slice(21 - 3 * r - 3, 21 - 3 * r), slice(2 * c, 2 * c + 2))
            assert table.loc[f"b{r}{c}", "ph_mean"] == pytest.approx(ph[part].mean(), abs=1e-5)
            assert table.loc[f"b{r}{c}", "depth_cm_mean"] == pytest.approx(depth[part].mean(), abs=1e-4)


def test_a_yard_half_off_the_survey_keeps_its_unknown_half(oxford):
    row = oxford.yards.set_index("yard_id").loc["half"]
    assert row["ph_known"] == pytest.approx(0.5, abs=1e-6)
    assert row["ph_mean"] == pytest.approx(on_grid("PH1")[-2:, 0].mean(), abs=1e-5)


def test_reaction_classes_of_the_profiles_are_the_manual_s(oxford):
    """Soil Survey Manual (``ph_classes.csv``); the survey has one decimal, so nothing is rounded."""
    table = pd.read_csv(HERE / "ph_classes.csv", comment="#")
    for ph in sorted(OXFORD["PH1"].unique()):
        low, high = table["ph_low"].fillna(0), table["ph_high"].fillna(14)
        assert [reaction_class(ph)] == table.loc[(low <= ph) & (ph <= high), "class"].tolist()


def test_samples_in_another_crs_with_blanks_come_in_whole(tmp_path):
    """The Meuse samples as a table of points: blanks stay blank, places agree with PROJ to a millimetre."""
    MEUSE.to_csv(tmp_path / "meuse.csv", index=False)
    x, y = Transformer.from_crs(28992, 32631, always_xy=True).transform(
        MEUSE["x"].to_numpy(), MEUSE["y"].to_numpy()
    )
    whole = box(x.min() - 10, y.min() - 10, x.max() + 10, y.max() + 10)
    gpd.GeoDataFrame({"yard_id": ["all"]}, geometry=[whole], crs=32631).to_file(tmp_path / "yards.gpkg")
    (tmp_path / "study.toml").write_text(
        '[study]\ndate = 2026-03-01\ncell_m = 50.0\ncrs = "EPSG:32631"\n[layers.yards]\npath = "yards.gpkg"\n'
        '[layers.trees]\npath = "meuse.csv"\nx = "x"\ny = "y"\ncrs = "EPSG:28992"\n',
        encoding="utf-8",
    )
    layer = read_layers(read_study(tmp_path / "study.toml")).vectors["trees"]
    assert (layer.rows_in, len(layer.frame), len(layer.set_aside)) == (155, 155, 0)
    assert layer.frame.geometry.x.to_numpy() == pytest.approx(x, abs=1e-3)
    assert layer.frame.geometry.y.to_numpy() == pytest.approx(y, abs=1e-3)
    assert layer.frame["landuse"].isna().sum() == 1
    assert pd.to_numeric(layer.frame["om"]).isna().sum() == 2
