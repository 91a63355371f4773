"""Which column is which."""

from tests.layers import builders as make
from tests.layers.table_cases import holds_the_four_plants


def test_columns_may_be_named_by_the_study(with_plants):
    data = make.plants_text(header="plant_id,what,b,a,how many").replace("how many", "num ber")
    result = with_plants(data, x="a", y="b", crs="EPSG:4326", columns={"plant": "what", "count": "num ber"})
    holds_the_four_plants(result)
    result = with_plants(data, x="a", y="b", crs="EPSG:4326", columns={"plant": "wat"})
    assert "did you mean 'what'?" in result["error"]["message"].lower()
    assert "states only one of x and y" in with_plants(data, x="a")["error"]["message"]
    assert "no column plant" in with_plants(data, x="a", y="b", crs="EPSG:4326")["error"]["message"]
