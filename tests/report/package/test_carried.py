"""What a run settled on the way comes back as it was."""

import json
from dataclasses import replace

import pytest

from habitat.planting.settled import Carried, Round, fingerprints
from habitat.planting.types import Drawn, Milestone
from habitat.planting.years.survival import Lot
from habitat.remarks import Subject, remark
from habitat.report.package.carried import read_carried, write_carried
from tests.report.small_plan import small_plan

ROUNDS = (
    Round(),
    Round(
        {("0007", "Danaus plexippus"): 1 / 3, ("0012", "Lon zabulon"): 0.1 + 0.2}, {"0007": frozenset({4, 9})}
    ),
)


def told():
    short = remark(
        "growers_plant_short", Subject(plants=("Carex blanda",)), stock=3.0, common_name="x", yards=2
    )
    return (
        remark("growers_run_out", Subject(yards=("0007",)), yards=2, short=(short,)),
        remark("plantings_short", count=1),
    )


def test_rounds_order_fit_and_remarks_come_back_to_the_bit(tmp_path):
    plan = small_plan(tmp_path)
    results = plan.yard_results.assign(
        relaxed=[told() if yard == "0007" else () for yard in plan.yard_results["yard_id"]]
    )
    lots = (Lot("Zizia aurea", "plug", "wet", 5, 2),)
    history = (Milestone("2026-03-01", "", 6, 5, 0, 0, None, 12.5, 3),)
    carried = Carried(("0012", "0007"), ROUNDS, fit={"0007-p01": 2 / 3}, survival=lots, history=history)
    path = write_carried(replace(plan, yard_results=results, carried=carried), tmp_path / "carried.json")
    drawn = fingerprints(Drawn(plan.beds, plan.plantings, plan.plant_points))
    assert len(drawn) == len(plan.beds) + len(plan.plantings) + plan.plant_points["planting_id"].nunique()
    come = replace(carried, relaxed={"0007": told()}, drawn=drawn, study="study.toml")
    assert read_carried(path) == come


@pytest.mark.parametrize(
    "damage", [lambda d: d.pop("rounds"), lambda d: d.update(rounds=[]), lambda d: d.clear()]
)
def test_what_is_damaged_is_no_guess(tmp_path, damage):
    path = write_carried(small_plan(tmp_path), tmp_path / "carried.json")
    data = json.loads(path.read_text(encoding="utf-8"))
    damage(data)
    path.write_text(json.dumps(data), encoding="utf-8")
    with pytest.raises((KeyError, ValueError)):
        read_carried(path)
