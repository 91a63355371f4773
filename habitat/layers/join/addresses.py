"""Street addresses as people write them, brought to one form; and the nearest ones where none is equal."""

from __future__ import annotations

import difflib
import re
import unicodedata
from collections import Counter, defaultdict
from functools import cached_property

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

DIRECTIONS = frozenset({"n", "s", "e", "w", "ne", "nw", "se", "sw"})
KINDS = (
    frozenset(STREET_WORDS.values())
    - DIRECTIONS
    - frozenset(k for k in STREET_WORDS.values() if k[0].isdigit())
)
"""Words of a street that say what kind it is."""

COMMON, POOL, LIKE, BEGINS = 5_000, 300, 0.6, 0.95
"""Words in more addresses than this say nothing; so many are compared; less alike than this is no hint; so
alike is an address that begins with the other."""

UNIT = re.compile(
    r"\b(?:(?:apt|apartment|unit|suite|ste|floor|fl|room|rm|lot|bldg|building|no)\b\.?\s*#?\s*(?P<name>\d[\w-]*|[a-z]\d*)"
    r"|(?:apt|unit|ste|rm)(?P<joined>\d[\w-]*))$|#\s*(?P<sign>\w+)$"
)
"""A unit at the end of a street line, its word and a number or a single letter: "apt 2", "unit b", "#3".

The word stands alone: "north" and "flint" only begin like "no" and "fl"."""

JOINED_STREET = re.compile(r"(?<=[a-z]{3})str(?:asse)?\b\.?")
"""A street word at the end of the name itself, as German writes it."""


def address_key(text: str) -> str:
    """Return the street line of an address in one form: lower case, abbreviated, without unit, town or code.

    Examples
    --------
    >>> address_key("12 Kiln Street, Quillwater 43000"), address_key("12  KILN ST. Apt 2")
    ('12 kiln st', '12 kiln st')
    >>> address_key("No. 12 Kiln St"), address_key("#12 kiln st")
    ('12 kiln st', '12 kiln st')
    """
    return _parts(text)[0]


def unit_key(text: str) -> str:
    """Return the unit that an address names, lower case, "" if none.

    Examples
    --------
    >>> unit_key("12 Kiln St Apt. 2B"), unit_key("12 Kiln St #3, Quillwater"), unit_key("12 Kiln St North")
    ('2b', '3', '')
    """
    return _parts(text)[1]


def _parts(text: str) -> tuple[str, str]:
    """Return the street line in one form, and the unit."""
    first, _, rest = text.split("\n", maxsplit=1)[0].partition(",")
    line = _plain(first)
    line = re.sub(r"^\W*(?:no|nr|number)?\.?\s*#?\s*(?=\d)", "", line)
    line = re.sub(r"[.;:]", " ", line).strip()
    unit = UNIT.search(line)
    behind = UNIT.match(re.sub(r"[.;:]", " ", _plain(rest.partition(",")[0])).strip()) if rest else None
    line = (line[: unit.start()] if unit else line).strip()
    words = re.findall(r"[a-z0-9]+", JOINED_STREET.sub("str", line))
    found = unit or behind
    name = next((g for g in found.groups() if g), "") if found else ""
    return " ".join(STREET_WORDS.get(w, w) for w in words), name


def _plain(text: str) -> str:
    folded = unicodedata.normalize("NFKD", text).casefold()
    return "".join(c for c in folded if not unicodedata.combining(c)).replace("'", "").replace("’", "")


def _street(key: str) -> tuple[str, tuple[str, ...], frozenset[str], frozenset[str]]:
    """Return house number, name of the street, its kind and its direction, of an address in one form.

    Examples
    --------
    >>> _street("12 n kiln st")
    ('12', ('kiln',), frozenset({'st'}), frozenset({'n'}))
    """
    number, *words = key.split() or [""]
    if not number[:1].isdigit():
        return "", (), frozenset(), frozenset()
    kinds, ways = set[str](), set[str]()
    while len(words) > 1 and words[-1] in KINDS | DIRECTIONS:
        word = words.pop()
        (kinds if word in KINDS else ways).add(word)
        if word in KINDS:
            break
    if len(words) > 1 and words[0] in DIRECTIONS:
        ways.add(words.pop(0))
    return number, tuple(words), frozenset(kinds), frozenset(ways)


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
        """Return the ids of the yards with this address; of one unit only if both name that unit."""
        yards = sorted(self.by_key.get(address_key(text), []))
        unit = unit_key(text)
        if not unit:
            return yards
        own = [yard for yard in yards if unit_key(self.shown[yard]) == unit]
        return own or [yard for yard in yards if not unit_key(self.shown[yard])]

    def fitting(self, text: str) -> list[str]:
        """Return the ids of the yards with this house number on a street of this name.

        Its kind (street, lane) may be left out on one side, and the text may leave out its direction; neither
        may differ, nor may a unit. Names must be equal: a likeness is none.
        """
        number, name, kinds, ways = _street(address_key(text))
        unit, out = unit_key(text), []
        for yard in self.by_number.get(number, []) if name else []:
            _, other, of, to = _street(address_key(self.shown[yard]))
            alike = (kinds <= of or of <= kinds) and ways <= to
            if other == name and alike and unit_key(self.shown[yard]) in ("", unit):
                out.append(yard)
        return sorted(out)

    @cached_property
    def by_number(self) -> dict[str, list[str]]:
        """Ids of yards by house number."""
        out: dict[str, list[str]] = defaultdict(list)
        for yard, text in self.shown.items():
            out[_street(address_key(text))[0]].append(yard)
        return out

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
        return [
            (yard, self.shown[yard], score) for k, score in found for yard in sorted(self.by_key[k])[:count]
        ][:count]


def likest(text: str, pool: list[str], count: int = 3) -> list[tuple[str, float]]:
    """Return the texts of a pool most like one text, with their likeness (0.6 to 1), likest first.

    A text that goes on behind all words of the other (a town without a comma) counts by its beginning, a
    little less.
    """
    matcher = difflib.SequenceMatcher(autojunk=False)
    matcher.set_seq2(text)
    out = []
    for other in pool:
        if text.startswith(other + " "):
            out.append((other, BEGINS))
            continue
        matcher.set_seq1(other)
        if matcher.quick_ratio() >= LIKE and matcher.ratio() >= LIKE:
            out.append((other, round(matcher.ratio(), 2)))
    return sorted(out, key=lambda pair: (-pair[1], pair[0]))[:count]
