"""Street addresses as people write them, brought to one form; and the nearest ones where none is equal."""

from __future__ import annotations

import difflib
import re
import unicodedata
from collections import defaultdict

STREET_WORDS = {
    "alley": "aly", "avenue": "ave", "av": "ave", "boulevard": "blvd", "circle": "cir", "close": "cl", "court": "ct",
    "cove": "cv", "crescent": "cres", "crossing": "xing", "drive": "dr", "drv": "dr", "extension": "ext", "freeway": "fwy",
    "garden": "gdn", "gardens": "gdns", "green": "grn", "grove": "grv", "heights": "hts", "highway": "hwy", "hill": "hl",
    "hollow": "holw", "junction": "jct", "lane": "ln", "la": "ln", "landing": "lndg", "loop": "loop", "meadow": "mdw",
    "meadows": "mdws", "mount": "mt", "mountain": "mtn", "park": "park", "parkway": "pkwy", "place": "pl", "plaza": "plz",
    "point": "pt", "ridge": "rdg", "road": "rd", "route": "rte", "saint": "st", "square": "sq", "street": "st", "str": "st",
    "terrace": "ter", "terr": "ter", "trail": "trl", "turnpike": "tpke", "valley": "vly", "view": "vw", "village": "vlg",
    "north": "n", "south": "s", "east": "e", "west": "w", "northeast": "ne", "northwest": "nw", "southeast": "se",
    "southwest": "sw", "first": "1st", "second": "2nd", "third": "3rd", "fourth": "4th", "fifth": "5th", "sixth": "6th",
    "seventh": "7th", "eighth": "8th", "ninth": "9th", "tenth": "10th",
}  # fmt: skip
"""Street suffixes and directions to their postal abbreviations: USPS Publication 28, appendix C (from memory)."""

UNIT = re.compile(
    r"\b(?:apt|apartment|unit|suite|ste|fl|floor|rm|room|lot|bldg|no|#)\s*\.?\s*#?\s*[\w-]+$|#\s*\w+$"
)


def address_key(text: str) -> str:
    """Return the street line of an address in one form: lower case, abbreviated, without unit, town or code.

    Examples
    --------
    >>> address_key("12 Kiln Street, Quillwater 43000"), address_key("12  KILN ST. Apt 2")
    ('12 kiln st', '12 kiln st')
    """
    line = unicodedata.normalize("NFKD", text.split("\n", maxsplit=1)[0].split(",", maxsplit=1)[0]).casefold()
    line = "".join(c for c in line if not unicodedata.combining(c)).replace("'", "").replace("’", "")
    line = UNIT.sub("", re.sub(r"[.;:]", " ", line).strip()).strip()
    words = re.findall(r"[a-z0-9]+", line)
    return " ".join(STREET_WORDS.get(w, w) for w in words)


class AddressBook:
    """Addresses of yards, to look up by any writing of them.

    Parameters
    ----------
    addresses
        Yard id to address text.
    """

    def __init__(self, addresses: dict[str, str]) -> None:
        self.by_key: dict[str, list[str]] = defaultdict(list)
        self.by_word: dict[str, list[str]] = defaultdict(list)
        self.shown = addresses
        for yard, text in addresses.items():
            self.by_key[address_key(text)].append(yard)
        for key in self.by_key:
            for word in set(key.split()):
                self.by_word[word].append(key)

    def same(self, text: str) -> list[str]:
        """Return the ids of the yards with this address."""
        return sorted(self.by_key.get(address_key(text), []))

    def nearest(self, text: str, count: int = 3) -> list[tuple[str, str, float]]:
        """Return (yard id, its address, likeness 0-1) of the addresses most like a text, likest first."""
        key = address_key(text)
        pool: set[str] = set()
        for word in sorted(key.split(), key=lambda w: len(self.by_word.get(w, ()))):
            pool.update(self.by_word.get(word, ())[:2000])
            if len(pool) > 2000:
                break
        if not pool:
            pool = set(list(self.by_key)[:5000])
        ranked = sorted(
            ((difflib.SequenceMatcher(None, key, k).ratio(), k) for k in pool), key=lambda p: (-p[0], p[1])
        )
        return [
            (y, self.shown[y], round(score, 2))
            for score, k in ranked[:count]
            if score >= 0.6
            for y in self.by_key[k][:1]
        ]
