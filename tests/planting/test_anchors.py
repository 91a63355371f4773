"""How anchors are read: what each cell names, and which share of each is hosts."""

import geopandas as gpd
import pytest
from shapely.geometry import box

from habitat.planting.anchors import read_anchors
from tests.support.yards import KNOWLEDGE, UTM

MONARCH = "Danaus plexippus"


@pytest.mark.parametrize(
    ("cell", "holds", "told"),
    [
        ("Danaus plexippus, Phyciodes tharos", True, ""),
        ("MONARCH\npearl crescent", True, ""),
        ("All", True, ""),
        ("none", False, ""),
        ("pearl crescent", False, ""),
        ("", None, "nobody has said"),
        (" ; ", None, "nobody has said"),
        (float("nan"), None, "nobody has said"),
        ("monark", None, "'monark'"),
        ("pearl crescent; monark", False, "'monark'"),
    ],
)
def test_how_a_cell_is_read(cell, holds, told):
    """A fen of 100 m2, a tenth of it hosts by the study's share."""
    frame = gpd.GeoDataFrame({"name": ["Fen"], "butterflies": [cell]}, geometry=[box(0, 0, 10, 10)], crs=UTM)
    (anchor,), notes = read_anchors(frame, KNOWLEDGE, 0.1)
    assert anchor.holds(MONARCH) is holds
    assert anchor.host_m2 == pytest.approx(10.0)
    assert told in " ".join(notes)
    assert bool(notes) is bool(told)


def test_its_own_share_of_hosts_comes_before_the_common_one():
    frame = gpd.GeoDataFrame(
        {"name": ["Wood", "Fen"], "host_share": ["0.5", None], "butterflies": ["all", "all"]},
        geometry=[box(0, 0, 10, 10), box(0, 0, 20, 10)],
        crs=UTM,
    )
    anchors, notes = read_anchors(frame, KNOWLEDGE, 0.1)
    assert {a.place: a.host_m2 for a in anchors} == {"anchor: Fen": pytest.approx(20.0), "anchor: Wood": 50.0}
    assert [a.place for a in anchors] == ["anchor: Fen", "anchor: Wood"]
    assert notes == ()


def test_without_a_layer_there_are_none():
    assert read_anchors(None, KNOWLEDGE, 0.1) == ([], ())
