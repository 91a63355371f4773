"""Text from data made safe to set anywhere, names of files, and lists in a sentence."""

from __future__ import annotations

import hashlib
import math
import re
import unicodedata
from collections.abc import Collection, Iterable

_RESERVED = {"con", "prn", "aux", "nul", *(f"com{i}" for i in range(10)), *(f"lpt{i}" for i in range(10))}
_BIDI = re.compile("[\u061c\u200b-\u200f\u202a-\u202e\u2060-\u206f\ufeff]")
_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20")


def plain(value: object, longest: int = 80) -> str:
    r"""Return text from data as one line that is safe to set anywhere.

    Control characters, marks that turn the writing direction and lone surrogates go; runs of white space
    become one blank; what is longer than ``longest`` characters ends in an ellipsis. Missing values are "".

    Examples
    --------
    >>> plain("Two\n lines\x00"), plain(None), plain("a" * 9, 5)
    ('Two lines', '', 'aaaa…')
    """
    if value is None or (isinstance(value, float) and math.isnan(value)):
        return ""
    text = str(value)
    if not text.isprintable():  # nearly all text is: no control characters, marks or surrogates
        text = _BIDI.sub("", text)
        kept = (
            " " if unicodedata.category(c) == "Cc" else c for c in text if unicodedata.category(c) != "Cs"
        )
        text = "".join(kept)
    text = " ".join(text.split())
    return text if len(text) <= longest else text[: longest - 1].rstrip() + "…"


def csv_cell(value: object) -> object:
    """Return a value for a CSV cell that no spreadsheet takes for a formula; numbers stay numbers.

    Text that starts like a formula gets an apostrophe in front (common practice against formula injection).

    Examples
    --------
    >>> csv_cell("=1+1"), csv_cell("plain"), csv_cell(-2.5)
    ("'=1+1", 'plain', -2.5)
    """
    if value is None or (isinstance(value, float) and math.isnan(value)):
        return ""
    if isinstance(value, (int, float)):
        return value
    text = plain(value, 1000)
    return "'" + text if text.startswith(_FORMULA) else text


def file_names(ids: Iterable[str], prefix: str = "", suffix: str = "") -> dict[str, str]:
    """Return a file name for each id: safe on any disk, no two alike even where case does not count.

    An id of plain letters, digits, ``_`` and ``-`` (at most 40) is kept; of any other, what is left of
    it and eight digits of its hash are taken, so that a name does not depend on the other ids.

    Examples
    --------
    >>> file_names(["0007", "../../x"], "yard-", ".pdf")
    {'0007': 'yard-0007.pdf', '../../x': 'yard-x-9cdf6a50.pdf'}
    """
    out: dict[str, str] = {}
    taken: set[str] = set()
    for given in dict.fromkeys(ids):
        name = _stem(given)
        if name.lower() in taken:
            name = f"{name}-{_digest(given)}"
        taken.add(name.lower())
        out[given] = f"{prefix}{name}{suffix}"
    return out


def _stem(given: str) -> str:
    if re.fullmatch(r"[A-Za-z0-9_-]{1,40}", given) and given.lower() not in _RESERVED:
        return given
    ascii_text = unicodedata.normalize("NFKD", given).encode("ascii", "ignore").decode()
    left = re.sub(r"[^A-Za-z0-9]+", "-", ascii_text).strip("-")[:24].strip("-")
    return f"{left}-{_digest(given)}" if left else _digest(given)


def _digest(text: str) -> str:
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()[:8]


def in_address(text: str) -> str:
    """Return text as it may stand in the part of an address after ``#`` (RFC 3986, section 2.1).

    Examples
    --------
    >>> in_address("0007"), in_address("7 é")
    ('0007', '7%20%C3%A9')
    """
    return re.sub(
        r"[^A-Za-z0-9_.~-]",
        lambda found: "".join(f"%{b:02X}" for b in found[0].encode("utf-8", "surrogatepass")),
        text,
    )


def listed(words: Collection[str], last: str = "and") -> str:
    """Return words as a list in a sentence.

    Examples
    --------
    >>> listed(["oak"]), listed(["oak", "elm"]), listed(["oak", "elm", "plum"])
    ('oak', 'oak and elm', 'oak, elm and plum')
    """
    parts = list(words)
    if len(parts) < 2:
        return "".join(parts)
    return f"{', '.join(parts[:-1])} {last} {parts[-1]}"


def counted(number: int, one: str, many: str | None = None) -> str:
    """Return a number with its noun.

    Examples
    --------
    >>> counted(1, "yard"), counted(1200, "plant"), counted(2, "stem or branch", "stems or branches")
    ('1 yard', '1,200 plants', '2 stems or branches')
    """
    return f"{number:,} {one if number == 1 else many or one + 's'}"
