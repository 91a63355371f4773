"""Seed by weight, against the published counts of seeds."""

from dataclasses import replace

import pandas as pd
import pytest

from habitat.knowledge.seeds import seeds_per_gram
from habitat.report.lists.buying import seed_grams
from habitat.report.lists.shopping import shopping_table
from tests.support.planting_rules import least


def test_a_square_metre_takes_the_published_number_of_seeds():
    """40 pure live seeds a square foot (Iowa CP-42): at 430 seeds a gram, a gram a square metre."""
    plants = 1.0 / (0.75**0.5 * 0.3**2)
    assert seed_grams(plants, 0.3, least("ag_seeds_total")) == pytest.approx(1.0, rel=0.005)
    assert seed_grams(plants, 0.1, 430.0) == pytest.approx(1.0, rel=0.005)  # sown plants stand no closer


def test_the_list_gives_the_weight_of_what_is_bought_as_seed(eight_plan):
    """Whatever is bought by weight somewhere: as if all whose weight is known came as seed."""
    weighed = eight_plan.plantings["plant"].isin(list(seeds_per_gram()))
    form = eight_plan.plantings["form"].mask(weighed, "seed")
    table = shopping_table(replace(eight_plan, plantings=eight_plan.plantings.assign(form=form)))
    known = table["plant"].isin(list(seeds_per_gram()))
    assert (table.loc[~known, "seed_g"] == "").all()
    assert known.sum() > 3
    grams, packets = pd.to_numeric(table.loc[known, "seed_g"]), table.loc[known, "packets"]
    assert (grams > 0).all()
    per_gram = table.loc[known, "plant"].map(seeds_per_gram())
    assert (grams * per_gram <= packets * 860.0 * 1.06).all()  # a packet is 860 seeds, two figures are told
