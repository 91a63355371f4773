"""The page's map."""

from dataclasses import replace

from habitat.report.page.data import page_data
from habitat.report.page.map import map_frame


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
