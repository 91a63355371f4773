"""A public plan gives nothing away: a hundred secrets planted, every file searched after unpacking it."""

import csv
import io
import itertools
import json
import re
import sqlite3
import zipfile
import zlib
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pypdf
import pytest
import rasterio
import shapely
from PIL import Image

from habitat.layers.types import RasterLayer, VectorLayer
from habitat.remarks import Note, Subject, remark
from habitat.report.package.geopackage import write_geopackage
from habitat.report.page.page import page_html
from habitat.report.public.names import Names
from habitat.report.public.reduce import for_audience, public_plan
from habitat.report.public.remarks import Reducer
from habitat.report.sheets.files import write_sheets
from habitat.report.words.say import HIDDEN
from habitat.report.write import write_plan
from habitat.settings.layers import RasterSource, VectorSource
from tests.report.small_plan import PUBLISH, agreed, small_plan
from tests.support.remarks import said

SECRET = re.compile(r"zq[\W_]*x?\d{3}", re.IGNORECASE)


class Secrets:
    """Makes and counts secrets that can be found again, whatever a writer does to case or punctuation."""

    def __init__(self):
        self.made = 0

    def __call__(self):
        self.made += 1
        return f"zq{self.made:03d}"

    def many(self, count):
        return [self() for _ in range(count)]


def planted(folder):
    """Return a plan for a public audience with secrets wherever text from data can stand."""
    secret = Secrets()
    ids = secret.many(7)
    plan = small_plan(folder / secret(), yard_ids=tuple(ids), report={"audience": "public"})
    layers = plant_layers(plan.layers, secret)
    study = plan.study.model_copy(
        update={
            "layers": {
                "yards": VectorSource(path=f"{secret()}.gpkg", layer=secret(), where=f"OWNER = '{secret()}'"),
                "participants": VectorSource(path=f"/data/{secret()}.xlsx", columns={"yard_id": secret()}),
            },
            "rasters": {"ph": RasterSource(path=f"{secret()}.tif")},
        }
    )
    study._path = Path(secret()) / "study.toml"
    beds = plan.beds
    named = (remark("sun_count_alone", Subject(yards=(ids[1],)), sun_h=1.0),)
    plan = replace(
        plan,
        study=study,
        layers=layers,
        yards=plan.yards.assign(owner=secret.many(7), ph_source=secret.many(7)),
        existing_plants=plan.existing_plants.assign(name_given=secret.many(3)),
        plantings=plan.plantings.assign(why=[f"fits here; feeds what comes from yard {y}" for y in ids * 6]),
        yard_results=plan.yard_results.assign(relaxed=[named] * len(plan.yard_results)),
        yard_butterflies=plan.yard_butterflies.assign(missing=f"nectar (there is some in {ids[3]})"),
        invitations=plan.invitations.assign(reason=[joins("yard_eases_chain", layers)] * 2),
        set_aside=gpd.GeoDataFrame(
            {
                "layer": ["plants"] * 4,
                "row": range(4),
                "reason": secret.many(4),
                "attributes": [json.dumps({"who": s}) for s in secret.many(4)],
            },
            geometry=[beds.geometry[0].centroid] * 4,
            crs=beds.crs,
        ),
        sentences=(
            remark("sun_count_alone", Subject(yards=(ids[1],)), sun_h=3.0),
            joins("anchors_not_joined", layers),
        ),
        breaks={
            "Papilio troilus": {"between": [ids[1], ids[2]], "anchor": f"near {anchor_names(layers)[0]}"}
        },
        notes=tuple(f"plants row 3: {s}" for s in secret.many(6)),
        run_info={
            "versions": {"habitat": "0.1.0"},
            "settings": study.model_dump(mode="json"),
            "inputs": {f"{s}.gpkg": secret() for s in secret.many(4)},
            "layers": {secret(): {"rows_in": 3}},
        },
    )
    return plan, secret


def joins(kind, layers):
    """Return a remark of the corridor about both anchors."""
    return remark(kind, Subject(anchors=tuple(anchor_names(layers))), common_name="monarch")


def anchor_names(layers):
    return layers.frame("anchors")["name"].tolist()


