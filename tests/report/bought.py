"""What is bought for a number of plants, in words, for the tests of sheets, lists and page."""

import math

from habitat.planting.supply import plants_a_packet


def as_bought(rows):
    """Return the form of the plantings of one plant and form, one or several; for seed how many packets."""
    form, count = rows.iloc[0]["form"], int(rows["count"].sum())
    if form == "seed":
        many = math.ceil(count / plants_a_packet(rows.iloc[0]["spacing_m"]))
        return f"from {many} packet{'s' * (many > 1)}"
    return {"bare root": "bare-root plant"}.get(form, form) + "s" * (count > 1)
