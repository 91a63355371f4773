"""Small layers in any format around an invented street: three yards and four plants at Tallow Bend."""

import json
import struct
import zipfile

import geopandas as gpd
import numpy as np
import openpyxl
import pyproj
import rasterio
import shapely
from affine import Affine

WEST, SOUTH, CRS = 337_500.0, 4_418_200.0, 32617
YARDS = {"TB-01": (0, 0, 30, 40), "TB-02": (40, 0, 65, 36), "TB-03": (75, 0, 95, 25)}
EXPECTED = {"TB-01": 1200.0, "TB-02": 900.0, "TB-03": 500.0}  # 30 x 40, 25 x 36, 20 x 25 m as drawn
ADDRESSES = ["12 Plum Alley", "7 N Kiln St", "3 Mill Green"]
PLANTS = (("P1", "Asclepias syriaca", 5, 8, 3), ("P2", "Monarda fistulosa", 22, 31, 5),
          ("P3", "Zizia aurea", 48, 12, 4), ("P4", "Eutrochium purpureum", 83, 9, 2))  # fmt: skip
CRS_WKT = pyproj.CRS.from_epsg(CRS).to_wkt("WKT1_ESRI")
TO_DEGREES = pyproj.Transformer.from_crs(CRS, 4326, always_xy=True)
TO_METRES = pyproj.Transformer.from_crs(4326, CRS, always_xy=True).transform


def box(west, south, east, north):
    return shapely.box(WEST + west, SOUTH + south, WEST + east, SOUTH + north)


def yards(shapes=None, **columns):
    """Return yards as a frame on EPSG:32617; ``shapes`` is id -> polygon."""
    shapes = shapes or {name: box(*corners) for name, corners in YARDS.items()}
    return gpd.GeoDataFrame({"yard_id": list(shapes), **columns}, geometry=list(shapes.values()), crs=CRS)


def degrees(x, y):
    return TO_DEGREES.transform(WEST + x, SOUTH + y)


def plants_text(
    separator=",", lon=lambda v: f"{v:.7f}", lat=lambda v: f"{v:.7f}", header="plant_id,species,lat,lon,count"
):
    lines = [header.replace(",", separator)]
    for name, species, x, y, count in PLANTS:
        east, north = degrees(x, y)
        lines.append(separator.join([name, species, lat(north), lon(east), str(count)]))
    return "\n".join(lines) + "\n"


def shapefile(folder, frame=None, stem="yards"):
    (frame if frame is not None else yards()).to_file(folder / f"{stem}.shp")
    return folder / f"{stem}.shp"


