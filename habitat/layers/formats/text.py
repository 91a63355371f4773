"""Which encoding text is in: stated, declared, or found out, and never garbled in silence."""

from __future__ import annotations

import codecs
import unicodedata
from collections.abc import Iterable

from habitat.errors import LayerError

WESTERN = ("cp1252", "cp850", "mac_roman")
NAMES = {"cp1252": "Windows-1252", "utf-8": "UTF-8", "cp850": "DOS code page 850", "mac_roman": "Mac Roman"}
IN_WORDS = "’‘“”–—…°ºª€£©®²³½¼¾«»¿¡×·"

NO_CHARSETS = {"idna", "punycode", "unicode_escape", "unicode-escape", "raw_unicode_escape",
               "raw-unicode-escape", "utf-7", "undefined", "mbcs", "oem", "charmap"}  # fmt: skip
"""Names under which Python knows ways to write text that are no character encodings of files: some take time
that grows with the square of the text, some turn harmless letters into others."""

DBF_LANGUAGES = {
    0x01: "cp437", 0x02: "cp850", 0x03: "cp1252", 0x04: "mac_roman", 0x08: "cp865", 0x09: "cp437",
    0x0A: "cp850", 0x0B: "cp437", 0x0D: "cp437", 0x0E: "cp850", 0x0F: "cp437", 0x10: "cp850",
    0x11: "cp437", 0x12: "cp850", 0x13: "cp932", 0x14: "cp850", 0x15: "cp437", 0x16: "cp850",
    0x17: "cp865", 0x18: "cp437", 0x19: "cp437", 0x1A: "cp850", 0x1B: "cp437", 0x1C: "cp863",
    0x1D: "cp850", 0x1F: "cp852", 0x22: "cp852", 0x23: "cp852", 0x24: "cp860", 0x25: "cp850",
    0x26: "cp866", 0x37: "cp850", 0x40: "cp852", 0x4D: "cp936", 0x4E: "cp949", 0x4F: "cp950",
    0x50: "cp874", 0x57: "cp1252", 0x58: "cp1252", 0x59: "cp1252", 0x64: "cp852", 0x65: "cp866",
    0x66: "cp865", 0x67: "cp861", 0x6A: "cp737", 0x6B: "cp857", 0x78: "cp950", 0x79: "cp949",
    0x7A: "cp936", 0x7B: "cp932", 0x7C: "cp874", 0x7D: "cp1255", 0x7E: "cp1256", 0xC8: "cp1250",
    0xC9: "cp1251", 0xCA: "cp1254", 0xCB: "cp1253",
}  # fmt: skip
"""Language byte of a dBase header to code page: the table of the format's documentation (from memory)."""


def codec_of(name: str, where: str = "") -> str:
    """Return Python's name of an encoding.

    Raises
    ------
    LayerError
        If there is no such encoding.

    Examples
    --------
    >>> codec_of("Windows-1252"), codec_of("88591"), codec_of("UTF8")
    ('cp1252', 'iso8859-1', 'utf-8')
    """
    text = name.strip().lower().removeprefix("ansi").strip(" -_")
    if text.startswith("8859") and "-" not in text and "_" not in text:
        text = f"iso-8859-{text[4:]}"
    for guess in (text, f"cp{text}", f"cp{text.removeprefix('windows').strip('-_ ')}"):
        try:
            b"a".decode(guess)  # refuses codecs that are no text encodings
            found = codecs.lookup(guess).name
            if found not in NO_CHARSETS:
                return found
        except (LookupError, ValueError, TypeError):
            continue
    raise LayerError(
        f"encoding {name!r} is not known", where, "Common ones: utf-8, cp1252, latin-1, cp850, utf-16"
    )


def label(codec: str) -> str:
    """Return the name of an encoding as people know it."""
    return NAMES.get(codec, codec.upper())


def decode_bytes(data: bytes, stated: str | None, where: str) -> tuple[str, str, str | None]:
    """Return (text, encoding, what to tell) of a text file.

    A byte order mark decides; then what the study states; then UTF-8 if it fits; then the likeliest of the
    Western single-byte encodings, which is told.
    """
    for mark, codec in (
        (codecs.BOM_UTF8, "utf-8-sig"),
        (codecs.BOM_UTF32_LE, "utf-32"),
        (codecs.BOM_UTF32_BE, "utf-32"),
        (codecs.BOM_UTF16_LE, "utf-16"),
        (codecs.BOM_UTF16_BE, "utf-16"),
    ):
        if data.startswith(mark):
            return data.decode(codec, errors="replace"), codec.removesuffix("-sig"), None
    if stated is not None:
        return _decode_stated(data, codec_of(stated, where), where), codec_of(stated, where), None
    wide = _wide_codec(data)
    if wide:
        return (
            data.decode(wide, errors="replace"),
            wide,
            f"The text is in {wide.upper()}, without a mark that says so",
        )
    try:
        return data.decode("utf-8"), "utf-8", None
    except UnicodeDecodeError:
        codec = likeliest([data])
        told = (
            f"Its encoding is not stated and it is not UTF-8: read as {label(codec)}. If letters look "
            "wrong, state encoding under the layer"
        )
        return _lenient(data, codec), codec, told


def _decode_stated(data: bytes, codec: str, where: str) -> str:
    try:
        return data.decode(codec)
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        raise LayerError(
            f"the text does not decode as {label(codec)}, first in line {line}",
            where,
            "State another encoding, or leave it out to have it found",
        ) from None


def _wide_codec(data: bytes) -> str | None:
    head = data[:2000]
    if len(head) < 4 or head.count(0) < len(head) // 4:
        return None
    even, odd = head[0::2].count(0), head[1::2].count(0)
    if max(even, odd) < 2 * min(even, odd):
        return None
    return "utf-16-le" if odd > even else "utf-16-be"


def _lenient(data: bytes, codec: str) -> str:
    """Decode; the five bytes that Windows-1252 leaves open become their Latin-1 twins."""
    try:
        return data.decode(codec)
    except UnicodeDecodeError:
        return "".join(
            chr(b) if b in (0x81, 0x8D, 0x8F, 0x90, 0x9D) else bytes([b]).decode(codec, "replace")
            for b in data
        )


def likeliest(samples: Iterable[bytes]) -> str:
    """Return the Western encoding in which samples read most like words; Windows-1252 on a tie."""
    texts = list(samples)[:2000]
    score = {codec: sum(_wordlike(_lenient(t[:20_000], codec)) for t in texts) for codec in WESTERN}
    return max(WESTERN, key=lambda codec: (score[codec], codec == "cp1252"))


def _wordlike(text: str) -> int:
    """Count accented letters that sit in a word as letters do, minus what sits there badly."""
    total = 0
    for i, letter in enumerate(text):
        if letter < "\x80":
            continue
        before = text[i - 1] if i else " "
        if letter in IN_WORDS:
            total += 1
        elif unicodedata.category(letter) in {"Ll", "Lu"}:
            total += -1 if letter.isupper() and before.islower() else 2
        else:
            total -= 2
    return total


def looks_garbled(text: str) -> bool:
    """Return whether UTF-8 text was once read as Windows-1252 and saved so ("CafÃ©").

    Examples
    --------
    >>> looks_garbled("Caf\u00c3\u00a9"), looks_garbled("Caf\u00e9")
    (True, False)
    """
    if not any(sign in text for sign in "ÃÂâÅÄ"):
        return False
    try:
        return text.encode("cp1252").decode("utf-8") != text
    except UnicodeError:
        return False
