"""How a bed is put together: shares of layers, sizes of groups, kinds in bloom, each with its source."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from typing import Any, Literal

from habitat.errors import ParameterError
from habitat.settings.planting import PlantingSettings

Layer = Literal["structure", "season", "ground"]
LAYERS: tuple[Layer, ...] = ("structure", "season", "ground")

Style = Literal["tidy", "between", "meadow"]
"""The looks that a household can want."""

SEASONS = (("spring", (3, 4, 5)), ("summer", (6, 7, 8)), ("autumn", (9, 10, 11)))
"""Seasons of bloom; agency job sheets part them at mid-June and August (Indiana CP-42 job sheet, USDA FSA and
NRCS, June 2012), tables by whole months at June and September."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BedRules:
    """Numbers that a bed is put together by.

    Parameters
    ----------
    structure_share, ground_share
        Share [0-1] of a bed's ground for lasting structure, and for low plants that cover the soil; the rest
        is for the show of the seasons. 0.10 to 0.15, about 0.5, 0.25 to 0.40 (memory: Rainer and West 2015,
        Planting in a Post-Wild World).
    cover
        Ground taken by plants at their spacing over the bed's area: 0.9 to 1.2 (memory; common practice).
    kind_share_max
        Most ground of one kind in a bed of ``share_from_m2`` or more; a clump area aside (memory: state job
        sheets give 25 to 40 % of a mix).
    ground_kind_share_max
        The same for kinds of the ground layer, which hold the soil between the others (judgement).
    brood_share_max
        The same for a host that a brood needs so much of: caterpillars must be allowed to eat (judgement).
    part_brood
        Least share of a brood's hosts that are set, and count for something, where all of them find no room:
        1 is all or none, since a yard's other beds or neighbours may hold them (judgement).
    low_m, tall_m
        A herb up to ``low_m`` [m] is of the ground layer (0.4 to 0.45 m at an edge: memory), one of
        ``tall_m`` or more is structure (judgement).
    ground_spacing_m
        Least spacing [m] of the ground layer, which closes in up to three years: plugs 12 inches apart
        (common practice, several accounts; ground-cover plugs for a quick cover stand at 6).
    height_to_width
        Tallest herb over the width of a bed that is seen from all sides: two thirds (common practice; a half
        in stricter texts: memory). Against a wall or fence ``height_to_width_backed``. Herbs up to
        ``any_width_m`` [m] may stand in a bed, box or pot however narrow (judgement).
    pot_m2, pot_cover
        Less ground is that of a pot or box, where one kind will do and soil may lie open (judgement); plants
        lean over its rim and are set fuller than in the ground (common practice).
    group_sizes
        Plants of one kind set together: odd numbers (extension text: 3, 5 or 7; common practice up to 9).
    season_kinds
        Kinds in bloom in each of spring, summer and autumn, by a bed's area: 3 each (Indiana CP-42 job sheet,
        USDA FSA and NRCS, June 2012) from ``share_from_m2`` x 2 on, fewer in smaller beds; from
        ``share_from_m2`` on in yards whose beds take ``whole_from_m2`` [m2] or more (judgement).
    yard_kinds
        Nectar and host kinds in all beds of a yard with ``whole_from_m2`` or more: 9 (the same job sheet).
    graminoid_share
        Share of the ground layer that sedges and grasses take (style).
    repeats
        Most groups of one kind in a bed (extension text: 2 or 3).
    """

    structure_share: float = 0.15
    ground_share: float = 0.40
    cover: float = 1.0
    kind_share_max: float = 0.30
    ground_kind_share_max: float = 0.35
    brood_share_max: float = 0.5
    part_brood: float = 1.0
    share_from_m2: float = 6.0
    whole_from_m2: float = 15.0
    low_m: float = 0.45
    tall_m: float = 1.2
    ground_spacing_m: float = 0.3
    height_to_width: float = 2.0 / 3.0
    height_to_width_backed: float = 1.4
    any_width_m: float = 0.6
    pot_m2: float = 1.0
    pot_cover: float = 1.5
    group_sizes: tuple[int, ...] = (3, 5, 7, 9)
    season_kinds: int = 3
    yard_kinds: int = 9
    graminoid_share: float = 0.5
    repeats: int = 3

    def __post_init__(self) -> None:
        for name in ("structure_share", "ground_share", "kind_share_max", "ground_kind_share_max"):
            value = getattr(self, name)
            if not 0.0 < value <= 1.0:
                raise ParameterError(name, value, "a share above 0 and up to 1")
        if self.structure_share + self.ground_share >= 1.0:
            raise ParameterError(
                "structure_share, ground_share", self.structure_share, "less than 1 together"
            )
        if not 0.5 <= self.cover <= 1.5:
            raise ParameterError("cover", self.cover, "0.5 to 1.5")

    def season_kinds_in(self, area_m2: float, yard_m2: float = 0.0) -> int:
        """Return how many kinds a bed wants in bloom in each season, where a yard's beds take so much ground.

        Every bed of a yard with ``whole_from_m2`` or more has to bring its part of the yard's kinds.
        """
        rich = yard_m2 >= self.whole_from_m2 and area_m2 >= self.share_from_m2
        if rich or area_m2 >= 2.0 * self.share_from_m2:
            return self.season_kinds
        return 2 if area_m2 >= self.share_from_m2 else 1

    def yard_kinds_in(self, area_m2: float, yard_m2: float) -> int:
        """Return how many nectar and host kinds one bed brings to a yard: all of them where it is large."""
        if yard_m2 < self.whole_from_m2 or area_m2 < self.share_from_m2:
            return 0
        return self.yard_kinds if area_m2 >= 1.5 * self.share_from_m2 else self.yard_kinds - 2

    def cover_in(self, area_m2: float) -> float:
        """Return the ground taken by plants over a bed's area; in a pot or box they lean over the rim."""
        return max(self.cover, self.pot_cover) if area_m2 < self.pot_m2 else self.cover

    def kinds_in(self, area_m2: float) -> int:
        """Return how many kinds make a community: three, two in a small bed, one in a pot (judgement)."""
        if area_m2 >= self.share_from_m2:
            return 3
        return 2 if area_m2 >= self.pot_m2 else 1