def plant_layers(layers, secret):
    vectors = dict(layers.vectors)
    frames = {name: layer.frame.copy() for name, layer in vectors.items()}
    frames["yards"] = frames["yards"].assign(
        address=secret.many(7), owner=secret.many(7), phone=secret.many(7), note=secret.many(7)
    )
    for name in ("buildings", "paving", "trees"):
        frames[name] = frames[name].assign(remark=secret.many(7))
    frames["trees"] = frames["trees"].assign(plant=secret())
    frames["streets"] = frames["streets"].assign(name=secret())
    frames["water"] = frames["water"].assign(name=secret())
    frames["anchors"] = frames["anchors"].assign(owner=secret.many(2))
    vectors = {
        name: VectorLayer(name, f, len(f), len(f), 0, f.iloc[:0], secret(), secret(), (Note(0, secret()),))
        for name, f in frames.items()
    }
    for name in ("participants", "growers", "sightings", "soil_tests", "plants"):
        frame = pd.DataFrame({c: [secret()] for c in ("plant", "grower", "note", "name", "email")})
        vectors[name] = VectorLayer(name, frame, 1, 1, 0, frames["yards"].iloc[:0], None, None)
    source = RasterSource(path=f"{secret()}.tif")
    raster = RasterLayer(
        "ph", source, f"/data/{secret()}.tif", "continuous", "EPSG:32617", 5.0, 1, 1, 0, (), None
    )
    return replace(layers, vectors=vectors, rasters={"ph": raster}, notes=(Note(None, secret()),))


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    folder = tmp_path_factory.mktemp("public")
    plan, secret = planted(folder)
    out = write_plan(plan, folder / "plan")
    return out, plan, secret


def unpacked(path):
    """Yield every text or byte string that a file holds, after unpacking whatever is packed."""
    raw = path.read_bytes()
    yield raw
    if path.suffix == ".pdf":
        yield from unpacked_pdf(path, raw)
    if zipfile.is_zipfile(io.BytesIO(raw)):
        with zipfile.ZipFile(io.BytesIO(raw)) as archive:
            for name in archive.namelist():
                yield name.encode()
                yield archive.read(name)
    if path.suffix == ".gpkg":
        yield from rows_of(path)
    if path.suffix == ".tif":
        with rasterio.open(path) as source:
            yield repr((source.tags(), source.descriptions, source.units, source.tags(1))).encode()
    if path.suffix == ".png":
        with Image.open(path) as image:
            yield repr((image.info, dict(image.getexif()))).encode()
    if path.suffix == ".ics":
        yield raw.replace(b"\r\n ", b"").replace(b"\n ", b"")


def unpacked_pdf(path, raw):
    for match in re.finditer(rb"stream\r?\n(.*?)endstream", raw, re.DOTALL):
        try:
            yield zlib.decompress(match[1])
        except zlib.error:
            yield match[1]
    reader = pypdf.PdfReader(path)
    yield repr((reader.metadata, reader.outline, reader.named_destinations)).encode()
    if reader.xmp_metadata is not None:
        yield repr(reader.xmp_metadata.rdf_root.toxml()).encode()
    for page in reader.pages:
        yield page.extract_text().encode("utf-8", "replace")


def rows_of(path):
    with closing(sqlite3.connect(path)) as base:
        for (table,) in base.execute("SELECT name FROM sqlite_master WHERE type = 'table'").fetchall():
            for row in base.execute(f'SELECT * FROM "{table}"').fetchall():
                yield repr(row).encode("utf-8", "replace")


def leaks(blob):
    wide = blob.replace(b"\x00", b"")  # UTF-16 text
    return {m.group() for b in (blob, wide) for m in SECRET.finditer(b.decode("latin-1"))}


def test_a_hundred_secrets_were_planted(written):
    _, _, secret = written
    assert secret.made >= 100


def test_no_secret_in_any_file(written):
    out, _, _ = written
    files = [p for p in out.rglob("*") if p.is_file()]
    assert {".gpkg", ".html", ".json", ".png", ".pdf", ".csv", ".ics", ".txt", ".tif"} <= {
        p.suffix for p in files
    }
    found = {}
    for path in files:
        assert not SECRET.search(str(path.relative_to(out)))
        hits = set().union(*(leaks(blob) for blob in unpacked(path)))
        if hits:
            found[str(path.relative_to(out))] = sorted(hits)
    assert found == {}


def test_the_search_finds_what_a_group_may_see(tmp_path):
    """The same plan for the group: the searcher must find secrets in the same kinds of file."""
    plan, _ = planted(tmp_path)
    group = plan.study.model_copy(
        update={"report": plan.study.report.model_copy(update={"audience": "group"})}
    )
    group._path = plan.study.path
    from habitat.report.package.geopackage import write_geopackage, write_run_json
    from habitat.report.page.page import write_page
    from habitat.report.sheets.files import write_sheets

    open_plan = replace(plan, study=group)
    write_geopackage(open_plan, tmp_path / "a.gpkg")
    write_run_json(open_plan, tmp_path / "a.json")
    write_page(open_plan, tmp_path / "a.html")
    write_sheets(open_plan, tmp_path / "sheets", plan.yards["yard_id"][:1])
    for path in (*tmp_path.glob("a.*"), tmp_path / "sheets" / "all-yards.pdf"):
        assert set().union(*(leaks(blob) for blob in unpacked(path))), path.name


