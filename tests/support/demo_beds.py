"""What a naturalist and a designer ask of all beds of a town, counted from the tables of a plan.

Nine kinds, three in bloom in each season: Indiana CP-42 job sheet, USDA FSA and NRCS, June 2012. Seasons by
whole months. Room of a plant: half the root of three times its spacing squared, a triangular lattice.
"""

import math

import pandas as pd

from tests.support.regions import table

SEASONS = ({3, 4, 5}, {6, 7, 8}, {9, 10, 11})
REGION = "ohio-valley-mid-atlantic"
LOW_VINE_M = 1.5
"""A lower vine scrambles over its neighbours."""


def months(text):
    """Return the months of "5-8" or "5"; none of ""."""
    ends = [int(part) for part in str(text or "").split("-") if part]
    return set(range(ends[0], ends[-1] + 1)) if ends else set()


def forms():
    return table(REGION, "plants").set_index("scientific_name")["form"]


def of_members(tables):
    """Return plantings and beds of the yards that take part."""
    yards = tables["yards"]
    members = set(yards.loc[yards["role"] == "member", "yard_id"])
    return [tables[name][tables[name]["yard_id"].isin(members)] for name in ("plantings", "beds")]


def greatest_shares(plantings, beds, least_m2=6.0):
    """Return the greatest share of one kind in the planted ground of each large herb bed."""
    rows = plantings[plantings["plant"].map(forms()) != "tree"]
    ground = rows["count"] * rows["spacing_m"] ** 2 * math.sqrt(0.75)
    large = beds.loc[(beds["growth_form"] == "herb") & (beds["area_m2"] >= least_m2), "bed_id"]
    by_kind = ground.groupby([rows["bed_id"], rows["plant"]]).sum().unstack(fill_value=0.0)
    return (by_kind.max(axis=1) / by_kind.sum(axis=1)).reindex(large)


def kinds_of(yard_id, plantings, standing):
    """Return how many nectar and host kinds grow in a yard, planned and standing, and how many by season."""
    plants = table(REGION, "plants").set_index("scientific_name")
    mine = plantings[(plantings["yard_id"] == yard_id) & (plantings["purpose"] != "shelter")]
    bloom = {row.plant: months(row.bloom_months) for row in mine.itertuples()}
    for plant in standing.loc[standing["yard_id"] == yard_id, "plant"].dropna():
        row = plants.loc[plant] if plant in plants.index else None
        if row is not None and float(row["nectar_value"]) > 0:
            first, last = int(row["bloom_start_month"]), int(row["bloom_end_month"])
            bloom.setdefault(plant, set(range(first, last + 1)))
    return len(bloom), [sum(bool(m & season) for m in bloom.values()) for season in SEASONS]


def spread_of_kinds(plantings):
    """Return in which share of the planted yards each kind of the upper layers stands."""
    upper = plantings[plantings["layer"] != "ground"]
    return upper.groupby("plant")["yard_id"].nunique() / plantings["yard_id"].nunique()


def vines_without_support(plantings):
    """Return plantings of tall vines whose words name no support."""
    vines = plantings[(plantings["plant"].map(forms()) == "vine") & (plantings["height_m"] > LOW_VINE_M)]
    return vines[~vines["why"].str.contains("on a support of its own")]


def beds_by_yard(beds, plantings):
    return beds.groupby("yard_id").size().reindex(pd.unique(plantings["yard_id"]), fill_value=0)
