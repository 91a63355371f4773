"""What plants cost by form, and what local growers have."""

from __future__ import annotations

import difflib
import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, field

import pandas as pd

from habitat.errors import StudyError
from habitat.knowledge import Knowledge, resolve_plants
from habitat.knowledge.names import NameMatch
from habitat.planting.types import Choice
from habitat.remarks import Remark, Subject, remark
from habitat.settings.planting import PlantingSettings
from habitat.site.types import GROWTH_FORM

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
"""Money per plant that lives, in whatever currency the group uses: judgement, to be replaced by the growers'
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
"""How the plant table's methods of propagation are bought."""

SEEDS_A_M2 = 430.0
"""Pure live seeds sown on a square metre: at least 40 a square foot, all kinds together (specification CP-42
in Iowa State University farm progress report 2016/62; Iowa NRCS seeding rates)."""

PACKET_M2 = 2.0
"""Ground that a packet of seed sows at that rate, 860 seeds: judgement; ask what a packet holds."""

SOWN_SPACING_M = 0.3
"""Least distance at which sown plants are counted to stand in the end: common practice for plugs."""

PREFERRED = {
    "herb": ("plug", "bare root", "pot", "seed"),
    "shrub": ("bare root", "pot", "plug", "seed"),
    "tree": ("bare root", "pot", "plug", "seed"),
}
"""The form to buy, first choice first: common practice (plugs for drifts, bare root for woody plants)."""


def plants_a_packet(spacing_m: float) -> float:
    """Return how many plants the ground of a packet of seed carries in the end, on a triangular lattice.

    Examples
    --------
    >>> round(plants_a_packet(0.3), 1), round(plants_a_packet(0.6), 1)
    (25.7, 6.4)
    """
    return PACKET_M2 / (math.sqrt(0.75) * max(spacing_m, SOWN_SPACING_M) ** 2)


@dataclass(frozen=True, slots=True)
class Offer:
    """One offer of a plant: form, money per plant, and how many there are (inf if nobody counted)."""

    form: str
    price: float
    stock: float = float("inf")


