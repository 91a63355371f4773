"""What a factor is, how a plant's wish for it is read from a row of the plant table, and the registry."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any, Literal

from habitat.errors import ParameterError

Row = Mapping[str, Any]
Ends = tuple[float, float, float, float]
"""Nothing at or below [0], full from [1] to [2], nothing at or above [3];
infinite if unlimited, NaN if unstated."""

NOWHERE: Ends = (math.nan,) * 4


@dataclass(frozen=True, slots=True)
class Wants:
    """How the plant table states a need.

    ``columns`` are its columns there, from the least to the most where they are numbers; ``read`` makes the
    four ends of a trapezium of a row's numbers. ``low`` and ``high`` bound what the columns may state;
    ``required`` columns may not be blank; ``groups`` names groups of classes (first and last number of
    each), where the need is stated by these.
    """

    columns: tuple[str, ...]
    read: Callable[[Row], Ends]
    low: float
    high: float
    required: bool = False
    groups: Mapping[str, tuple[int, int]] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Factor:
    """One thing that a place offers and plants need, with all that any stage says or checks of it.

    name : of the raster, of columns and keys; ends in the unit where it has one.
    words, title : in the middle of a sentence, and in headings, legends and lists.
    unit, unit_words : the symbol, "" for classes, and how a value's unit is said.
    possible : what it can be anywhere, in its unit. Outside of it a reading is no reading; where a place is
        unknown, the fit of a plant is worked out for the worst and the best value in it.
    source : where ``possible`` is from.
    usual : what gardens have, where that is less; how tolerant a plant is, is measured against it: judgement.
    wants : the plant table's columns and how they are read.
    group : "sun" or "ground": tables have the sun first.
    classes : names of ordered classes; the first has number 1.
    read_class : makes the number of a class's name, NaN of what is none.
    in_steps : whether the outermost value that a table names is the last tolerated, as with classes, and the
        value of a yard is its most frequent one, not its mean.
    given : whether a study may give it, as a raster or a column of soil polygons and tests of this name;
        otherwise it is worked out from other data.
    test_column : kind of its column in soil tests ("number", "text", "length"), "" if tests have none.
    aliases : other headings of that column.
    at_a_tie : which class counts where the tests of a yard name several equally often.
    mistaken_for : which classes a mapped one may truly be: its neighbours or any other.
    shown, range_shown : how a value and a range are written; ``{value}``, ``{range}`` and ``{unit}``.
    too_little, too_much : what would have to change, ``{gap}`` being by how much: common practice.
    low_words, high_words : what a place with too little or too much of it is, in the middle of a sentence.
    low_help, high_help : what a household can do about a little of that: common practice.
    most_gap, beyond : the gap above which ``beyond`` is added to that.
    measure : how a household measures it, in ``{bed}``; ``measure_rank`` orders the ways, least effort first.
    """

    name: str
    words: str
    possible: tuple[float, float]
    source: str
    wants: Wants
    usual: tuple[float, float] | None = None
    title: str = ""
    unit: str = ""
    unit_words: str = ""
    group: Literal["sun", "ground"] = "ground"
    classes: tuple[str, ...] = ()
    read_class: Callable[[object], float] | None = None
    in_steps: bool = False
    given: bool = True
    test_column: str = ""
    aliases: tuple[str, ...] = ()
    at_a_tie: Literal["lower", "higher"] = "lower"
    mistaken_for: Literal["neighbours", "any"] = "neighbours"
    shown: str = "{value:.3g} {unit}"
    range_shown: str = "{range} {unit}"
    too_little: str = ""
    too_much: str = ""
    low_words: str = ""
    high_words: str = ""
    low_help: str = ""
    high_help: str = ""
    most_gap: float = math.inf
    beyond: str = ""
    measure: str = ""
    measure_rank: int = 100

    def __post_init__(self) -> None:
        low, high = self.possible
        if not (math.isfinite(low) and math.isfinite(high) and low < high):
            raise ParameterError(f"possible of {self.name}", self.possible, "two finite numbers, rising")
        if self.classes and self.possible != (1.0, float(len(self.classes))):
            raise ParameterError(f"possible of {self.name}", self.possible, "1 to the number of classes")

    @property
    def usual_range(self) -> tuple[float, float]:
        """What gardens have of it."""
        return self.usual or self.possible

    @property
    def heading(self) -> str:
        """The title, or the words where there is none."""
        return self.title or self.words

    @property
    def said_unit(self) -> str:
        """The unit as it is said after a value."""
        return self.unit_words or self.unit

    @property
    def statistic(self) -> str:
        """The name of what a yard's value is: "mean", or "mode" (the most frequent) for steps."""
        return "mode" if self.in_steps else "mean"

    def class_name(self, value: float) -> str:
        """Return the class of a number, the nearest one, halves up; "" if unknown or not in classes."""
        if not self.classes or not math.isfinite(value):
            return ""
        return self.classes[min(len(self.classes), max(1, math.floor(value + 0.5))) - 1]

    def value_words(self, value: float) -> str:
        """Return a value in words: a class by its name, a number with its unit."""
        return self.class_name(value) or self.shown.format(value=value, unit=self.said_unit)

    def change_words(self, gap: float) -> str:
        """Return what would have to change where the value is ``gap`` above what is best, below it if < 0."""
        words = self.too_little if gap < 0 else self.too_much
        size = abs(gap)
        return words.format(gap=size) + (self.beyond if words and size > self.most_gap else "")


