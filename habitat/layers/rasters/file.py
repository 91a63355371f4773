"""Open raster files: known formats only, never the network, and virtual rasters only after a look inside."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import rasterio
from rasterio.io import MemoryFile

from habitat.errors import RasterError
from habitat.layers.formats.nesting import refuse_deep_elements
from habitat.layers.formats.plain import NETWORK, OFFLINE, reading

TIFF = (b"II*\0", b"MM\0*", b"II+\0", b"MM\0+")
READABLE = "GeoTIFF (also cloud-optimised), ASCII grid, VRT over such files"
MAX_VRT_BYTES = 50 * 1024**2
MAX_DEPTH = 5
MAX_SOURCES, MAX_NAMED = 2_000, 20_000
"""Different files behind a virtual raster, those of its sources counted in, and how often one names any."""

SOURCE_TAGS = ("sourcefilename", "sourcedataset", "maskband", "overview")
MAX_LOOKED_AT = 200_000
CODE_TAGS = {"pixelfunctiontype", "pixelfunctioncode", "pixelfunctionlanguage", "pixelfunctionarguments",
             "gdalwarpoptions",
             "processingsteps", "reprojectiontransformer", "vrtprocesseddataset"}  # fmt: skip
REMOTE = re.compile(
    rb"/vsi(?:curl|s3|gs|az|adls|oss|swift|webhdfs|hdfs)|OVERVIEW_FILE[^<]*://", re.IGNORECASE
)
DESCRIPTIONS = {"metadata", "description", "srs", "categorynames", "gdalrasterattributetable", "unittype"}
SETTINGS = {**{k: v for k, v in OFFLINE.items() if v is not None}, "GDAL_DISABLE_READDIR_ON_OPEN": "FALSE"}


@contextmanager
def open_raster_file(path: str | Path, vrt: str | None = None) -> Iterator[Any]:
    """Open a raster for reading.

    Parameters
    ----------
    path
        The file.
    vrt
        The cleaned text of a virtual raster (of ``clean_vrt``); the file itself is then not read again.

    Raises
    ------
    RasterError
        If it is no raster of a known format, or is damaged.
    """
    shown = Path(path).name
    with rasterio.Env(**SETTINGS):
        if vrt is not None:
            with reading(shown, RasterError), MemoryFile(vrt.encode(), ext=".vrt") as memory:
                data = memory.open(driver="VRT")
                with data:
                    yield data
            return
        with reading(shown, RasterError, mend=f"Readable are {READABLE}"):
            data = rasterio.open(path, driver=_driver(Path(path)))
        with data:
            yield data


def _driver(path: Path) -> str:
    """Return the one format that a file's first bytes belong to: nothing else is tried on it."""
    with path.open("rb") as file:
        head = file.read(600)
    if head.startswith(TIFF):
        return "GTiff"
    if head.startswith(b"EHFA_HEADER_TAG"):
        return "HFA"
    text = head.lstrip(b"\xef\xbb\xbf \r\n\t").lower()
    if text.startswith((b"ncols", b"nrows", b"xll", b"yll", b"cellsize", b"dx", b"nodata_value")):
        return "AAIGrid"
    if text.startswith((b"north:", b"south:", b"east:", b"west:")):
        return "GRASSASCIIGrid"
    raise RasterError(
        "it is no raster of a known kind, or it is damaged", path.name, f"Readable are {READABLE}"
    )


def refuse_decimal_commas(path: Path) -> None:
    """Refuse a grid as text with decimal commas: the library reads 6,5 as 6 and says nothing."""
    with path.open("rb") as file:
        head = file.read(MAX_LOOKED_AT)
    if re.search(rb"(?<=\d),\d+\s", head) and not head.startswith(TIFF) and _driver(path) == "AAIGrid":
        raise RasterError(
            "its numbers are written with decimal commas, which grids as text do not have",
            path.name,
            "Replace each comma by a point, or export it as GeoTIFF",
        )


def check_sidecars(path: Path) -> None:
    """Refuse a raster whose sidecar files point to the network."""
    for suffix in (".aux.xml", ".ovr", ".msk"):
        sidecar = path.with_name(path.name + suffix)
        if not sidecar.is_file():
            continue
        if suffix != ".aux.xml":
            _driver(sidecar)  # the library would open it as whatever it is: a web map, a virtual raster
            continue
        if sidecar.stat().st_size > MAX_VRT_BYTES or REMOTE.search(sidecar.read_bytes()):
            raise RasterError(
                f"its sidecar {sidecar.name} points to the network, or is too large to be one",
                path.name,
                "Delete the sidecar file",
            )


