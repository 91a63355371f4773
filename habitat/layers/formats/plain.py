"""Errors of the reading libraries in plain words, and the settings that keep them off the network."""

from __future__ import annotations

import re
import textwrap
import warnings
from collections.abc import Iterator
from contextlib import contextmanager

import pyogrio

from habitat.errors import HabitatError, LayerError

NOWHERE = "127.0.0.1:9"
"""A proxy that is not there (port 9 drops all, RFC 863): whatever asks for the network gets none."""

OFFLINE = {
    "CPL_VSIL_CURL_ALLOWED_EXTENSIONS": ".none",
    "GDAL_HTTP_TIMEOUT": "1",
    "GDAL_HTTP_PROXY": NOWHERE,
    "GDAL_HTTPS_PROXY": NOWHERE,
    "GDAL_HTTP_MAX_RETRY": "0",
    "GML_SKIP_RESOLVE_ELEMS": "ALL",
    "LIBKML_EXTERNAL_STYLE": "NO",
    "OGR_GEOJSON_MAX_OBJ_SIZE": "512",
    "OGR_SQLITE_LOAD_EXTENSIONS": None,
}
"""GDAL settings: no remote file is opened even if a file names one."""

NETWORK = re.compile(
    rb"(?:https?|ftps?|s3|gs)://|/vsi(?:curl|s3|gs|az|adls|oss|swift|webhdfs|hdfs|stdin)", re.IGNORECASE
)
"""What a path to the network looks like inside a file."""

WORDS = (
    (r"malformed|not a database|corrupt", "the file is damaged (its database does not hold together)"),
    (
        r"not recognized|not recognised|unsupported file format|no driver|not a supported",
        "it is not a file of the kind that its name says, or it is damaged",
    ),
    (r"no such file|does not exist|cannot open|failed to open", "it cannot be opened"),
    (
        r"truncat|unexpected end|end of file|not enough|read error|IReadBlock|TIFFRead|TIFFFill|short read"
        r"|decod|zlib|inflate|Read failed",
        "the file is damaged or was cut short",
    ),
    (r"memory|too large|allocat", "it asks for more memory than there is"),
    (r"permission", "reading it is not allowed on this computer"),
    (r"codec|unicode|utf-?8", "its text does not fit its encoding"),
)


def in_plain_words(error: BaseException) -> str:
    """Return what a library's error means to a person, with its own first words behind."""
    first = str(error).strip().splitlines()[0] if str(error).strip() else type(error).__name__
    first = re.sub(r"(/[^\s/'\"]+)+/", "", first.partition("; It might help")[0])
    shown = textwrap.shorten(re.sub(r"\w+\(.*\) failed: ", "", first), 160, placeholder=" ...").rstrip(".;")
    for pattern, words in WORDS:
        if re.search(pattern, first, re.IGNORECASE):
            return f"{words} ({shown})"
    return f"it cannot be read ({shown})"


@contextmanager
def reading(where: str, error_type: type[HabitatError] = LayerError, mend: str = "") -> Iterator[list[str]]:
    """Turn whatever a library raises into an error that people can act on; give the warnings as a list.

    Only calls into reading libraries go inside.
    """
    told: list[str] = []
    try:
        with warnings.catch_warnings(record=True) as caught:
            warnings.simplefilter("always")
            yield told
        told += [str(w.message) for w in caught]
    except HabitatError:
        raise
    except Exception as error:  # the libraries raise whatever their parsers raise
        mend = mend or "Open it in the program that made it and save it again, then run 'habitat check'"
        raise error_type(in_plain_words(error), where, mend) from None


@contextmanager
def gdal_settings(**settings: str | None) -> Iterator[None]:
    """Hold the vector library's settings for a while: off the network, and what else is asked for."""
    wanted = {**OFFLINE, **settings}
    before = {name: pyogrio.get_gdal_config_option(name) for name in wanted}
    pyogrio.set_gdal_config_options(wanted)
    try:
        yield
    finally:
        pyogrio.set_gdal_config_options(before)
