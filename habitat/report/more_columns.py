"""Columns that earlier stages add to tables of plan.gpkg beside those of the contract: what each of them is.

They are kept apart from ``tables.TABLES`` since what is described there may be shown to the public.
"""

from __future__ import annotations

from habitat.report.tables import Column
from habitat.report.words import NEED_WORDS
from habitat.site.types import FACTORS

UNITS = {
    "sun_h": "h",
    "sun_afternoon_h": "h",
    "ph": "pH",
    "depth_cm": "cm",
    "available_water_mm": "mm",
    "salt": "dS/m",
}
"""Units of factors that have a mean."""


def _of_factors() -> tuple[Column, ...]:
    """Return the columns that the survey adds to yards for each factor."""
    out: list[Column] = []
    for name in FACTORS:
        words = NEED_WORDS[name]
        if name in UNITS:
            out.append(
                (f"{name}_mean", "float", UNITS[name], f"{words}, mean over the yard; empty if unknown")
            )
        out.append(
            (f"{name}_known", "float", "1", f"share of the yard in which its {words} is known, 0 to 1")
        )
        out.append((f"{name}_source", "text", "", f"where its {words} is from"))
    return tuple(out)


MORE: dict[str, tuple[Column, ...]] = {
    "yards": (
        *_of_factors(),
        ("reaction", "text", "", "class of the mean soil reaction"),
        ("drainage_rank", "float", "1", "natural drainage, 1 very poorly to 7 excessively drained"),
        ("zone_mode", "float", "1", "most frequent hardiness zone; empty if unknown"),
    ),
    "chain": (
        ("chain", "int", "", "number of the chain of this butterfly and state, 1 first"),
        ("from_anchor", "text", "", "anchor at which the chain begins"),
        ("to_anchor", "text", "", "anchor at which the chain ends"),
    ),
    "invitations": (("main_butterfly", "text", "", "butterfly that gains most from it"),),
    "invitation_steps": (
        ("joint_score_low_reach", "float", "1", "the joint score if butterflies move less far"),
        ("joint_score_high_reach", "float", "1", "the joint score if butterflies move farther"),
    ),
    "yard_results": (("habitat_drawn_m2", "float", "m2", "the same, of the beds as they are drawn"),),
}
"""Columns by table; those that a plan does not have are told nowhere."""


def described(table: str, column: str) -> tuple[str, str]:
    """Return unit and meaning of a column that the contract does not name; "" where nobody says.

    A table of invitations has a column per butterfly, called by its scientific name.
    """
    for name, _, unit, what in MORE.get(table, ()):
        if name == column:
            return unit, what
    if table == "invitation_steps" and " " in column:
        return "1", f"score of {column}, 0 to 1"
    return "", ""