def is_vrt(path: Path) -> bool:
    """Return whether a file is a virtual raster, by its name or its first bytes."""
    with reading(path.name, RasterError), path.open("rb") as file:
        head = file.read(200)
    return path.suffix.lower() == ".vrt" or b"<VRTDataset" in head


def clean_vrt(path: Path, within: tuple[Path, ...] = (), looked_at: set[Path] | None = None) -> str:
    """Return the text of a virtual raster with every source as an absolute path to a file that is there.

    Raises
    ------
    RasterError
        If a source is missing, lies on the network or is of no known format, or if it runs code.
    """
    root = _vrt_tree(path)
    within = (*within, path.resolve())
    if len(within) > MAX_DEPTH + 1 or path.resolve() in within[:-1]:
        raise RasterError(
            "virtual rasters stand inside each other too deep, or in a circle",
            path.name,
            "Make one GeoTIFF of it",
        )
    _refuse_code(root, path)
    looked_at = set() if looked_at is None else looked_at
    for element in root.iter():
        if element.tag.lower() in SOURCE_TAGS and (element.text or "").strip():
            source = _source(element, path)
            if source not in looked_at or source in within:
                looked_at.add(source)
                _look_at(source, within, looked_at)
            element.text = str(source)
            element.set("relativeToVRT", "0")
    return ET.tostring(root, encoding="unicode")


def _look_at(source: Path, within: tuple[Path, ...], looked_at: set[Path]) -> None:
    """Judge a source as if it were named itself."""
    if len(looked_at) > MAX_SOURCES:
        raise RasterError(
            f"it is made of more than {MAX_SOURCES:,} files", within[0].name, "Make one GeoTIFF of it"
        )
    if is_vrt(source):
        clean_vrt(source, within, looked_at)
    else:
        check_sidecars(source)
        with open_raster_file(source):
            pass


def _vrt_tree(path: Path) -> ET.Element:
    data = path.read_bytes() if path.stat().st_size <= MAX_VRT_BYTES else b""
    bare = data.replace(b"\0", b"")  # of two bytes a letter, one is nothing
    if not data or re.search(rb"<!(?:DOCTYPE|ENTITY)", bare, re.IGNORECASE):
        raise RasterError(
            "it is too large for a virtual raster, or declares entities", path.name, "Make one GeoTIFF of it"
        )
    refuse_deep_elements(bare.decode("latin-1"), path.name, RasterError)
    with reading(path.name, RasterError):
        root = ET.fromstring(data)
    if sum(e.tag.lower() in SOURCE_TAGS for e in root.iter()) > MAX_NAMED:
        raise RasterError(f"it names more than {MAX_NAMED:,} sources", path.name, "Make one GeoTIFF of it")
    if root.tag != "VRTDataset":
        raise RasterError("it is named *.vrt but is no virtual raster", path.name, "Make it again")
    if any(NETWORK.search(text.encode()) for text in _paths(root)):
        raise RasterError(
            "the virtual raster names a source on the network (http, vsicurl); only files on disk are read",
            path.name,
            "Download the sources and make it again",
        )
    return root


def _paths(element: ET.Element) -> Iterator[str]:
    """Yield everything in a virtual raster that could be a path: all but its descriptions."""
    if element.tag.lower() not in DESCRIPTIONS:
        yield element.text or ""
        yield from element.attrib.values()
        for child in element:
            yield from _paths(child)


def _refuse_code(root: ET.Element, path: Path) -> None:
    for element in root.iter():
        kind = (element.get("subClass") or "").lower()
        if (
            element.tag.lower() in CODE_TAGS
            or "derived" in kind
            or "rawraster" in kind
            or "processed" in kind
            or "warped" in kind
        ):
            raise RasterError(
                f"the virtual raster computes its values ({element.get('subClass') or element.tag}): code "
                "in files is not run",
                path.name,
                "Make a GeoTIFF of its result",
            )


def _source(element: ET.Element, path: Path) -> Path:
    text = (element.text or "").strip()
    if text.startswith(("/vsi", "<", "{")) or "://" in text:
        raise RasterError(
            f"the virtual raster has the source {text[:80]!r}, which is no file on disk",
            path.name,
            "Make it again",
        )
    given = Path(text.replace("\\", "/"))
    source = given if given.is_absolute() else path.parent / given
    if not source.is_file():
        raise RasterError(
            f"the virtual raster needs {text!r}, which is not there (looked for beside it)",
            path.name,
            "Put the missing tiles back, or make the virtual raster again",
        )
    return source.resolve()
