"""What the page of opened results shows: plain values for its script, all words made here."""

from __future__ import annotations

import math
from typing import Any

import shapely

from habitat.connectivity.measures import tables
from habitat.connectivity.score import empty_importance
from habitat.connectivity.types import Corridor
from habitat.pipeline.assemble import assemble
from habitat.pipeline.corridor import movements_of
from habitat.report.package.geopackage import records
from habitat.report.page.data import butterflies_of
from habitat.report.page.map import map_frame
from habitat.report.page.paths import PER_M
from habitat.report.page.yards import beds_of, pieces_of, points_of, verdict_words
from habitat.report.plan import Plan
from habitat.report.words.en import voice
from habitat.report.words.figures import FIGURES, figure_words
from habitat.report.words.names import ROLE_WORDS
from habitat.report.words.numbers import UNKNOWN, Units, money
from habitat.report.words.text import plain
from habitat.revision.decisions import addresses_of
from habitat.terms import DRAFT, MEMBER
from habitat.what_if.base import Base
from habitat.what_if.session import Session
from habitat.what_if.steps import State, with_reaches

AREAS = ("equivalent_area_m2", "capacity_m2")
MONEY = {
    "cost_of_members": "plants of those who take part",
    "cost_to_buy": "to buy, with spares and full trays",
}
CORNER_M = 0.05
"""Corners that move the outline of a bed by less are not shown."""