def raw_shapefile(folder, rings_of, ids, width=12, kind="C"):
    """Write a polygon shapefile with rings and ids exactly as given, which no library would write so."""
    bodies = []
    for rings in rings_of:
        points = np.array([p for ring in rings for p in ring], "<f8") + np.array([WEST, SOUTH])
        starts = np.cumsum([0, *(len(ring) for ring in rings)])[:-1]
        box = [*points.min(axis=0), *points.max(axis=0)]
        bodies.append(
            struct.pack("<i4d2i", 5, *box, len(rings), len(points))
            + starts.astype("<i4").tobytes()
            + points.tobytes()
        )
    records, index = b"", b""
    for number, body in enumerate(bodies, 1):
        index += struct.pack(">2i", (100 + len(records)) // 2, len(body) // 2)
        records += struct.pack(">2i", number, len(body) // 2) + body

    def head(size):
        return struct.pack(">7i", 9994, 0, 0, 0, 0, 0, size // 2) + struct.pack("<2i8d", 1000, 5, *[0.0] * 8)

    (folder / "yards.shp").write_bytes(head(100 + len(records)) + records)
    (folder / "yards.shx").write_bytes(head(100 + len(index)) + index)
    field = b"yard_id".ljust(11, b"\0") + kind.encode() + b"\0" * 4 + bytes([width, 0]) + b"\0" * 14
    table = struct.pack("<BBBBIHH", 3, 124, 5, 12, len(ids), 65, width + 1) + b"\0" * 20 + field + b"\r"
    table += b"".join(
        b" " + (str(i).rjust(width) if kind == "N" else str(i).ljust(width)).encode() for i in ids
    )
    (folder / "yards.dbf").write_bytes(table + b"\x1a")
    (folder / "yards.prj").write_text(CRS_WKT, encoding="utf-8")
    return folder / "yards.shp"


def zipped(folder, files, name="layer.zip", inside="parcels/"):
    with zipfile.ZipFile(folder / name, "w", zipfile.ZIP_DEFLATED) as archive:
        for file in files:
            archive.write(file, inside + file.name)
    return folder / name


def kml(folder, name="yards.kml", extra=""):
    marks = []
    for yard, corners in YARDS.items():
        ring = " ".join(
            f"{x:.9f},{y:.9f},0"
            for x, y in (degrees(a - WEST, b - SOUTH) for a, b in box(*corners).exterior.coords)
        )
        marks.append(f"<Placemark><name>{yard}</name><Polygon><outerBoundaryIs><LinearRing><coordinates>{ring}</coordinates>"
                     "</LinearRing></outerBoundaryIs></Polygon></Placemark>")  # fmt: skip
    text = f'<?xml version="1.0" encoding="UTF-8"?><kml xmlns="http://www.opengis.net/kml/2.2"><Document>{extra}{"".join(marks)}</Document></kml>'
    (folder / name).write_text(text, encoding="utf-8")
    return folder / name


def gpx(folder, name="walk.gpx"):
    marks = "".join(
        f'<wpt lat="{degrees(x, y)[1]}" lon="{degrees(x, y)[0]}"><name>{s}</name></wpt>'
        for _, s, x, y, _ in PLANTS
    )
    walk = "".join(
        f'<trkpt lat="{degrees(x, y)[1]}" lon="{degrees(x, y)[0]}"/>'
        for x, y in ((0, 0), (30, 0), (30, 40), (0, 40))
    )
    text = ('<?xml version="1.0"?><gpx version="1.1" creator="test" '
            'xmlns="http://www.topografix.com/GPX/1/1">'
            f"{marks}<trk><name>W1</name><trkseg>{walk}</trkseg></trk></gpx>")  # fmt: skip
    (folder / name).write_text(text, encoding="utf-8")
    return folder / name


def workbook(folder, rows, name="table.xlsx", formats=None):
    book = openpyxl.Workbook()
    sheet = book.active
    for row in rows:
        sheet.append(list(row))
        for column, number_format in (formats or {}).items():
            sheet.cell(sheet.max_row, column).number_format = number_format
    book.save(folder / name)
    return folder / name


def raster(
    folder,
    values,
    name="grid.tif",
    *,
    cell=5.0,
    transform=None,
    crs=f"EPSG:{CRS}",
    dtype="float32",
    **profile,
):
    """Write a raster of rows from north to south; its south-west corner is that of the street unless told."""
    values = np.asarray(values)
    bands = values if values.ndim == 3 else values[None]
    place = transform or Affine(cell, 0, WEST, 0, -cell, SOUTH + bands.shape[1] * cell)
    with rasterio.open(folder / name, "w", driver="GTiff", height=bands.shape[1], width=bands.shape[2],
        count=len(bands),
                       dtype=dtype, crs=crs, transform=place, **profile) as out:  # fmt: skip
        out.write(bands.astype(dtype))
    return folder / name


def slope(rows=30, cols=40):
    """Return a plausible pH that rises to the east and south."""
    return 5.2 + 0.04 * np.arange(cols)[None, :] + 0.02 * np.arange(rows)[:, None]


def study(folder, layers, rasters=None, head=""):
    """Write a study file: name -> path or dict of keys; return its path."""
    lines = ["[study]", 'name = "Tallow Bend"', "date = 2026-03-01", head]
    for section, sources in (("layers", layers), ("rasters", rasters or {})):
        for name, keys in sources.items():
            given = dict(keys) if isinstance(keys, dict) else {"path": keys}
            lines.append(f"[{section}.{name}]")
            lines += [f"{key} = {_toml(value)}" for key, value in given.items()]
    path = folder / "study.toml"
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def _toml(value):
    if isinstance(value, dict):
        return "{" + ", ".join(f"{json.dumps(k)} = {json.dumps(v)}" for k, v in value.items()) + "}"
    return json.dumps(str(value) if hasattr(value, "suffix") else value)


def notes(result, layer=None):
    """Return everything told, in one text."""
    parts = (
        [result["layers"].get(layer) or result["rasters"][layer]]
        if layer
        else [*result["layers"].values(), *result["rasters"].values()]
    )
    return "\n".join(n["what"] for part in parts for n in part["notes"])


def areas(result):
    return {y["yard_id"]: y["area_m2"] for y in result["yards"]}
