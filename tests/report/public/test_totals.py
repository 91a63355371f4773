"""Totals for a public audience, attacked by an outsider who subtracts what is shown."""

import ast
from dataclasses import fields, replace
from pathlib import Path

import pytest

import habitat.connectivity.summary
from habitat.remarks import Subject, remark
from habitat.report.outputs import EVERYBODY, OUTPUTS
from habitat.report.plan import Plan
from habitat.report.public.totals import TOTALS
from habitat.report.words.en import voice
from habitat.site.types import Site
from tests.report.small_plan import agreed, small_plan

MEMBERS_FIRST = [0, 2, 3]
"""Members of the small plan: totals of members are told beside those of all."""


def only_planned(folder):
    """Return the small plan with no habitat in yards today, which a few yards alone would hold."""
    plan = small_plan(folder)
    table = plan.yard_butterflies
    before = table["habitat_before_m2"].where(table["yard_id"].str.startswith("anchor"), 0.0)
    return replace(plan, yard_butterflies=table.assign(habitat_before_m2=before))


@pytest.mark.parametrize("hidden", [1, 2, 3])
def test_totals_less_the_shown_give_no_few_hidden_yards_away(tmp_path, hidden):
    """An outsider takes what the tables show from the totals: nothing is left, unless of three or more."""
    plan = only_planned(tmp_path)
    public = agreed(plan, [k not in MEMBERS_FIRST[:hidden] for k in range(7)])
    counts = public.headline["counts"]
    left = counts["plants"] - public.plantings["count"].sum()
    cost = public.headline["cost"] - public.plantings["cost"].sum()
    assert (left == 0) == (hidden < 3)
    assert (abs(cost) < 1e-6) == (hidden < 3)
    table = public.yard_butterflies
    for butterfly, entry in public.headline["butterflies"].items():
        shown = table.loc[table["butterfly"] == butterfly, "habitat_m2"].sum()
        if hidden < 3:
            assert entry["everyone"]["habitat_m2"] == pytest.approx(shown)
            assert entry["members"]["score"] == round(entry["members"]["score"], 2)
            assert entry["members"]["broods"] is None
    assert (public.headline["together"]["members"]["broods"] is None) == (hidden < 3)
    told = "plants, beds and cost are those of the yards shown" in public.run_info["withheld"]
    assert told == (hidden < 3)


@pytest.mark.parametrize("hidden", [1, 2, 3])
def test_no_loss_told_of_a_shown_yard_gives_few_hidden_ones_away(tmp_path, hidden):
    """Held ground and habitat of one shown yard are all it takes to work out the equivalent area of all.

    held = E - sqrt(E^2 - a^2), solved for E: what is linked, and by the distances of the shown what the
    hidden hold. Saura and Rubio 2010, Ecography 33:523-537, for the parts.
    """
    plan = only_planned(tmp_path)
    plan = replace(plan, invitation_steps=plan.invitation_steps.assign(connected_m2=123.456))
    public = agreed(plan, [k not in MEMBERS_FIRST[:hidden] for k in range(7)])
    shown = public.layers.yards.loc[public.layers.yards["role"] != "block", "yard_id"]
    for butterfly in public.headline["butterflies"]:
        whole = plan.yard_butterflies
        adds = whole[
            (whole["butterfly"] == butterfly) & (whole["habitat_m2"] + whole["habitat_before_m2"] > 0)
        ]
        few = 0 < adds["yard_id"].isin(plan.yards["yard_id"].iloc[MEMBERS_FIRST[:hidden]]).sum() < 3
        rows = public.yard_butterflies
        told = rows[(rows["butterfly"] == butterfly) & rows["yard_id"].isin(shown)]
        assert told[["held_m2", "arriving_m2", "passing_m2"]].isna().all(axis=None) == few
    told = any("loss of a yard" in line for line in public.run_info["withheld"])
    assert told == (hidden < 3)
    gains = public.invitations["gain_m2"]
    assert len(gains)
    assert all(gain == float(f"{gain:.1g}") for gain in gains) == (hidden < 3)
    linked = 120.0 if public.run_info["withheld"] else 123.456
    assert set(public.invitation_steps["connected_m2"]) == {linked}


@pytest.mark.parametrize(
    ("hidden", "few"),
    [((0, 1, 4), True), ((1, 4, 0, 2), True), ((0, 2, 3), False), ((1, 0, 2, 3), True)],
)
def test_totals_of_members_give_no_few_hidden_members_away(tmp_path, hidden, few):
    """Members are yards 0, 2, 3 and 5, candidates 1 and 4: one or two hidden of either, however many in all.

    The cost of members less the shown members' is that of hidden members, of all less members of candidates.
    """
    plan = small_plan(tmp_path)
    public = agreed(plan, [k not in hidden for k in range(7)])
    rows = public.plantings.merge(public.yards[["yard_id", "role"]], on="yard_id")
    mine = rows["role"] == "member"
    head = public.headline
    left = head["cost_of_members"] - rows.loc[mine, "cost"].sum()
    others = head["cost"] - head["cost_of_members"] - rows.loc[~mine, "cost"].sum()
    assert (abs(left) < 1e-6 and abs(others) < 1e-6) == few
    assert (head["counts"]["plants_of_members"] == rows.loc[mine, "count"].sum()) == few