class View:
    """One session as its page shows it; what no step changes is worked out once for each opening."""

    def __init__(self, session: Session) -> None:
        self.session = session
        self._base: Base | None = None
        self._fresh()

    def _fresh(self) -> None:
        """Work out what stands still, if the results were opened since."""
        if self._base is self.session.base:
            return
        base, first = self.session.base, self.session.first
        self._base = base
        self.plan = _plan(first)
        self.first, self.sheet = first, map_frame(self.plan)
        self.say, self.units = voice(base.request.study.report), Units(base.request.study.report.units)
        self.ground = {name: pieces_of(self.plan, name) for name in ("buildings", "paving")}
        self.addresses, self.places = (
            addresses_of(self.plan.layers.yards),
            {y: k for k, y in enumerate(self.plan.yards["yard_id"])},
        )
        self.names = butterflies_of(self.plan)

    def still(self) -> dict[str, Any]:
        """Return what the page is given once: yards, plants to swap for, units."""
        with self.session.lock:
            return self._still()

    def _still(self) -> dict[str, Any]:
        self._fresh()
        plants = self.session.base.request.knowledge.plants["common_name"]
        return {
            "us": self.units.us,
            "yards": [
                {"id": plain(yard, 300), "address": plain(self.addresses.get(yard), 200)}
                for yard in self.places
            ],
            "plants": sorted([plain(common), plain(name)] for name, common in plants.items()),
        }

    def whole(self) -> dict[str, Any]:
        """Return what stands now: figures, money, roles, warnings, what can be undone."""
        with self.session.lock:
            return self._whole()

    def _whole(self) -> dict[str, Any]:
        self._fresh()
        session, state = self.session, self.session.state
        busy = session.busy
        return {
            "version": session.version,
            "busy": {
                "words": plain(busy.words, 300),
                "done": busy.done,
                "total": busy.total,
                "failed": busy.failed,
            },
            "undo": plain(state.told, 200) if len(session.states) > 1 else "",
            "said": self._said(),
            "dirty": session.dirty,
            "figures": self._figures(state),
            "money": self._money(state),
            "roles": [*state.request.layers.yards["role"]],
            "planned": [self.places[y] for y in state.results["yard_id"]],
            "butterflies": self._butterflies(state),
            "warnings": [
                {"yard": plain(yard, 300), "words": plain(self.say(note), 400)}
                for yard, notes in state.notes.items()
                if yard in set(state.results["yard_id"])
                for note in notes
            ],
        }

    def yard(self, place: int) -> dict[str, Any]:
        """Return what stands in a yard.

        Raises
        ------
        IndexError
            If there is none of that number.
        """
        with self.session.lock:
            return self._yard(place)

    def _yard(self, place: int) -> dict[str, Any]:
        self._fresh()
        state = self.session.state
        name = list(self.places)[place]
        beds, points, plantings = (
            t[t["yard_id"] == name] for t in (state.drawn.beds, state.drawn.points, state.drawn.plantings)
        )
        numbers = dict(zip(beds["bed_id"], beds["bed_number"].astype(int), strict=True))
        keys = dict(zip(points["planting_id"], points["key_number"].astype(int), strict=True))
        role, cost = state.role(name), float(plantings["cost"].sum())
        return {
            "id": plain(name, 300),
            "address": plain(self.addresses.get(name), 200),
            "role": ROLE_WORDS.get(role, role),
            "member": role == MEMBER,
            "planned": bool((state.results["yard_id"] == name).any()),
            "status": plain(self.session.base.earlier.decisions.status().get(name, DRAFT)),
            "house": self.sheet.paths(self.ground["buildings"].get(name, []), tolerance_m=0.05),
            "paved": self.sheet.paths(self.ground["paving"].get(name, []), tolerance_m=0.05),
            "beds": beds_of(beds, self.sheet).get(name, []),
            "points": points_of(points, self.sheet).get(name, []),
            "handles": [
                {
                    "bed": row.bed_id,
                    "number": int(row.bed_number),
                    "area": self.units.area(row.geometry.area),
                    "ring": self._ring(row.geometry),
                }
                for row in beds.itertuples()
            ],
            "plantings": [
                {
                    "planting": row.planting_id,
                    "bed": numbers.get(row.bed_id),
                    "key": keys.get(row.planting_id),
                    "common": plain(row.common_name),
                    "plant": plain(row.plant),
                    "form": plain(row.form),
                    "count": int(row.count_),
                    "cost": money(float(row.cost)),
                }
                for row in plantings.rename(columns={"count": "count_"}).itertuples()
            ],
            "raises": self._raises(state, name),
            "cost": money(cost, state.request.study.planting.currency),
        }

    def _ring(self, shape: Any) -> list[list[float]] | None:
        """Return the corners of a bed in units of the map, None if it is of several parts or has a hole."""
        simple = shapely.simplify(shape, CORNER_M)
        if simple.geom_type != "Polygon" or len(simple.interiors):
            return None
        return [
            [float(x), float(y)] for x, y in self.sheet.cells(shapely.get_coordinates(simple.exterior)[:-1])
        ]

    def metres(self, ring: Any) -> Any:
        """Return corners in the study's CRS, given in units of the map; what is no list of corners stays."""
        try:
            return [[self.sheet.west + x / PER_M, self.sheet.north - y / PER_M] for x, y in ring]
        except (TypeError, ValueError, OverflowError):
            return ring

    def _said(self) -> str:
        """Return the last step in words, with what came of it."""
        if len(self.session.states) < 2:
            return "As opened."
        before, state = self.session.states[-2:]
        was, now = (s.found.headline for s in (before, state))
        told = []
        for key, words in (("broods", "broods"), ("equivalent_area_m2", "linked ground")):
            ends = [head["together"]["members"].get(key) for head in (was, now)]
            told.append(f"{words} {self._change(*ends, area=key in AREAS)}")
        more = now["cost_of_members"] - was["cost_of_members"]
        told.append(f"cost {_signed(more, state.request.study.planting.currency)}")
        return plain(f"{state.told[:1].upper()}{state.told[1:]}: {', '.join(told)}.", 300)

    def _figures(self, state: State) -> list[list[str]]:
        """Return name, today, with the members' plans as opened, now, and the change, of each figure."""
        was, now = (s.found.headline["together"] for s in (self.first, state))
        rows = []
        for figure, words in FIGURES.items():
            told = [figure_words(was, "today", figure, self.units)]
            told += [figure_words(entry, "members", figure, self.units) for entry in (was, now)]
            ends = [entry["members"].get(figure) for entry in (was, now)]
            rows.append([words, *told, self._change(*ends, area=figure in AREAS)])
        return rows

    def _change(self, was: float | None, now: float | None, *, area: bool) -> str:
        if was is None or now is None or not (math.isfinite(was) and math.isfinite(now)):
            return UNKNOWN
        more = now - was
        if abs(more) < 0.05:
            return "none"
        sign = "+" if more > 0 else "−"
        return f"{sign}{self.units.area(abs(more)) if area else f'{abs(more):,.1f}'.removesuffix('.0')}"

    def _money(self, state: State) -> list[list[str]]:
        currency = state.request.study.planting.currency
        rows = []
        for key, words in MONEY.items():
            was, now = (float(s.found.headline[key]) for s in (self.first, state))
            rows.append([words, money(was, currency), money(now, currency), _signed(now - was, currency)])
        return rows

    def _butterflies(self, state: State) -> list[dict[str, Any]]:
        """Return by butterfly its name, its median reach now and in the study [m], and its broods."""
        base, names = self.session.base, tuple(self.names)
        own = movements_of(with_reaches(base, {}), base.request.knowledge, names)
        now = movements_of(state.request.study, base.request.knowledge, names)
        return [
            {
                "name": a.butterfly,
                "common": plain(a.common_name),
                "own_m": round(a.reaches["median"].median_m, 1),
                "now_m": round(b.reaches["median"].median_m, 1),
                "changed": a.butterfly in state.reach_m,
                "area": figure_words(
                    state.found.headline["butterflies"][a.butterfly],
                    "members",
                    "equivalent_area_m2",
                    self.units,
                ),
            }
            for a, b in zip(own, now, strict=True)
        ]

    def _raises(self, state: State, name: str) -> list[list[str]]:
        """Return by butterfly: name, habitat today and with the plan, and whether it can breed here."""
        table = state.accounts.yard_butterflies
        rows = {r["butterfly"]: r for r in records(table[table["yard_id"] == name])}
        out = []
        for butterfly in self.names:
            row = rows.get(butterfly)
            common = plain(self.session.base.request.knowledge.butterflies["common_name"][butterfly])
            if row is None:
                out.append(
                    [common, self.units.area(0.0), self.units.area(0.0), "not yet; nothing grows for it here"]
                )
                continue
            missing = plain(self.say(row.get("missing")), 200)
            told = verdict_words(row) + (f"; missing: {missing}" if missing else "")
            areas = (self.units.area(float(row[k])) for k in ("habitat_before_m2", "habitat_m2"))
            out.append([common, *areas, told])
        return out


def _signed(more: float, currency: str | None) -> str:
    """Return a change of money in words."""
    return "none" if abs(more) < 0.005 else f"{'+' if more > 0 else '−'}{money(abs(more), currency)}"


def _plan(state: State) -> Plan:
    """Return a plan with what the map is drawn from; of the corridor it has the figures alone."""
    crs = state.request.layers.crs
    corridor = Corridor(
        importance=empty_importance(),
        links=tables.geo([], tables.LINK_COLUMNS, crs),
        chain=tables.geo([], tables.CHAIN_COLUMNS, crs),
        invitations=state.request.layers.yards.iloc[:0],
        headline=state.found.headline,
        invitation_steps=state.results.iloc[:0],
    )
    assert state.request.earlier is not None
    carried = state.request.earlier.carried
    return assemble(state.request, state.found.planting, corridor, [], carried, (), {})
