"""The map of the corridor."""

from dataclasses import replace

import numpy as np

from habitat.report.maps.corridor import corridor_drawings, spots_of
from habitat.report.maps.style import Sheet, style


def test_where_ways_meet_something_is_drawn(plan, monkeypatch):
    """A disc where it breeds, a square where adults only stop for nectar; the legend says so."""
    found = {}
    monkeypatch.setattr(Sheet, "save", lambda sheet, folder, name: found.update({name: sheet}) or [])
    table = plan.yard_butterflies.copy()
    table.loc[table["yard_id"] == "0013", ["habitat_m2", "habitat_before_m2"]] = 0.0
    bare = replace(plan, yard_butterflies=table)
    with style():
        for draw in corridor_drawings(bare):
            draw(bare, None)
    sheet = found["corridor-monarch"]
    links = plan.links[(plan.links["butterfly"] == "Danaus plexippus") & (plan.links["state"] == "members")]
    ends = {*links["from_yard"], *links["to_yard"]} & set(plan.yards["yard_id"])
    assert len(ends) == 5
    spots = spots_of(bare, "Danaus plexippus")
    discs, stones = (
        np.vstack([c.get_offsets() for c in sheet.figure.axes[0].collections if c.get_zorder() == z])
        for z in (14.5, 15)
    )
    for yard in ends:
        drawn = stones if yard == "0013" else discs
        assert np.hypot(*(drawn - (spots[yard].x, spots[yard].y)).T).min() < 0.01, yard
    said = {t.get_text().replace("\n", " ") for g in sheet.figure.legends for t in g.get_texts()}
    assert {"nectar only, a stop on the way (1)", "buildings", "yards"} <= said
