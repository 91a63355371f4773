"""Clumsy and hostile files of any size, each in a folder of its own with its study file.

``CLUMSY`` and ``HOSTILE`` hold, by name, a function of a folder and a size that returns the study file, and
the size that a person or an attacker might bring. Tests take small sizes;
``tests/benchmarks/bench_hard_files.py`` takes the whole ones, each in a process of its own.
"""

import json
import struct
import zipfile

import geopandas as gpd
import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import rasterio
import shapely
from affine import Affine

from tests.layers import builders as make

CLUMSY, HOSTILE = {}, {}


def clumsy(size):
    """Register what somebody may bring without meaning harm."""

    def keep(function):
        CLUMSY[function.__name__] = (function, size)
        return function

    return keep


def hostile(size):
    """Register what only an attacker would bring."""

    def keep(function):
        HOSTILE[function.__name__] = (function, size)
        return function

    return keep


def saved(folder, shapes, **columns):
    """Write polygons as yards and return the study file."""
    ids = columns.pop("yard_id", None)
    frame = gpd.GeoDataFrame(
        {"yard_id": [f"y{i}" for i in range(len(shapes))] if ids is None else ids, **columns},
        geometry=list(shapes),
        crs=make.CRS,
    )
    frame.to_file(folder / "yards.gpkg")
    return make.study(folder, {"yards": "yards.gpkg"})


def beside_yards(folder, layers, rasters=None, head=""):
    """Write the three yards of the street and a study that names other files too."""
    make.yards().to_file(folder / "yards.gpkg")
    return make.study(folder, {"yards": "yards.gpkg", **layers}, rasters, head)


@clumsy(200)
def self_crossing_parcels(folder, count):
    """Many parcels whose outlines cross themselves many times."""
    rng = np.random.default_rng(5)
    corners = [make.WEST + 60 * i + rng.uniform(0, 50, (400, 2)) for i in range(count)]
    shapes = [shapely.Polygon(c - [0, make.WEST + 60 * i - make.SOUTH]) for i, c in enumerate(corners)]
    return saved(folder, shapes)