STYLES: dict[Style, BedRules] = {
    "tidy": BedRules(
        structure_share=0.12,
        ground_share=0.45,
        graminoid_share=0.35,
        height_to_width=0.5,
        height_to_width_backed=1.0,
    ),
    "between": BedRules(),
    "meadow": BedRules(
        structure_share=0.2,
        ground_share=0.35,
        graminoid_share=0.7,
        height_to_width=0.8,
        height_to_width_backed=1.4,
    ),
}
"""Rules by the look that a household wants; differences in height and grasses are judgement."""


def rules_of(settings: PlantingSettings, style: Style | None = None) -> BedRules:
    """Return the rules of a look, or of the study's own, with the numbers, shares and groups that it gives.

    Raises
    ------
    ParameterError
        If ``bed_rules`` names no number of ``BedRules``, or one is out of range.

    Examples
    --------
    >>> rules_of(PlantingSettings(clump_min=5)).group_sizes
    (5, 7, 9)
    >>> rules_of(PlantingSettings(clump_min=1, look="meadow")).group_sizes
    (1, 3, 5, 7, 9)
    >>> rules_of(PlantingSettings(bed_rules={"season_kinds": 4})).season_kinds
    4
    """
    rules = _with_numbers(STYLES[style or settings.look], settings.bed_rules)
    most = settings.max_species_share
    least = settings.clump_min
    sizes = tuple(n for n in rules.group_sizes if n >= least) or (least,)
    sizes = sizes if least >= rules.group_sizes[0] else (least, *sizes)
    return replace(
        rules,
        kind_share_max=min(rules.kind_share_max, most),
        ground_kind_share_max=min(rules.ground_kind_share_max, most),
        group_sizes=sizes,
    )


def _with_numbers(rules: BedRules, given: Mapping[str, float]) -> BedRules:
    """Return rules with some numbers changed; counts must be whole."""
    kinds = {f.name: type(getattr(rules, f.name)) for f in fields(rules)}
    known = [name for name, kind in kinds.items() if kind in (int, float)]
    for name, value in given.items():
        if name not in known:
            raise ParameterError("planting.bed_rules", name, "one of " + ", ".join(known))
        if kinds[name] is int and value != int(value):
            raise ParameterError(f"planting.bed_rules.{name}", value, "a whole number")
    numbers: dict[str, Any] = {name: kinds[name](value) for name, value in given.items()}
    return replace(rules, **numbers)
