"""Plans held against each other, and studies whose maps state an error."""

import dataclasses

import pandas as pd


def same(one, two, but=frozenset()):
    """Hold two plans equal, notes too but for those of some kinds."""
    for name in ("beds", "plantings", "plant_points", "yard_results", "yard_butterflies", "breeding"):
        pd.testing.assert_frame_equal(getattr(one, name), getattr(two, name))
    told = [[n for n in plan.notes if n.kind not in but] for plan in (one, two)]
    assert told[0] == told[1]


def with_ph_error(ground, sd):
    rasters = {name: source.model_dump() for name, source in ground.study.rasters.items()}
    rasters["ph"]["error"] = sd
    study = ground.study.changed(rasters=rasters, connectivity={"rank_draws": 24})
    return dataclasses.replace(ground, study=study)
