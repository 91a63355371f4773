"""What sentences say of a household, taken out of them: children, pets, spraying, heights and money."""

from __future__ import annotations

import re
from typing import Any

NOT_MET = re.compile(r"((?:^|; )(?:no|only \d+) [^:;]+):.*?(?=; (?:no |only \d)|$)", re.IGNORECASE)
"""A wish that was not met, with its reasons, up to the next one; as ``planting.explain`` writes them."""

SPRAYED, NO_HOST_PLANT = "the yard is sprayed", "no host plant"
"""Leaf in a sprayed yard feeds nobody, so that for butterflies it is as if no host grew there."""


def without_reasons(told: Any) -> Any:
    """Return what could not be had without the reasons.

    All of them go, whether they tell of the household or not: were only some left out, that would tell too.

    Examples
    --------
    >>> without_reasons("no host for the monarch: toxic to pets, and pets live here; only 2 nectar species")
    'no host for the monarch; only 2 nectar species'
    """
    return NOT_MET.sub(r"\1", told) if isinstance(told, str) else told


def without_spraying(missing: Any) -> Any:
    """Return what a life cycle lacks, where it is sprayed as if no host grew there.

    Examples
    --------
    >>> without_spraying("the yard is sprayed; no host plant"), without_spraying("the yard is sprayed")
    ('no host plant', 'no host plant')
    """
    if not isinstance(missing, str) or SPRAYED not in missing:
        return missing
    parts = [p for p in missing.split("; ") if p != SPRAYED]
    return "; ".join(
        dict.fromkeys([NO_HOST_PLANT, *(p for p in parts if not p.startswith("host plants for"))])
    )
