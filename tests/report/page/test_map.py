"""The page's map."""

import re
from dataclasses import replace

from habitat.report.page import map as page_map
from habitat.report.page import yards
from habitat.report.page.data import page_data
from habitat.report.page.map import map_frame, map_svg


def test_unknown_says_so(plan):
    yards = plan.yards.assign(ph_mean=float("nan"), known_share=float("nan"), texture=None)

    data = page_data(replace(plan, yards=yards), map_frame(plan))
    facts = dict(zip(data["facts"], data["yards"][0]["facts"], strict=True))
    assert facts["soil reaction (pH)"] == facts["soil texture"] == "unknown"
    assert facts["known of this place"] == "unknown"
    untested = yards.assign(ph_source="not assessed", texture_source="soil test")
    data = page_data(replace(plan, yards=untested), map_frame(plan))
    facts = dict(zip(data["facts"], data["yards"][0]["facts"], strict=True))
    assert (facts["soil reaction (pH)"], facts["soil texture"]) == ("not assessed", "unknown")


def test_in_a_large_town_yards_that_take_no_part_are_outlines(plan, monkeypatch):
    """Seven yards are many here: of 0044, which takes no part, the outline is drawn and not its house."""
    whole = map_svg(plan, map_frame(plan))
    monkeypatch.setattr(yards, "OUTLINES_FROM", 7)
    monkeypatch.setattr(page_map, "NEAR_M", 1.0)  # its house stands nearer than ten to a neighbour's line
    frame = map_frame(plan)
    entries = page_data(plan, frame)["yards"]
    apart = {entry["id"] for entry in entries if entry.get("outline")}
    assert apart == set(plan.yards.loc[plan.yards["role"] == "other", "yard_id"]) == {"0044"}
    (outline,) = [entry for entry in entries if entry["id"] == "0044"]
    assert set(outline) == {"id", "role", "at", "address", "outline"}
    assert all("facts" in entry and "habitat" in entry for entry in entries if entry is not outline)
    few = map_svg(plan, frame)
    assert few.count("data-place") == whole.count("data-place") == len(plan.yards)
    houses, fewer = (re.search(r'class="buildings" d="([^"]*)"', svg)[1].count("M") for svg in (whole, few))
    assert fewer == houses - 1
