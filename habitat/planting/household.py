"""What one household wants and can care for, as plain values."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Literal, cast, get_args

import pandas as pd

from habitat.errors import ParameterError
from habitat.settings.planting import PlantingSettings

Look = Literal["tidy", "between", "meadow"]

BORDER_CARE_H = (0.1, 0.25)
"""Hours a square metre of herbaceous border takes in each of its first two years, least and most: memory."""

CARE_MONTHS = 7
"""Months of a year in which a garden takes work: judgement."""

EASY_SHARE = 0.5
"""Who wants little work gets this share of the bed that the hours would bear: judgement."""

LAWN_SHARE_KEPT = 0.9
"""Who wants to keep the lawn keeps at least this share of the open ground: judgement."""

LOW_M = 0.9
"""Who wants low plants only gets none taller: judgement; three feet, below most windows."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Household:
    """What a household wants of its yard and can care for; the defaults are of one that said nothing.

    trees, vines, shrubs : whether new ones are wanted. keep_lawn : little of the lawn becomes bed. low_only :
    nothing tall. look : tidy, meadow or between. disliked_colours : of flowers, in lower case. easy_care :
    little work is wanted. hours_a_month : for the beds, in the months of growth. bed_m2 : most ground of beds
    [m2]. play : whether a round of lawn is kept whole to play on.
    """

    trees: bool = True
    vines: bool = True
    shrubs: bool = True
    keep_lawn: bool = False
    low_only: bool = False
    look: Look = "between"
    disliked_colours: frozenset[str] = frozenset()
    easy_care: bool = False
    hours_a_month: float = math.inf
    bed_m2: float = math.inf
    play: bool = False

    def __post_init__(self) -> None:
        if self.look not in get_args(Look):
            raise ParameterError("look", self.look, "tidy, between or meadow")
        for name in ("hours_a_month", "bed_m2"):
            if not getattr(self, name) >= 0:
                raise ParameterError(name, getattr(self, name), "0 or more")

    def unwanted(self, growth: str, *, vine: bool) -> str:
        """Return the wish that keeps a growth form out, "" where it may come in.

        Examples
        --------
        >>> home = Household(trees=False, vines=False)
        >>> home.unwanted("tree", vine=False), home.unwanted("herb", vine=False)
        ('no_trees', '')
        >>> home.unwanted("shrub", vine=True), home.unwanted("shrub", vine=False)
        ('no_vines', '')
        """
        if vine:
            return "" if self.vines else "no_vines"
        return {"tree": "" if self.trees else "no_trees", "shrub": "" if self.shrubs else "no_shrubs"}.get(
            growth, ""
        )

    def dislikes(self, colors: frozenset[str]) -> tuple[str, ...]:
        """Return which colours of a flower the household does not want to see, in order of the alphabet.

        Examples
        --------
        >>> home = Household(disliked_colours=frozenset({"yellow", "red"}))
        >>> home.dislikes(frozenset({"red", "orange"})), home.dislikes(frozenset())
        (('red',), ())
        """
        return tuple(sorted(colors & self.disliked_colours))

    def bed_room_m2(self, open_m2: float, bed_share_max: float) -> float:
        """Return the most ground of beds [m2]: of the open ground, of the hours, and of what was said.

        Parameters
        ----------
        open_m2
            Ground of the yard that is open to herbs [m2].
        bed_share_max
            Share of it that beds may take [0-1].

        Notes
        -----
        Hours of a month x months of growth / hours a square metre takes in a year while it establishes.

        Examples
        --------
        >>> Household(hours_a_month=1.0).bed_room_m2(400.0, 0.25)
        40.0
        >>> Household(bed_m2=12.0).bed_room_m2(400.0, 0.25), Household().bed_room_m2(400.0, 0.25)
        (12.0, 100.0)
        """
        share = min(bed_share_max, 1.0 - LAWN_SHARE_KEPT) if self.keep_lawn else bed_share_max
        each = sum(BORDER_CARE_H) / 2.0
        cared = self.hours_a_month * CARE_MONTHS / each * (EASY_SHARE if self.easy_care else 1.0)
        return round(min(share * open_m2, cared, self.bed_m2), 6)


def read_household(yard: pd.Series, settings: PlantingSettings) -> Household:
    """Return what a yard's row says of its household.

    Parameters
    ----------
    yard
        Row of the yards; flags no_trees, no_vines, no_shrubs, keep_lawn, low_only, easy_care, children; look,
        disliked_colours (names with ";" between), hours_a_month, bed_m2, where they are known.
    settings
        What holds where the household says nothing: ``hours_a_month``, ``bed_m2``, ``look``.

    Raises
    ------
    ParameterError
        If a look is none of ours, or hours or ground are below 0.
    """
    hours = _number(yard, "hours_a_month", settings.hours_a_month)
    bed_m2 = _number(yard, "bed_m2", settings.bed_m2)
    look = yard.get("look")
    colours = yard.get("disliked_colours")
    return Household(
        trees=not _flag(yard, "no_trees"),
        vines=not _flag(yard, "no_vines"),
        shrubs=not _flag(yard, "no_shrubs"),
        keep_lawn=_flag(yard, "keep_lawn"),
        low_only=_flag(yard, "low_only"),
        look=cast(Look, look) if isinstance(look, str) and look else settings.look,
        disliked_colours=frozenset(c.strip() for c in colours.split(";") if c.strip())
        if isinstance(colours, str)
        else frozenset(),
        easy_care=_flag(yard, "easy_care"),
        hours_a_month=hours,
        bed_m2=bed_m2,
        play=_flag(yard, "children"),
    )


def _flag(yard: pd.Series, column: str) -> bool:
    value: Any = yard.get(column)
    return False if value is None or pd.isna(value) else bool(value)


def _number(yard: pd.Series, column: str, default: float | None) -> float:
    value: Any = yard.get(column)
    if value is None or pd.isna(value):
        return math.inf if default is None else float(default)
    return float(value)
