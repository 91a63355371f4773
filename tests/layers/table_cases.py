"""The four plants that every way to write a table must give."""

import pytest

from tests.layers import builders as make

PLACES = {name: make.degrees(x, y) for name, _, x, y, _ in make.PLANTS}


def holds_the_four_plants(result):
    assert result["error"] is None, result["error"]
    rows = {r["attributes"]["plant_id"]: r for r in result["layers"]["plants"]["rows"]}
    for name, (lon, lat) in PLACES.items():
        assert rows[name]["lon"] == pytest.approx(lon, abs=1e-5)
        assert rows[name]["lat"] == pytest.approx(lat, abs=1e-5)
    assert sum(p["count"] for p in result["plants"]) == 14
    assert [p["yard_id"] for p in result["plants"]] == ["TB-01", "TB-01", "TB-02", "TB-03"]


def comma(value):
    return f"{value:.7f}".replace(".", ",")
