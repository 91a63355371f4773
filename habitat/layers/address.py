"""Street addresses as people write them, brought to one form; and the nearest ones where none is equal."""

from __future__ import annotations

import difflib
import re
import unicodedata
from collections import Counter, defaultdict

STREET_WORDS = {
    "alley": "aly", "avenue": "ave", "av": "ave", "boulevard": "blvd", "circle": "cir", "close": "cl",
    "court": "ct",
    "cove": "cv", "crescent": "cres", "crossing": "xing", "drive": "dr", "drv": "dr", "extension": "ext",
    "freeway": "fwy",
    "garden": "gdn", "gardens": "gdns", "green": "grn", "grove": "grv", "heights": "hts", "highway": "hwy",
    "hill": "hl",
    "hollow": "holw", "junction": "jct", "lane": "ln", "la": "ln", "landing": "lndg", "loop": "loop",
    "meadow": "mdw",
    "meadows": "mdws", "mount": "mt", "mountain": "mtn", "park": "park", "parkway": "pkwy", "place": "pl",
    "plaza": "plz",
    "point": "pt", "ridge": "rdg", "road": "rd", "route": "rte", "saint": "st", "square": "sq",
    "street": "st", "str": "st",
    "terrace": "ter", "terr": "ter", "trail": "trl", "turnpike": "tpke", "valley": "vly", "view": "vw",
    "village": "vlg",
    "north": "n", "south": "s", "east": "e", "west": "w", "northeast": "ne", "northwest": "nw",
    "southeast": "se",
    "southwest": "sw", "first": "1st", "second": "2nd", "third": "3rd", "fourth": "4th", "fifth": "5th",
    "sixth": "6th",
    "seventh": "7th", "eighth": "8th", "ninth": "9th", "tenth": "10th",
}  # fmt: skip
"""Street suffixes and directions to postal abbreviations: USPS Publication 28, appendix C (from memory)."""

COMMON, POOL, LIKE = 5_000, 300, 0.6
"""Words in more addresses than this say nothing; so many are compared; less alike than this is no hint."""

UNIT = re.compile(
    r"\b(?:apt|apartment|unit|suite|ste|fl|floor|rm|room|lot|bldg|no|#)\s*\.?\s*#?\s*[\w-]+$|#\s*\w+$"
)


def address_key(text: str) -> str:
    """Return the street line of an address in one form: lower case, abbreviated, without unit, town or code.

    Examples
    --------
    >>> address_key("12 Kiln Street, Quillwater 43000"), address_key("12  KILN ST. Apt 2")
    ('12 kiln st', '12 kiln st')
    >>> address_key("No. 12 Kiln St"), address_key("#12 kiln st")
    ('12 kiln st', '12 kiln st')
    """
    line = unicodedata.normalize("NFKD", text.split("\n", maxsplit=1)[0].split(",", maxsplit=1)[0]).casefold()
    line = "".join(c for c in line if not unicodedata.combining(c)).replace("'", "").replace("’", "")
    line = re.sub(r"^\W*(?:no|nr|number)?\.?\s*#?\s*(?=\d)", "", line)
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
        shared: Counter[str] = Counter()
        for word in key.split():
            keys = self.by_word.get(word, [])
            if len(keys) <= COMMON:
                for other in keys:
                    shared[other] += 1
        pool = sorted(shared, key=lambda k: (-shared[k], k))[:POOL] or list(self.by_key)[:POOL]
        found = likest(key, pool, count)
        return [(self.by_key[k][0], self.shown[self.by_key[k][0]], score) for k, score in found]


def likest(text: str, pool: list[str], count: int = 3) -> list[tuple[str, float]]:
    """Return the texts of a pool most like one text, with their likeness (0.6 to 1), likest first."""
    matcher = difflib.SequenceMatcher(autojunk=False)
    matcher.set_seq2(text)
    out = []
    for other in pool:
        matcher.set_seq1(other)
        if matcher.quick_ratio() >= LIKE and matcher.ratio() >= LIKE:
            out.append((other, round(matcher.ratio(), 2)))
    return sorted(out, key=lambda pair: (-pair[1], pair[0]))[:count]