@clumsy(3_000)
def star_polygon(folder, points):
    """One outline that winds across itself at every step."""
    angle = np.arange(points) * 2 * np.pi * (points // 2 - 1) / points
    ring = np.column_stack([make.WEST + 50 * np.cos(angle), make.SOUTH + 50 * np.sin(angle)])
    return saved(folder, [shapely.Polygon(ring)])


@clumsy(2_000)
def stacked_yards(folder, count):
    """Yards that all lie on the same ground, each a little different."""
    return saved(folder, [make.box(i * 0.001, 0, 30 + i * 0.001, 40) for i in range(count)])


@clumsy(1_000)
def overlapping_yards(folder, count):
    """Yards drawn as circles that overlap each other by much."""
    rng = np.random.default_rng(6)
    at = rng.uniform(0, 60, (count, 2)) + np.array([make.WEST, make.SOUTH])
    return saved(folder, shapely.buffer(shapely.points(at), 25.0, quad_segs=16))


@clumsy(600)
def condominium(folder, units):
    """Units of one building, all with the building's outline."""
    outline = shapely.buffer(make.box(0, 0, 60, 40), 3.0, quad_segs=16)
    return saved(folder, [outline] * units)


@clumsy(100_000)
def one_id_for_all(folder, rows):
    """A table of parcels in which a constant stands where the id is looked for."""
    x, y = np.divmod(np.arange(rows), 400)
    shapes = shapely.box(
        make.WEST + x * 12, make.SOUTH + y * 12, make.WEST + x * 12 + 10, make.SOUTH + y * 12 + 10
    )
    return saved(folder, shapes, yard_id=["CITY"] * rows)


@clumsy(100_000)
def copies_of_one_row(folder, rows):
    """One parcel, exported again and again."""
    return saved(folder, [make.box(0, 0, 30, 40)] * rows, yard_id=["A1"] * rows)


def _at_random(rng, rows):
    east, north = rng.uniform(0, 95, rows), rng.uniform(0, 40, rows)
    return make.degrees(east, north)


@clumsy(50_000)
def misspelt_plants(folder, rows):
    """Plants whose names are all written differently."""
    rng = np.random.default_rng(7)
    lon, lat = _at_random(rng, rows)
    words = ["milkwed", "astr", "goldnrod", "bee bam", "cone flowr", "violte", "red mapel", "swich gras"]
    names = [f"{words[i % 8]} {chr(97 + i % 26)}{chr(97 + i // 26 % 26)}q{i}" for i in range(rows)]
    lines = [f"{n},{a:.7f},{b:.7f}" for n, a, b in zip(names, lon, lat, strict=True)]
    (folder / "plants.csv").write_text("plant,lon,lat\n" + "\n".join(lines), encoding="utf-8")
    return beside_yards(folder, {"plants": "plants.csv"})


@clumsy(50_000)
def street_trees(folder, rows):
    """An inventory in which a few names that no table holds stand in every row."""
    rng = np.random.default_rng(7)
    lon, lat = _at_random(rng, rows)
    words = ["Zelkova", "Callery paer", "Norwy mapel", "Unknown tree sp", "Stump", "vacant site large"]
    lines = [f"{words[i % 6]},{a:.7f},{b:.7f}" for i, (a, b) in enumerate(zip(lon, lat, strict=True))]
    (folder / "plants.csv").write_text("plant,lon,lat\n" + "\n".join(lines), encoding="utf-8")
    return beside_yards(folder, {"plants": "plants.csv"})


@clumsy(20_000)
def misspelt_sightings(folder, rows):
    """Sightings whose butterflies are all written differently."""
    rng = np.random.default_rng(8)
    lon, lat = _at_random(rng, rows)
    lines = [
        f"monrach {chr(97 + i % 26)}{i},{a:.7f},{b:.7f}"
        for i, (a, b) in enumerate(zip(lon, lat, strict=True))
    ]
    (folder / "seen.csv").write_text("butterfly,lon,lat\n" + "\n".join(lines), encoding="utf-8")
    return beside_yards(folder, {"sightings": "seen.csv"})


@clumsy(20_000)
def strangers_on_the_sheet(folder, rows):
    """A sign-up sheet of people who live elsewhere."""
    lines = [f"Z-{i},member,{i} Nowhere Lane North" for i in range(rows)]
    lines.append("TB-01,member,1 Tallow Bend")
    (folder / "people.csv").write_text("yard_id,role,address\n" + "\n".join(lines), encoding="utf-8")
    return beside_yards(folder, {"participants": "people.csv"})


@clumsy(1_000_000)
def raster_of_many_columns(folder, columns):
    """One row of very many cells."""
    where = Affine(0.0001, 0, make.WEST, 0, -100, make.SOUTH + 100)
    with rasterio.open(folder / "ph.tif", "w", driver="GTiff", width=columns, height=1, count=1,
                       dtype="float32", crs="EPSG:32617", transform=where) as out:  # fmt: skip
        out.write(np.full((1, 1, columns), 6.5, np.float32))
    return beside_yards(folder, {}, {"ph": "ph.tif"})


@clumsy(1_000)
def millimetre_cells(folder, per_metre):
    """Cells a thousandth of what was meant."""
    make.yards().to_file(folder / "yards.gpkg")
    return make.study(folder, {"yards": "yards.gpkg"}, head=f"cell_m = {1 / per_metre}")


@clumsy(200_000)
def jagged_boundary(folder, corners):
    """A yard with an outline traced from cells."""
    n = corners // 2
    x = np.repeat(np.arange(n + 1), 2)[1:-1] * 0.05
    y = np.tile([0.0, 0.0, 0.04, 0.04], n)[: len(x)]
    top = np.column_stack([x, y + 40])
    ring = np.vstack([[0, 0], top, [x[-1], 0]]) + np.array([make.WEST, make.SOUTH])
    return saved(folder, [shapely.Polygon(ring)])


@clumsy(8_000)
def far_member(folder, metres):
    """One yard far from all the others."""
    return saved(folder, [*make.yards().geometry, make.box(metres, metres, metres + 30, metres + 30)])


@clumsy(20_000)
def town_boundary(folder, metres):
    """The outline of the whole town among the yards."""
    return saved(folder, [*make.yards().geometry, make.box(-metres / 2, -metres / 2, metres / 2, metres / 2)])


@clumsy(170)
def world_polygon(folder, degrees):
    """A rectangle around the world among the yards."""
    frame = make.yards().to_crs(4326)
    shapes = [*frame.geometry, shapely.box(-degrees, -80, degrees, 80)]
    gpd.GeoDataFrame({"yard_id": list("abcd")}, geometry=shapes, crs=4326).to_file(folder / "yards.gpkg")
    return make.study(folder, {"yards": "yards.gpkg"})


@clumsy(20_002)
def stray_quote(folder, rows):
    """A quote that is opened in a cell near the top, and closed near the end."""
    lon, lat = make.degrees(5, 5)
    lines = [f"Asclepias syriaca,{lon:.7f},{lat:.7f},tall" for _ in range(rows)]
    lines[0] = lines[0].replace("tall", '"5 ft')
    lines[-1] = lines[-1].replace("tall", '6"')
    (folder / "plants.csv").write_text("plant,lon,lat,notes\n" + "\n".join(lines), encoding="utf-8")
    return beside_yards(folder, {"plants": "plants.csv"})


@clumsy(200_000)
def open_quote(folder, rows):
    """A quote that is opened and never closed."""
    lon, lat = make.degrees(5, 5)
    lines = [f"Asclepias syriaca,{lon:.7f},{lat:.7f},tall" for _ in range(rows)]
    lines[rows // 2] = lines[0].replace("tall", '"5 ft')
    (folder / "plants.csv").write_text("plant,lon,lat,notes\n" + "\n".join(lines), encoding="utf-8")
    return beside_yards(folder, {"plants": "plants.csv"})


@clumsy(100_000_000)
def huge_cell(folder, letters):
    """A cell of very much text."""
    lon, lat = make.degrees(5, 5)
    text = f"plant,lon,lat,notes\nAsclepias syriaca,{lon:.7f},{lat:.7f},{'a' * letters}\n"
    (folder / "plants.csv").write_text(text, encoding="utf-8")
    return beside_yards(folder, {"plants": "plants.csv"})


@clumsy(200_000)
def many_columns(folder, columns):
    """A table far wider than long."""
    lon, lat = make.degrees(5, 5)
    head = ",".join(["plant", "lon", "lat", *(f"c{i}" for i in range(columns))])
    row = ",".join(["Asclepias syriaca", f"{lon:.7f}", f"{lat:.7f}", *["1"] * columns])
    (folder / "plants.csv").write_text(f"{head}\n{row}\n{row}\n", encoding="utf-8")
    return beside_yards(folder, {"plants": "plants.csv"})


@clumsy(100_000)
def line_of_columns_alone(folder, columns):
    """Many rows in one line: line breaks were lost."""
    lon, lat = make.degrees(5, 5)
    text = "plant,lon,lat," + ",".join(f"Asclepias syriaca,{lon:.7f},{lat:.7f}" for _ in range(columns))
    (folder / "plants.csv").write_text(text, encoding="utf-8")
    return beside_yards(folder, {"plants": "plants.csv"})


@clumsy(200_000)
def own_plant_table(folder, rows):
    """A region's table of plants of very many rows."""
    lines = [f"Inventus nomen{i},Invented {i},forb,perennial" for i in range(rows)]
    (folder / "own.csv").write_text(
        "plant,common_name,growth_form,life\n" + "\n".join(lines), encoding="utf-8"
    )
    return beside_yards(folder, {}, head='[knowledge]\nplants = "own.csv"\n')


def _encoded(codec):
    def build(folder, rows):
        lon, lat = make.degrees(5, 5)
        line = f"Asclepias syriaca,{lon:.7f},{lat:.7f},+AGE- \\u0041 .\n"
        (folder / "plants.csv").write_text("plant,lon,lat,notes\n" + line * rows, encoding="utf-8")
        return beside_yards(folder, {"plants": {"path": "plants.csv", "encoding": codec}})

    build.__name__ = f"encoding_{codec}"
    return build


for _codec in ("idna", "punycode", "unicode_escape", "raw_unicode_escape", "utf7", "undefined", "mbcs"):
    clumsy(30_000)(_encoded(_codec))


# Study files.


@hostile(100_000)
def deep_toml_array(folder, depth):
    """Lists in lists."""
    path = beside_yards(folder, {})
    path.write_text(path.read_text() + f"\nx = {'[' * depth}{']' * depth}\n", encoding="utf-8")
    return path


@hostile(20_000)
def deep_toml_table(folder, depth):
    """Tables in tables."""
    path = beside_yards(folder, {})
    path.write_text(path.read_text() + f"\n[{'.'.join(['a'] * depth)}]\nx = 1\n", encoding="utf-8")
    return path


@hostile(20_000)
def deep_toml_inline(folder, depth):
    """Inline tables in inline tables."""
    path = beside_yards(folder, {})
    path.write_text(path.read_text() + f"\nx = {'{a=' * depth}1{'}' * depth}\n", encoding="utf-8")
    return path


@clumsy(5_000)
def number_of_many_digits(folder, digits):
    """A number that nobody can mean."""
    return beside_yards(folder, {}, head=f"seed = {'9' * digits}")


@clumsy(5_000)
def long_path(folder, letters):
    """A path that no system takes."""
    return beside_yards(folder, {"plants": "p" * letters + ".csv"})


@hostile(50_000_000)
def big_study_file(folder, letters):
    """A study file that is mostly a name."""
    return beside_yards(folder, {}, head=f"# {'x' * letters}")


# Shapes in shapes.


def nested_wkb(depth):
    """Return a point in ``depth`` collections, as WKB."""
    return (struct.pack("<BII", 1, 7, 1) * depth) + struct.pack("<BIdd", 1, 1, 337_510.0, 4_418_210.0)


@hostile(1_000_000)
def nested_wkt(folder, depth):
    """Collections in collections, as text."""
    text = "GEOMETRYCOLLECTION(" * depth + "POINT(337510 4418210)" + ")" * depth
    (folder / "yards.csv").write_text(f'yard_id,wkt\na,"{text}"\n', encoding="utf-8")
    return make.study(folder, {"yards": {"path": "yards.csv", "crs": "EPSG:32617"}})


@hostile(1_000_000)
def nested_hex_wkb(folder, depth):
    """Collections in collections, as hexadecimal WKB in a table."""
    (folder / "yards.csv").write_text(f"yard_id,wkb\na,{nested_wkb(depth).hex()}\n", encoding="utf-8")
    return make.study(folder, {"yards": {"path": "yards.csv", "crs": "EPSG:32617"}})


@hostile(1_000_000)
def nested_parquet(folder, depth):
    """Collections in collections, in GeoParquet."""
    geo = {"version": "1.1.0", "primary_column": "geometry",
           "columns": {"geometry": {"encoding": "WKB", "geometry_types": []}}}  # fmt: skip
    table = pa.table({"yard_id": ["a"], "geometry": [nested_wkb(depth)]})
    pq.write_table(table.replace_schema_metadata({"geo": json.dumps(geo)}), folder / "yards.parquet")
    return make.study(folder, {"yards": {"path": "yards.parquet", "crs": "EPSG:32617"}})


@hostile(1_000_000)
def nested_geopackage(folder, depth):
    """Collections in collections, in a GeoPackage."""
    import sqlite3

    make.yards().to_file(folder / "yards.gpkg")
    head = b"GP\0\x01" + struct.pack("<i", 32617)
    with sqlite3.connect(folder / "yards.gpkg") as base:
        drops = [r[0] for r in base.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'")]
        for name in drops:
            base.execute(f'DROP TRIGGER "{name}"')
        base.execute("UPDATE yards SET geom = ?", (head + nested_wkb(depth),))
    return make.study(folder, {"yards": "yards.gpkg"})


FEATURE = (
    '{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"yard_id":"a"},'
    '"geometry":SHAPE}]}'
)


@hostile(1_000_000)
def nested_geojson_shapes(folder, depth):
    """Collections in collections, in GeoJSON."""
    shape = (
        '{"type":"GeometryCollection","geometries":[' * depth
        + '{"type":"Point","coordinates":[-82.9,39.9]}'
        + "]}" * depth
    )
    text = FEATURE.replace("SHAPE", shape)
    (folder / "yards.geojson").write_text(text, encoding="utf-8")
    return make.study(folder, {"yards": "yards.geojson"})


@hostile(200_000)
def geojson_of_many_digits(folder, digits):
    """A number that no program holds, as an id."""
    shape = json.dumps(shapely.geometry.mapping(shapely.box(-83, 39, -82, 40)))
    text = FEATURE.replace("SHAPE", shape).replace('"properties":{', f'"properties":{{"n":{"7" * digits},')
    (folder / "yards.geojson").write_text(text, encoding="utf-8")
    return make.study(folder, {"yards": "yards.geojson"})


@hostile(20_000)
def lengths_of_many_digits(folder, digits):
    """Feet and parts of an inch of very many digits, which a pattern takes apart in very many ways."""
    nines = "9" * digits
    lines = "\n".join(f"337510,4418210,{nines}/{nines}'" for _ in range(20))
    (folder / "trees.csv").write_text(f"x,y,height_m\n{lines}\n", encoding="utf-8")
    return beside_yards(folder, {"trees": {"path": "trees.csv", "x": "x", "y": "y", "crs": "EPSG:32617"}})


@hostile(1_000_000)
def nested_geojson_lists(folder, depth):
    """Coordinates in lists in lists."""
    shape = f'{{"type":"Polygon","coordinates":{"[" * depth}{"]" * depth}}}'
    text = FEATURE.replace("SHAPE", shape)
    (folder / "yards.geojson").write_text(text, encoding="utf-8")
    return make.study(folder, {"yards": "yards.geojson"})


@hostile(1_000_000)
def nested_geojson_in_cell(folder, depth):
    """GeoJSON in a cell, deeper than any parser goes."""
    text = f'{{""type"":""Polygon"",""coordinates"":{"[" * depth}{"]" * depth}}}'
    (folder / "yards.csv").write_text(f'yard_id,geojson\na,"{text}"\n', encoding="utf-8")
    return make.study(folder, {"yards": {"path": "yards.csv", "crs": "EPSG:4326"}})


# Databases.


def _view(folder, select):
    import sqlite3

    make.yards().to_file(folder / "yards.gpkg", layer="base")
    with sqlite3.connect(folder / "yards.gpkg") as base:
        base.execute(f"CREATE VIEW yards AS {select}")
        base.execute(
            "INSERT INTO gpkg_contents (table_name, data_type, identifier, srs_id) "
            "SELECT 'yards', 'features', 'yards', srs_id FROM gpkg_contents WHERE table_name = 'base'"
        )
        base.execute(
            "INSERT INTO gpkg_geometry_columns SELECT 'yards', column_name, geometry_type_name, srs_id, z, m "
            "FROM gpkg_geometry_columns WHERE table_name = 'base'"
        )
    return make.study(folder, {"yards": {"path": "yards.gpkg", "layer": "yards"}})


@hostile(10**12)
def view_without_end(folder, rows):
    """A view that counts for ever before it gives a row."""
    return _view(
        folder,
        f"WITH RECURSIVE c(x) AS (SELECT 1 UNION ALL SELECT x + 1 FROM c WHERE x < {rows}) "
        "SELECT fid, yard_id, geom FROM base WHERE (SELECT count(*) FROM c) > 0",
    )


@hostile(10**12)
def view_of_many_rows(folder, rows):
    """A view that gives rows for ever."""
    return _view(
        folder,
        f"WITH RECURSIVE c(x) AS (SELECT 1 UNION ALL SELECT x + 1 FROM c WHERE x < {rows}) "
        "SELECT x AS fid, yard_id, geom FROM base, c",
    )


@hostile(10**9)
def view_of_heavy_steps(folder, rows):
    """A view of few steps and small cells that takes its time at each step."""
    return _view(
        folder,
        "WITH RECURSIVE c(x) AS (SELECT 1 UNION ALL "
        f"SELECT x + 1 + 0 * length(hex(randomblob(1000000))) FROM c WHERE x < {rows}) "
        "SELECT x AS fid, yard_id, geom FROM base, c",
    )


@hostile(900_000_000)
def view_of_big_blobs(folder, size):
    """A view whose cells are far larger than the file."""
    return _view(folder, f"SELECT fid, hex(zeroblob({size // 2})) AS yard_id, geom FROM base")


# Marked-up text.


@hostile(300_000)
def kml_of_open_tags(folder, count):
    """Elements that open and never close."""
    make.kml(folder, extra="<Style" * count)
    return make.study(folder, {"yards": "yards.kml"})


@hostile(300_000)
def kml_of_links(folder, count):
    """Elements of which a pattern might look for the end again and again."""
    make.kml(folder, extra="<NetworkLink>" * count)
    return make.study(folder, {"yards": "yards.kml"})


@hostile(200_000)
def deep_kml(folder, depth):
    """Folders in folders."""
    make.kml(folder, extra="<Folder>" * depth + "</Folder>" * depth)
    return make.study(folder, {"yards": "yards.kml"})


@hostile(30)
def kml_with_entities(folder, levels):
    """Entities that stand for entities, in UTF-16."""
    path = make.kml(folder)
    text = path.read_text(encoding="utf-8").replace(' encoding="UTF-8"', ' encoding="UTF-16"')
    kinds = "".join(f'<!ENTITY e{i} "&e{i - 1};&e{i - 1};">' for i in range(1, levels))
    text = text.replace("?><kml", f'?><!DOCTYPE kml [<!ENTITY e0 "x">{kinds}]><kml', 1)
    path.write_bytes(text.encode("utf-16"))
    return make.study(folder, {"yards": "yards.kml"})


def _in_workbook(folder, change, name="xl/worksheets/sheet1.xml"):
    make.workbook(folder, [("plant", "lon", "lat"), ("Asclepias syriaca", *make.degrees(5, 5))], "in.xlsx")
    with (
        zipfile.ZipFile(folder / "in.xlsx") as old,
        zipfile.ZipFile(folder / "plants.xlsx", "w", zipfile.ZIP_DEFLATED) as new,
    ):
        for member in old.namelist():
            data = old.read(member)
            new.writestr(member, change(data) if member == name else data)
    return beside_yards(folder, {"plants": "plants.xlsx"})


@hostile(10_000_000)
def xlsx_of_open_formulas(folder, count):
    """A sheet that sends a pattern for formulas from each place to the end."""
    return _in_workbook(folder, lambda data: data.replace(b"</sheetData>", b"<f>" * count + b"</sheetData>"))


@hostile(60_000_000)
def xlsx_long_text(folder, letters):
    """A cell of a text of 60 MB."""
    cell = b'<c r="D2" t="inlineStr"><is><t>' + b"a" * letters + b"</t></is></c></row></sheetData>"
    return _in_workbook(folder, lambda data: data.replace(b"</row></sheetData>", cell))


@hostile(1_000_000)
def xlsx_deep(folder, depth):
    """Elements in elements."""
    deep = b"<a>" * depth + b"</a>" * depth
    return _in_workbook(folder, lambda data: data.replace(b"</sheetData>", deep + b"</sheetData>"))


@hostile(30)
def xlsx_entities(folder, levels):
    """Entities that stand for entities."""
    kinds = b"".join(b'<!ENTITY e%d "&e%d;&e%d;">' % (i, i - 1, i - 1) for i in range(1, levels))
    top = b'<!DOCTYPE worksheet [<!ENTITY e0 "x">' + kinds + b"]><worksheet"
    last = b"<c t='inlineStr'><is><t>&e%d;</t></is></c></row></sheetData>" % (levels - 1)
    return _in_workbook(
        folder, lambda data: data.replace(b"<worksheet", top, 1).replace(b"</row></sheetData>", last)
    )


@hostile(1_000_000)
def xlsx_far_cell(folder, row):
    """A sheet that says its last row is very far down."""
    far = b'<row r="%d"><c r="XFD%d"><v>1</v></c></row></sheetData>' % (row, row)
    return _in_workbook(folder, lambda data: data.replace(b"</sheetData>", far))


@hostile(3_000_000)
def xlsx_shared_texts(folder, count):
    """A table of texts that no cell uses."""
    make.workbook(folder, [("plant", "lon", "lat"), ("Asclepias syriaca", *make.degrees(5, 5))], "in.xlsx")
    return _in_workbook(
        folder, lambda data: data.replace(b"</sst>", b"<si><t>abcdefgh</t></si>" * count + b"</sst>"),
        "xl/sharedStrings.xml",
    )  # fmt: skip


# Columns.


@hostile(100_000_000)
def parquet_of_equal_rows(folder, rows):
    """A file of some kilobytes that holds a hundred million rows."""
    schema = pa.schema([("plant", pa.dictionary(pa.int32(), pa.string())), ("lon", pa.float64())])
    part = pa.table(
        {
            "plant": pa.DictionaryArray.from_arrays(pa.array(np.zeros(10_000_000, np.int32)), ["a"]),
            "lon": np.zeros(10_000_000),
        },
        schema=schema,
    )
    with pq.ParquetWriter(folder / "plants.parquet", schema, compression="zstd") as out:
        for start in range(0, rows, len(part)):
            out.write_table(part.slice(0, min(len(part), rows - start)))
    return beside_yards(folder, {"plants": "plants.parquet"})


@hostile(400_000_000)
def parquet_of_big_cell(folder, letters):
    """A cell of one letter, packed well."""
    table = pa.table({"plant": ["a" * letters], "lon": [1.0], "lat": [1.0]})
    pq.write_table(table, folder / "plants.parquet", compression="zstd", use_dictionary=False)
    return beside_yards(folder, {"plants": "plants.parquet"})


def _parquet_geo(geo):
    def build(folder, _size):
        make.yards().to_parquet(folder / "in.parquet")
        table = pq.read_table(folder / "in.parquet")
        meta = {
            **table.schema.metadata,
            b"geo": json.dumps(geo).encode() if not isinstance(geo, bytes) else geo,
        }
        pq.write_table(table.replace_schema_metadata(meta), folder / "yards.parquet")
        return make.study(folder, {"yards": {"path": "yards.parquet", "crs": "EPSG:32617"}})

    return build


_GOOD = {"encoding": "WKB", "geometry_types": ["Polygon"]}
for _name, _geo in {
    "list": [1],
    "text": "geo",
    "null": None,
    "columns_list": {"primary_column": "geometry", "columns": [1]},
    "column_text": {"primary_column": "geometry", "columns": {"geometry": "WKB"}},
    "column_null": {"primary_column": "geometry", "columns": {"geometry": None}},
    "primary_list": {"primary_column": ["geometry"], "columns": {"geometry": _GOOD}},
    "primary_object": {"primary_column": {"a": 1}, "columns": {"geometry": _GOOD}},
    "crs_number": {"primary_column": "geometry", "columns": {"geometry": {**_GOOD, "crs": 1e300}}},
    "crs_list": {"primary_column": "geometry", "columns": {"geometry": {**_GOOD, "crs": [1]}}},
    "crs_object": {"primary_column": "geometry", "columns": {"geometry": {**_GOOD, "crs": {"type": 3}}}},
    "encoding_list": {"primary_column": "geometry", "columns": {"geometry": {"encoding": ["WKB"]}}},
    "encoding_other": {"primary_column": "geometry", "columns": {"geometry": {"encoding": "polygon"}}},
    "deep": b'{"a":' + b"[" * 200_000 + b"]" * 200_000 + b"}",
    "bytes": b"\xff\xfe\x00",
}.items():
    _build = _parquet_geo(_geo)
    _build.__name__ = f"parquet_geo_{_name}"
    hostile(1)(_build)


# Virtual rasters and sidecars.


VRT = (
    '<VRTDataset rasterXSize="40" rasterYSize="30"><SRS>EPSG:32617</SRS><GeoTransform>337500, 5, 0, 4418350, '
    '0, -5</GeoTransform><VRTRasterBand dataType="Float32" band="1">{}</VRTRasterBand></VRTDataset>'
)
SOURCE = (
    '<SimpleSource><SourceFilename relativeToVRT="1">{}</SourceFilename><SourceBand>1</SourceBand>'
    "</SimpleSource>"
)


@hostile(40)
def vrt_fan_out(folder, width):
    """Virtual rasters that each name many others, five deep."""
    make.raster(folder, make.slope(), "leaf.tif")
    for level in range(5, 0, -1):
        inner = "leaf.tif" if level == 5 else f"v{level + 1}.vrt"
        (folder / f"v{level}.vrt").write_text(VRT.format(SOURCE.format(inner) * width), encoding="utf-8")
    return beside_yards(folder, {}, {"ph": "v1.vrt"})


@hostile(100_000)
def vrt_of_many_sources(folder, count):
    """A virtual raster that names one file very often."""
    make.raster(folder, make.slope(), "leaf.tif")
    (folder / "v.vrt").write_text(VRT.format(SOURCE.format("leaf.tif") * count), encoding="utf-8")
    return beside_yards(folder, {}, {"ph": "v.vrt"})


@hostile(1_000_000)
def vrt_deep(folder, depth):
    """Elements in elements."""
    (folder / "v.vrt").write_text(VRT.format("<a>" * depth + "</a>" * depth), encoding="utf-8")
    return beside_yards(folder, {}, {"ph": "v.vrt"})


@hostile(30)
def vrt_entities_utf16(folder, levels):
    """Entities that stand for entities, in UTF-16."""
    make.raster(folder, make.slope(), "leaf.tif")
    kinds = "".join(f'<!ENTITY e{i} "&e{i - 1};&e{i - 1};">' for i in range(1, levels))
    text = f'<!DOCTYPE V [<!ENTITY e0 "x">{kinds}]>' + VRT.format(SOURCE.format("leaf.tif"))
    (folder / "v.vrt").write_bytes(text.replace("<SRS>", f"<SRS>&e{levels - 1};").encode("utf-16"))
    return beside_yards(folder, {}, {"ph": "v.vrt"})


WEB_MAP = (
    '<GDAL_WMS><Service name="TMS"><ServerUrl>http://127.0.0.1:{port}/${{z}}/${{x}}/${{y}}.png</ServerUrl></Service>'
    "<DataWindow><UpperLeftX>337500</UpperLeftX><UpperLeftY>4418350</UpperLeftY><LowerRightX>337700</LowerRightX>"
    "<LowerRightY>4418200</LowerRightY><SizeX>40</SizeX><SizeY>30</SizeY><TileLevel>1</TileLevel></DataWindow>"
    "<Projection>EPSG:32617</Projection><BandsCount>1</BandsCount><DataType>Byte</DataType></GDAL_WMS>"
)


def web_sidecar(folder, suffix, raster="ph.tif", port=9):
    """Write a raster with a sidecar that is the description of a web map."""
    if raster.endswith(".asc"):
        rows = "\n".join(" ".join(["6.5"] * 40) for _ in range(30))
        head = f"ncols 40\nnrows 30\nxllcorner {make.WEST}\nyllcorner {make.SOUTH}\ncellsize 5\n"
        (folder / raster).write_text(head + rows, encoding="utf-8")
    else:
        make.raster(folder, make.slope(), raster)
    (folder / f"{raster}{suffix}").write_text(WEB_MAP.format(port=port), encoding="utf-8")
    return beside_yards(folder, {}, {"ph": {"path": raster, "crs": "EPSG:32617"}})


@hostile(1)
def unknown_projection(folder, _size):
    """A .prj that names a way of projecting which no library knows."""
    make.shapefile(folder)
    text = (folder / "yards.prj").read_text()
    (folder / "yards.prj").write_text(
        text.replace("Transverse_Mercator", "Quillwater_Fold"), encoding="utf-8"
    )
    return make.study(folder, {"yards": "yards.shp"})
