"""What a plant costs by the form it is bought in, and which form is chosen."""

from __future__ import annotations

import difflib
from dataclasses import dataclass

from habitat.errors import StudyError
from habitat.study import PlantingSettings

FORMS = ("seed", "plug", "pot", "bare root")
"""Forms in which plants are bought, in the words of the plan."""

DEFAULT_PRICES = {
    ("herb", "seed"): 0.5,
    ("herb", "plug"): 4.0,
    ("herb", "pot"): 12.0,
    ("herb", "bare root"): 5.0,
    ("shrub", "seed"): 1.0,
    ("shrub", "plug"): 8.0,
    ("shrub", "pot"): 28.0,
    ("shrub", "bare root"): 10.0,
    ("tree", "seed"): 1.0,
    ("tree", "plug"): 8.0,
    ("tree", "pot"): 60.0,
    ("tree", "bare root"): 20.0,
}
"""Money per plant that lives, in the group's own currency: judgement, to be replaced by the growers'
lists."""

PROPAGATION = {
    "seed": "seed",
    "plug": "plug",
    "container": "pot",
    "cuttings": "pot",
    "bare_root": "bare root",
    "division": "bare root",
    "corm": "bare root",
    "tubers": "bare root",
    "root_cutting": "bare root",
}
"""How the plant table's ways of raising a plant are bought."""

PREFERRED = {
    "herb": ("plug", "bare root", "pot", "seed"),
    "shrub": ("bare root", "pot", "plug", "seed"),
    "tree": ("bare root", "pot", "plug", "seed"),
}
"""The form to buy, first choice first: common practice (plugs for drifts, bare root for woody plants)."""


@dataclass(frozen=True, slots=True)
class Offer:
    """One way to buy a plant: form, money per plant, and how many there are (inf if nobody counted)."""

    form: str
    price: float
    stock: float = float("inf")


def price_list(settings: PlantingSettings, where: str = "") -> dict[tuple[str, str], float]:
    """Return money per plant by growth form and form: the defaults with the study's prices laid over.

    A key of ``planting.prices`` is a form (``plug``) for all growth forms, or ``growth form.form``
    (``shrub.pot``) for one.

    Raises
    ------
    StudyError
        If a key names no form.

    Examples
    --------
    >>> price_list(PlantingSettings(prices={"plug": 3.0, "tree.pot": 90.0}))["herb", "plug"]
    3.0
    """
    prices = dict(DEFAULT_PRICES)
    known = [*FORMS, *(f"{growth}.{form}" for growth, form in DEFAULT_PRICES)]
    for key in sorted(settings.prices, key=lambda k: "." in k):
        name = key.replace("_", " ")
        if name not in known:
            close = difflib.get_close_matches(name, known, n=1, cutoff=0.4)
            hint = f"; did you mean {close[0]!r}?" if close else ""
            what = f"planting.prices names {key!r}, which is no form of plant{hint}"
            raise StudyError(what, where, f"Forms: {', '.join(known)}")
        for growth, form in DEFAULT_PRICES:
            if name in (form, f"{growth}.{form}"):
                prices[growth, form] = settings.prices[key]
    return prices


def choose_offer(growth_form: str, propagation: str, prices: dict[tuple[str, str], float]) -> Offer:
    """Return the form to buy a plant in, from the ways of raising it that the plant table lists.

    Examples
    --------
    >>> choose_offer("herb", "seed;plug;container", DEFAULT_PRICES)
    Offer(form='plug', price=4.0, stock=inf)
    """
    ways = {PROPAGATION[way] for way in propagation.split(";") if way in PROPAGATION}
    form = next((f for f in PREFERRED[growth_form] if f in ways), "pot")
    return Offer(form, prices[growth_form, form])