def test_files_say_for_whom_they_are(written):
    out, _, _ = written
    assert "For everybody." in (out / "READ_ME.txt").read_text(encoding="utf-8")
    assert "For everybody." in (out / "page.html").read_text(encoding="utf-8")
    assert json.loads((out / "run.json").read_text(encoding="utf-8"))["audience"] == "public"


def test_hidden_yards_are_in_no_table(written):
    out, plan, _ = written
    hidden = plan.layers.yards[~plan.layers.yards["publish"]].geometry.buffer(-0.2).union_all()
    for layer in ("beds", "plant_points", "plantings", "open_ground", "existing_plants", "breeding_ground"):
        frame = gpd.read_file(out / "plan.gpkg", layer=layer)
        assert not frame.geometry.dropna().intersects(hidden).any(), layer
    yards = gpd.read_file(out / "plan.gpkg", layer="yards")
    shown = yards[yards["role"] != "block"]
    assert len(shown) == sum(PUBLISH)
    assert shown["publish"].all()
    assert shown["yard_id"].tolist() == ["001", "002", "003", "004"]
    links = gpd.read_file(out / "plan.gpkg", layer="links")
    ends = set(links["from_yard"]) | set(links["to_yard"])
    assert ends <= {*shown["yard_id"], "anchor: habitat 1", "anchor: habitat 2"}


SOUTH_HIDDEN = (True, False, True, False, False, True, False)
"""One of three north of the lane and three of four south of it do not want to be shown."""


def test_the_place_of_several_hidden_yards_is_merged_into_the_block(tmp_path):
    plan = small_plan(tmp_path)
    yards = agreed(plan, SOUTH_HIDDEN).yards
    blocks = yards[yards["role"] == "block"]
    assert len(blocks) == 1  # south of the lane; a block would give the one north of it away
    hidden = plan.layers.yards[~np.array(SOUTH_HIDDEN)]
    assert [blocks.contains(g.buffer(-0.01)).any() for g in hidden.geometry] == [False, True, True, True]
    for shape in hidden.geometry:
        assert min(shapely.hausdorff_distance(shape, b) for b in yards.geometry) > 2.0
    assert blocks["open_m2"].isna().all()


def test_no_edge_of_a_hidden_yard_can_be_worked_out(tmp_path):
    """Shown yards taken from their block leave no outline of a hidden one, where no neighbour shows it."""
    plan = small_plan(tmp_path)
    yards = agreed(plan, SOUTH_HIDDEN).yards
    block, shown = (
        yards[(yards["role"] == "block") == is_it].geometry.union_all() for is_it in (True, False)
    )
    left = [block, shown, *shapely.get_parts(block.difference(shown))]
    corners = shapely.MultiPoint(np.concatenate([shapely.get_coordinates(shape) for shape in left]))
    free = 0
    for yard in plan.layers.yards[~np.array(SOUTH_HIDDEN)].geometry:
        for corner in map(shapely.Point, shapely.get_coordinates(yard)):
            if corner.distance(shown) > 1.5:
                free += 1
                assert corners.distance(corner) > 1.5
                assert all(shapely.boundary(shape).distance(corner) > 1.5 for shape in left)
    assert free >= 4


def test_a_pond_in_a_hidden_yard_is_not_shown(tmp_path):
    """Of a pond in a hidden yard nothing is left, of one in a shown yard all of it."""
    plan = small_plan(tmp_path)
    yards = plan.layers.yards
    ponds = [yards.geometry[k].centroid.buffer(2.0) for k in (0, 1)]
    water = gpd.GeoDataFrame(geometry=ponds, crs=yards.crs)
    layer = replace(plan.layers.vectors["yards"], name="water", frame=water)
    layers = replace(plan.layers, vectors={**plan.layers.vectors, "water": layer})
    public = agreed(replace(plan, layers=layers), [True, *[False] * 6])
    left = public.layers.frame("water").geometry.union_all()
    assert left.symmetric_difference(ponds[0]).area == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize("apart_m", [0.0, 60.0])