def price_list(settings: PlantingSettings, where: str = "") -> dict[tuple[str, str], float]:
    """Return money per plant by growth form and form: the defaults with the settings' prices laid over.

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


def choose_offer(
    growth_form: str, propagation: str, prices: dict[tuple[str, str], float], *, sown: bool = False
) -> Offer:
    """Return the form to buy a plant in, from the methods of propagation that the plant table lists.

    ``sown`` prefers seed, for low forbs that cover the soil between others.

    Examples
    --------
    >>> choose_offer("herb", "seed;plug;container", DEFAULT_PRICES)
    Offer(form='plug', price=4.0, stock=inf)
    """
    forms = {PROPAGATION[method] for method in propagation.split(";") if method in PROPAGATION}
    order = ("seed", *PREFERRED[growth_form]) if sown else PREFERRED[growth_form]
    form = next((f for f in order if f in forms), "pot")
    return Offer(form, prices[growth_form, form])


# What local growers have: offers by plant, and stock shared out over yards.

FORM_WORDS = {form: form for form in FORMS} | PROPAGATION | {"container": "pot", "bareroot": "bare root"}
"""How growers write forms, beside our own words: common practice."""

POT_SIZES = re.compile(
    r"(#?[\d./½ ]+[ -]?)?(gallon|gal|quart|qt|pint|litre|liter|l|inch|in|\"|cm)?[ .]*(pot|container)?"
)
"""Sizes by which growers name pots, such as 1 gallon or 4 inch pot: common practice."""


def read_offers(
    growers: pd.DataFrame | None, knowledge: Knowledge, prices: dict[tuple[str, str], float]
) -> tuple[dict[str, Offer], tuple[Remark, ...]]:
    """Return the growers' best offer per plant, and remarks on rows that say nothing of use.

    The form that is planted first by choice counts; several growers of one form add their stock at the lowest
    price. A missing price is the list's own, a missing quantity is not a limit. Seed is sold in packets: its
    price and quantity are theirs, and become those of the plants that come of them.

    Parameters
    ----------
    growers
        Columns plant, form, price, quantity; None without such a layer.
    prices
        As ``prices.price_list`` returns it.
    """
    if growers is None or not len(growers):
        return {}, ()
    table, spacing_m = growers.reset_index(drop=True), knowledge.plants["spacing_m"].to_dict()
    rows: dict[str, dict[str, list[Offer]]] = {}
    notes = list[Remark]()
    matches = resolve_plants([str(name) for name in table["plant"]], knowledge)
    for number, (row, match) in enumerate(zip(table.itertuples(), matches, strict=True), start=1):
        form = _form(getattr(row, "form", None))
        if match.accepted is None or form is None:
            notes.append(_unused(number, match, str(getattr(row, "form", ""))))
            continue
        growth = GROWTH_FORM[str(knowledge.plants.loc[match.accepted, "form"])]
        form = form or PREFERRED[growth][0]
        price = _number(getattr(row, "price", None), prices[growth, form])
        stock = _number(getattr(row, "quantity", None), math.inf)
        if form == "seed":
            each = plants_a_packet(float(spacing_m[match.accepted]))
            price = _number(getattr(row, "price", None), price * each) / each
            stock = math.floor(stock * each + 1e-9) if math.isfinite(stock) else stock
        rows.setdefault(match.accepted, {}).setdefault(form, []).append(Offer(form, price, stock))
    return {plant: _best(plant, forms, knowledge) for plant, forms in sorted(rows.items())}, tuple(notes)


def _unused(row: int, match: NameMatch, form: str) -> Remark:
    """Return why a row of the growers, counted from 1, is of no use."""
    about = Subject(layers=("growers",), rows=(row - 1,))
    if match.accepted is None:
        return remark("grower_plant_unknown", about, row=row, name=match.given)
    return remark("grower_form_unknown", about, row=row, name=match.given, form=form, forms=FORMS)


def _form(text: object) -> str | None:
    """Return our word for a form, "" where none is given, None where it is not known."""
    if text is None or pd.isna(text) or not str(text).strip():  # type: ignore[call-overload]
        return ""
    word = str(text).strip().lower().rstrip("s").replace("_", " ")
    named = FORM_WORDS.get(word) or FORM_WORDS.get(word.replace(" ", "_"))
    return named or ("pot" if POT_SIZES.fullmatch(word) else None)


def _number(value: object, default: float) -> float:
    return default if value is None or pd.isna(value) else float(value)  # type: ignore[arg-type,call-overload]


def _best(plant: str, forms: dict[str, list[Offer]], knowledge: Knowledge) -> Offer:
    growth = GROWTH_FORM[str(knowledge.plants.loc[plant, "form"])]
    form = next(f for f in PREFERRED[growth] if f in forms)
    offers = forms[form]
    return Offer(form, min(o.price for o in offers), math.fsum(o.stock for o in offers))


@dataclass(slots=True)
class Stock:
    """What is left with the growers (count by plant) while yards take their share in order.

    ``served`` counts the yards that had their choice, ``without`` those of them that chose when a plant was
    gone.
    """

    left: dict[str, float]
    served: int = 0
    without: dict[str, int] = field(default_factory=dict)

    def copy(self) -> Stock:
        """Return a stock of its own, from which somebody may take without taking it from others."""
        return Stock(dict(self.left))

    def take(self, choice: Choice, gone: frozenset[str] = frozenset()) -> bool:
        """Take a choice's plants off what is left, and return True; False, and nothing, if too few are.

        ``gone`` are the plants that the choice orders elsewhere, if it holds any.
        """
        wanted = {p: n for p, n in bought(choice, self.left).items() if p not in gone}
        if any(n > self.left[p] for p, n in wanted.items()):
            return False
        self.give(wanted, gone)
        return True

    def give(self, counts: Mapping[str, float], gone: frozenset[str] = frozenset()) -> None:
        """Take plants off what is left, whether it lasts or not; those that are gone come from elsewhere."""
        for plant, count in counts.items():
            if plant in self.left and plant not in gone:
                self.left[plant] = max(0.0, self.left[plant] - count)
        self.served += 1
        for plant in gone:
            self.without[plant] = self.without.get(plant, 0) + 1

    def notes(self, stock: Mapping[str, float], knowledge: Knowledge) -> tuple[Remark, ...]:
        """Return what there is to say of plants that ran out, given the stock at the start."""
        if not self.without:
            return ()
        common = knowledge.plants["common_name"].to_dict()
        short = tuple(
            remark(
                "growers_plant_short",
                Subject(plants=(plant,)),
                stock=float(stock[plant]),
                common_name=str(common[plant]),
                yards=self.served - number,
            )
            for plant, number in sorted(self.without.items())
        )
        return (remark("growers_run_out", yards=self.served, short=short),)


def bought(choice: Choice, stock: Mapping[str, float]) -> dict[str, int]:
    """Return how many a choice takes of each plant that growers have in limited number, by name."""
    counts: dict[str, int] = {}
    for allocation in choice.allocations:
        if allocation.plant in stock:
            counts[allocation.plant] = counts.get(allocation.plant, 0) + allocation.count
    return dict(sorted(counts.items()))