class Factors(Mapping[str, Factor]):
    """Factors by name, in the fixed order that breaks ties of the limiting need.

    Examples
    --------
    >>> from habitat.factors import FACTORS
    >>> FACTORS["ph"].possible, FACTORS.names[0], FACTORS["texture"].value_words(4)
    ((2.0, 11.0), 'sun_h', 'loam')
    """

    def __init__(self, factors: tuple[Factor, ...]) -> None:
        self._all: dict[str, Factor] = {}
        for factor in factors:
            self.add(factor)

    def __getitem__(self, name: str) -> Factor:
        return self._all[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self._all)

    def __len__(self) -> int:
        return len(self._all)

    @property
    def names(self) -> tuple[str, ...]:
        """Names in order; the code of a limiting need is a place in it."""
        return tuple(self._all)

    @property
    def in_tables(self) -> tuple[str, ...]:
        """Names in the order of a yard's columns: the sun, then the ground."""
        return tuple(sorted(self._all, key=lambda name: self._all[name].group != "sun"))

    def of_group(self, group: Literal["sun", "ground"]) -> tuple[Factor, ...]:
        """Return the factors of a group, in order."""
        return tuple(f for f in self._all.values() if f.group == group)

    def add(self, factor: Factor) -> None:
        """Add a factor at the end.

        Raises
        ------
        ParameterError
            If there is one of this name, or one that has the same column in the plant table.
        """
        taken = {c for f in self._all.values() for c in f.wants.columns} & set(factor.wants.columns)
        if factor.name in self._all or taken:
            raise ParameterError("factor", factor.name, "a name and columns that no other factor has")
        self._all[factor.name] = factor

    @contextmanager
    def adding(self, factor: Factor) -> Iterator[Factor]:
        """Have one factor more for a while, in this process: for trials and tests."""
        self.add(factor)
        try:
            yield factor
        finally:
            del self._all[factor.name]


def number(row: Row, column: str) -> float:
    """Return a cell of the plant table as a number, NaN if it is blank or there is no such column."""
    value = row.get(column)
    return math.nan if value is None or value == "" else float(value)


def between(
    columns: tuple[str, str, str, str],
    low: float,
    high: float,
    *,
    step: float = 0.0,
    open_low: bool = False,
    open_high: bool = False,
    required: bool = False,
) -> Wants:
    """Return a wish stated by four numbers: least, best from, best to, most.

    Parameters
    ----------
    columns
        The four columns.
    low, high
        What the columns may state.
    step
        For ordered classes 1: the outermost class named is tolerated, so nothing is left one step beyond.
    open_low, open_high
        Whether best from ``low``, or a most of ``high``, is no limit on that side.
    """

    def read(row: Row) -> Ends:
        least, first, last, most = (number(row, column) for column in columns)
        below = (-math.inf, -math.inf) if open_low and first <= low else (least - step, first)
        above = (math.inf, math.inf) if open_high and most >= high else (last, most + step)
        return (*below, *above)

    return Wants(columns, read, low, high, required)


def steps(columns: tuple[str, str], low: float, high: float) -> Wants:
    """Return a wish stated by the first and last step that a plant lives with, each as good as the rest."""

    def read(row: Row) -> Ends:
        first, last = number(row, columns[0]), number(row, columns[1])
        return (first - 1.0, first, last, last + 1.0)

    return Wants(columns, read, low, high)


def at_least(columns: tuple[str, str], low: float, high: float) -> Wants:
    """Return a wish stated by the value below which nothing lives and that from which all is well."""

    def read(row: Row) -> Ends:
        return (number(row, columns[0]), number(row, columns[1]), math.inf, math.inf)

    return Wants(columns, read, low, high)


def at_most(columns: tuple[str, str], low: float, high: float) -> Wants:
    """Return a wish stated by the value up to which all is well and that above which nothing lives.

    Examples
    --------
    >>> at_most(("wind_full_m_s", "wind_max_m_s"), 0, 60).read({"wind_full_m_s": 4, "wind_max_m_s": 8})
    (-inf, -inf, 4.0, 8.0)
    """

    def read(row: Row) -> Ends:
        return (-math.inf, -math.inf, number(row, columns[0]), number(row, columns[1]))

    return Wants(columns, read, low, high)


def from_share(column: str, share: float, low: float, high: float) -> Wants:
    """Return a wish stated by the least value for good growth; at a share of it nothing is left."""

    def read(row: Row) -> Ends:
        need = number(row, column)
        return (share * need, need, math.inf, math.inf)

    return Wants((column,), read, low, high, required=True)


def groups(column: str, named: Mapping[str, tuple[int, int]]) -> Wants:
    """Return a wish stated by neighbouring groups of classes, in or out, with semicolons between."""

    def read(row: Row) -> Ends:
        said = [named[g.strip()] for g in str(row.get(column) or "").split(";") if g.strip()]
        if not said:
            return NOWHERE
        first, last = float(min(g[0] for g in said)), float(max(g[1] for g in said))
        return (first - 1.0, first, last, last + 1.0)

    ends = [end for group in named.values() for end in group]
    return Wants((column,), read, min(ends), max(ends), required=True, groups=named)