def test_where_nobody_agreed_results_are_written_all_the_same(tmp_path, apart_m):
    plan = small_plan(tmp_path, report={"audience": "public"})
    layers = plan.layers
    moved = [shapely.affinity.translate(g, 0, k * apart_m) for k, g in enumerate(layers.yards.geometry)]
    yards = layers.yards.assign(publish=False).set_geometry(moved, crs=layers.yards.crs)
    vectors = {k: v for k, v in layers.vectors.items() if k != "anchors"}
    vectors["yards"] = replace(vectors["yards"], frame=yards)
    write_plan(replace(plan, layers=replace(layers, vectors=vectors)), tmp_path / "out")
    assert (tmp_path / "out" / "page.html").stat().st_size > 10_000


def test_a_block_of_few_yards_is_not_drawn(tmp_path):
    plan = small_plan(tmp_path)
    layers = plan.layers
    far = layers.yards.copy()
    far["geometry"] = [g if i else shapely.affinity.translate(g, 0, 300) for i, g in enumerate(far.geometry)]
    far["publish"] = [False, True, True, True, True, True, True]
    vectors = {**layers.vectors, "yards": replace(layers.vectors["yards"], frame=far)}
    public = public_plan(replace(plan, layers=replace(layers, vectors=vectors)))
    assert "block" not in set(public.yards["role"])


def test_rasters_show_only_ground_that_may_be_shown(written):
    out, plan, _ = written
    with rasterio.open(out / "rasters" / "sun_h.tif") as source:
        values = source.read(1)
        points = plan.layers.yards.geometry.representative_point()
        at = [source.index(p.x, p.y) for p in points]
    known = [bool(np.isfinite(values[r, c])) for r, c in at]
    assert known == list(PUBLISH)
    assert np.isnan(values[0, 0])


def test_no_household_answer_is_told(written):
    _, plan, _ = written
    yards = for_audience(plan).layers.yards
    assert not yards[["children", "pets", "sprayed", "deer", "septic"]].to_numpy().any()
    assert yards[["budget", "max_height_m", "address"]].isna().to_numpy().all()


def test_no_sentence_tells_what_a_household_said_of_itself(tmp_path):
    """Sentences as the planting program writes them, in a yard that may be shown; all reasons go alike."""
    plan = small_plan(tmp_path / "study", report={"audience": "public", "formats": ["geojson"]})
    irritant, poison = (
        remark("poison_for_household", Subject(household=(who,)), wants_none=wants_none)
        for who, wants_none in (("children", False), ("pets", True))
    )
    spray = remark("host_in_spray", Subject(household=("sprayed",)))
    tall = remark("too_tall", Subject(household=("max_height_m",)), height_m=9.0, allowed_m=2.0)
    dear = remark("brood_too_dear", Subject(household=("budget",)), cost=60.0, budget=25.0, currency="")
    told = (
        remark(
            "no_host",
            common_name="monarch",
            because=(remark("kinds_kept_out", kinds=((6, irritant), (1, poison)), most_sun_h=None),),
        ),
        remark("no_host", common_name="pearl crescent", because=(spray, remark("others_too_young", year=3))),
        remark("no_host", common_name="zabulon skipper", because=(dear,)),
        remark("no_bark", common_name="falcate orangetip", because=(tall,)),
        remark("no_nectar", month=6, because=(remark("others_worth_more"),)),
        remark("few_in_season", season="spring", kinds=2, wanted=3),
    )
    missing = "the yard is sprayed; host plants for only 40% of one brood; no tree with bark to winter in"
    odd = replace(
        plan,
        yard_results=plan.yard_results.assign(relaxed=[told] * len(plan.yard_results)),
        yard_butterflies=plan.yard_butterflies.assign(missing=missing),
    )
    public = for_audience(odd)
    assert "children live here" in said(told)
    assert {said(left) for left in public.yard_results["relaxed"]} == {
        "no host for the monarch; no host for the pearl crescent; no host for the zabulon skipper; no bark "
        "for the falcate orangetip to winter in; no nectar in June; only 2 nectar species in spring, 3 wanted"
    }
    assert set(public.yard_butterflies["missing"]) == {"no host plant; no tree with bark to winter in"}
    write_sheets(public, tmp_path / "sheets")
    write_geopackage(public, tmp_path / "plan.gpkg")
    text = "\n".join(p.extract_text() for p in pypdf.PdfReader(tmp_path / "sheets" / "all-yards.pdf").pages)
    assert "No host for the monarch." in text
    rows = b" ".join(rows_of(tmp_path / "plan.gpkg")).decode()
    for words in ("children live", "pets live", "is sprayed", "taller than the 2 m", "25 is there"):
        assert words not in f"{text} {page_html(public)} {rows}", words