def test_habitat_of_today_gives_no_few_hidden_yards_away(tmp_path):
    """Today one hidden yard alone has habitat, with their plans many: the total would be its own."""
    plan = small_plan(tmp_path)
    table = plan.yard_butterflies
    lone = (table["butterfly"] == "Danaus plexippus") & ~table["yard_id"].str.startswith("anchor")
    before = table["habitat_before_m2"].mask(lone, 0.0).mask(lone & (table["yard_id"] == "0007"), 7.5)
    odd = replace(plan, yard_butterflies=table.assign(habitat_before_m2=before))
    odd.headline["butterflies"]["Danaus plexippus"]["today"]["habitat_m2"] = 7.5
    public = agreed(odd, [k not in (0, 2, 3) for k in range(7)])
    shown = public.yard_butterflies
    left = shown.loc[shown["butterfly"] == "Danaus plexippus", "habitat_before_m2"].sum()
    assert public.headline["butterflies"]["Danaus plexippus"]["today"]["habitat_m2"] == pytest.approx(left)


def test_no_sentence_tells_a_total_that_the_headline_withholds(tmp_path):
    exact = (
        remark(
            "butterfly_town_is_one_garden",
            Subject(),
            common_name="monarch",
            broods=None,
            habitat_m2=(1.0, 4300.0),
        ),
        remark("corridor_areas", areas_m2=((4300.0,) * 3, (5432.0,) * 3), asked=0),
    )
    plan = replace(small_plan(tmp_path), sentences=(*exact, remark("distances_by_ground")))
    say = voice(plan.study.report)
    assert "4,300" in " ".join(map(say, agreed(plan, [True] * 7).sentences))
    told = agreed(plan, [False, *[True] * 6]).sentences
    assert told == (remark("distances_by_ground"),)


def test_sentences_of_the_corridor_tell_totals_or_count_yards_alone():
    """Whoever adds a sentence there decides which: what is in neither set would go out unseen."""
    count_alone = {
        "corridor_without_ground", "share_needs_all_plans", "share_needs_equal_stakes", "anchors_not_joined",
        "chain_between_anchors", "distances_by_ground", "butterfly_without_ground",
    }  # fmt: skip
    tree = ast.parse(Path(habitat.connectivity.summary.__file__).read_text(encoding="utf-8"))
    calls = [n for n in ast.walk(tree) if isinstance(n, ast.Call) and getattr(n.func, "id", "") == "remark"]
    kinds = {call.args[0].value for call in calls}
    assert kinds == (TOTALS - {"planned_together"}) | count_alone


def test_no_step_of_the_invitations_tells_what_a_hidden_yard_adds(tmp_path):
    """Each step adds one yard, so that the difference of two is that yard's, however many are hidden."""
    plan = small_plan(tmp_path)
    plan = replace(plan, invitation_steps=plan.invitation_steps.assign(connected_m2=[123.4, 234.5, 345.6]))
    public = agreed(plan, [False, False, False, False, False, False, True])
    assert public.invitation_steps["connected_m2"].tolist() == [120.0, 230.0, 350.0]
    assert "invited" not in public.headline["together"]
    assert not any("invited" in entry for entry in public.headline["butterflies"].values())


def test_every_field_of_a_plan_and_of_its_ground_is_decided(tmp_path):
    """What ``public_plan`` does not name would go out as it is; only these may."""
    plan = small_plan(tmp_path)
    empty = {f.name: object() for f in fields(Plan) if getattr(plan, f.name) is None}
    plan = replace(plan, **empty, notes=("x",), edits=("x",), asked={"0007": "x"}, as_edited={"x": b"x"})
    public = agreed(plan, [False, *[True] * 6])
    same = {f.name for f in fields(Plan) if getattr(public, f.name) is getattr(plan, f.name)}
    assert same <= {"knowledge", "timings"}
    both = frozenset(("0007", "0012"))
    site = replace(
        plan.site, relief=object(), sun_terms=object(), sun_known=object(), notes=("x",), tests={"ph": both},
        unpaved=both, walked=dict.fromkeys(both, frozenset()),
    )  # fmt: skip
    less = agreed(replace(plan, site=site), [False, *[True] * 6]).site
    kept = {f.name for f in fields(Site) if getattr(less, f.name) is getattr(site, f.name)}
    assert kept == {"grid", "placeable", "by_tests"}
    assert less.tests == {"ph": less.unpaved}
    assert len(less.unpaved) == len(less.walked) == 1
    assert not less.unpaved & both


def test_a_new_output_is_not_public_unless_somebody_says_so():
    """Each of these is made of the reduced plan and searched for secrets in ``test_reduce``."""
    assert {output.name for output in OUTPUTS if output.audience == EVERYBODY} == {
        "page.html", "sheets/", "teaching/", "maps/", "shopping.csv", "lists/", "lists/plant-schedule.csv",
        "calendar.ics", "plan.gpkg", "styles/", "geojson/", "plan.dxf", "rasters/", "summary.txt", "run.json",
        "timings.json", "files.json",
    }  # fmt: skip
