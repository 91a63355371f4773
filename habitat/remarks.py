"""What stages have to tell: facts, not sentences. ``habitat.report.words.en`` puts them into words."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from habitat.terms import WISH_FLAGS

HOUSEHOLD = frozenset(
    {
        "address",
        "budget",
        "children",
        "deer",
        "max_height_m",
        "pets",
        "poisonous",
        "septic",
        "soil_test",
        "sprayed",
    }
    | {"bed_m2", "disliked_colours", "hours_a_month", "look", *WISH_FLAGS}
)
"""What a household says of itself; what is told of it is for the group only."""


@dataclass(frozen=True, slots=True)
class Note:
    """One thing worth telling: ``row`` is None for the layer as a whole; greater ``harm`` (0-3) first."""

    row: int | None
    what: str
    harm: int = 1


@dataclass(frozen=True, slots=True)
class Subject:
    """What a remark speaks of, so that it can be filtered and renamed without reading a sentence.

    Yards and anchors are named here and nowhere in the facts: for a public audience they get new names.

    Parameters
    ----------
    yards
        Yard ids, in the order in which the words name them.
    anchors
        Names of anchors, likewise.
    butterflies, plants
        Scientific names.
    layers
        Names of layers and rasters of the study.
    rows
        Rows of the one layer, from 0.
    household
        What a household said of itself, of ``HOUSEHOLD``: such a remark is for the group only.

    Raises
    ------
    ValueError
        If ``household`` names something that is not in ``HOUSEHOLD``.
    """

    yards: tuple[str, ...] = ()
    anchors: tuple[str, ...] = ()
    butterflies: tuple[str, ...] = ()
    plants: tuple[str, ...] = ()
    layers: tuple[str, ...] = ()
    rows: tuple[int, ...] = ()
    household: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        strange = sorted(set(self.household) - HOUSEHOLD)
        if strange:
            raise ValueError(f"nothing that a household says of itself: {', '.join(strange)}")


@dataclass(frozen=True, slots=True)
class Remark:
    """One thing that a stage found, as plain data; equal facts make equal remarks.

    Parameters
    ----------
    kind
        Which words it takes: the name of a function in ``habitat.report.words.en``.
    subject
        What it speaks of.
    facts
        Pairs of name and value, by name; numbers with their unit in the name (``height_m``), shares 0-1. A
        value may be another remark, or a tuple of values.

    Raises
    ------
    TypeError
        If a value is not plain: an array's number is turned into a Python number first.

    Examples
    --------
    >>> found = remark("raster_out_of_range", Subject(layers=("ph",)), share=0.5, low=2.0, high=12.0)
    >>> found["share"], found == remark("raster_out_of_range", found.subject, low=2.0, high=12.0, share=0.5)
    (0.5, True)
    """

    kind: str
    subject: Subject = Subject()
    facts: tuple[tuple[str, Fact], ...] = ()

    def __post_init__(self) -> None:
        for name, value in self.facts:
            if not _plain(value):
                raise TypeError(f"{self.kind}: {name} is {type(value).__name__}, not plain data")

    def __getitem__(self, name: str) -> Fact:
        """Return a fact by name."""
        return dict(self.facts)[name]

    def within(self) -> Iterator[Remark]:
        """Return this remark and all that stand among its facts."""
        yield self
        for _, value in self.facts:
            yield from _remarks_in(value)


Fact = bool | int | float | str | None | Remark | tuple["Fact", ...]
"""What may stand in a remark."""

Told = Remark | tuple[Remark, ...] | str
"""What a stage tells of one thing: remarks, or a sentence where it hands on sentences still."""


def remark(kind: str, subject: Subject | None = None, /, **facts: Fact) -> Remark:
    """Return a remark; its facts are named in the call.

    Parameters
    ----------
    kind
        The name of a function in ``habitat.report.words.en``; a literal, so that a test can hold the two
        together.
    subject
        What it speaks of; None for the study as a whole.
    facts
        As ``Remark`` says.
    """
    return Remark(kind, subject or Subject(), tuple(sorted(facts.items())))


def _plain(value: object) -> bool:
    if isinstance(value, tuple):
        return all(map(_plain, value))
    return value is None or type(value) in (bool, int, float, str, Remark)


def _remarks_in(value: Fact) -> Iterator[Remark]:
    if isinstance(value, Remark):
        yield from value.within()
    elif isinstance(value, tuple):
        for part in value:
            yield from _remarks_in(part)