def test_ids_are_made_anew_and_still_join(written):
    out, plan, _ = written
    read = {n: gpd.read_file(out / "plan.gpkg", layer=n) for n in ("beds", "plantings", "plant_points")}
    assert set(read["plantings"]["bed_id"]) <= set(read["beds"]["bed_id"])
    assert set(read["plant_points"]["planting_id"]) == set(read["plantings"]["planting_id"])
    counted = read["plant_points"].groupby("planting_id").size()
    wanted = read["plantings"].set_index("planting_id")["count"]
    assert counted.equals(wanted.loc[counted.index]) or (counted == wanted.loc[counted.index]).all()
    assert not {*read["beds"]["bed_id"]} & {*plan.beds["bed_id"]}


def test_numbers_do_not_follow_the_order_of_the_parcels(tmp_path):
    plan = small_plan(tmp_path, report={"audience": "public"})
    order = [6, 2, 4, 0, 3, 1, 5]
    frame = plan.layers.yards.iloc[order].reset_index(drop=True)
    layers = plan.layers
    shuffled = replace(
        layers, vectors={**layers.vectors, "yards": replace(layers.vectors["yards"], frame=frame)}
    )
    one, two = (public_plan(replace(plan, layers=given)) for given in (layers, shuffled))
    pd.testing.assert_frame_equal(
        one.plantings.drop(columns="geometry"), two.plantings.drop(columns="geometry")
    )


def test_a_group_plan_is_left_as_it_is(tmp_path):
    plan = small_plan(tmp_path)
    assert for_audience(plan) is plan


def test_invitations_keep_their_steps_but_not_hidden_names(written):
    out, plan, _ = written
    steps = gpd.read_file(out / "plan.gpkg", layer="invitation_steps")
    known = plan.invitation_steps["joint_score"]  # two hidden yards have plants: rounded
    np.testing.assert_allclose(steps["joint_score"], known, atol=0.0051)
    assert steps["yard_id"].fillna("").tolist() == ["", "", "004"]
    asked = gpd.read_file(out / "plan.gpkg", layer="invitations")
    names = "habitat 2 and habitat 1"  # numbered from north to south: the second of the layer lies north
    way = f"the way between {names} easier for the monarch"
    assert asked["reason"].tolist() == [f"Your yard makes {way}"]
    said = json.loads((out / "run.json").read_text(encoding="utf-8"))["sentences"]
    assert said[0].startswith(f"{HIDDEN}: 3 h")
    assert said[1] == f"For the monarch nothing joins {names} yet."


def test_sheets_are_those_of_yards_that_may_be_shown(written):
    out, _, _ = written
    sheets = sorted(p.name for p in (out / "sheets").glob("yard-*.pdf"))
    assert sheets == [f"yard-00{n}.pdf" for n in range(1, 5)]


def test_shopping_tells_no_hidden_yard(written):
    out, _, _ = written
    with (out / "shopping.csv").open(encoding="utf-8-sig", newline="") as file:
        cells = set(itertools.chain(*csv.reader(file)))
    assert cells


# --- retelling -------------------------------------------------------------------------------------------


def names_of(*ids, leave=(True, False, True)):
    frame = gpd.GeoDataFrame(
        {"yard_id": ids, "publish": leave},
        geometry=[shapely.Point(k, -k) for k in range(len(ids))],
        crs=32617,
    )
    anchors = gpd.GeoDataFrame({"name": ["Old Mill Meadow"]}, geometry=[shapely.Point(0, 9)], crs=32617)
    return Names.of(frame, anchors)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("yard 12-7 is near", "yard 001 is near"),
        ("Yard 12-8 is near", f"{HIDDEN} is near"),
        ("12-8, 12-9", f"{HIDDEN}, 002"),
        ("112-70 plants", "112-70 plants"),
        ("from Old Mill Meadow to yard 12-9", "from habitat 1 to yard 002"),
        ("from anchor: Old Mill Meadow", "from anchor: habitat 1"),
        ("nothing to see", "nothing to see"),
    ],
)
def test_texts_are_retold(text, told):
    assert Reducer.of(names_of("12-7", "12-8", "12-9")).told(text) == told


def test_small_numbers_are_yards_only_after_the_word():
    less = Reducer.of(names_of("1", "2", "3"))
    assert less.told("yard 1 adds 2 m2 to 3 yards") == "yard 001 adds 2 m2 to 3 yards"
    assert less.told("yards 1, 2 and 3") == "yards 001, (not shown) and 002"


def test_nested_values_are_retold():
    less = Reducer.of(names_of("a-1", "b-2", "c-3"))
    given = {"b-2": ["a-1", {"x": "yard c-3"}], "n": 3.5}
    assert less.nested(given) == {HIDDEN: ["001", {"x": "yard 002"}], "n": 3.5}
