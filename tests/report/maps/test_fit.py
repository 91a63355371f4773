"""Maps of fit."""

from dataclasses import replace

from habitat.report.maps.fit import plants_to_map
from habitat.report.package.rasters import write_rasters


def test_fit_maps_are_called_like_their_rasters(plan, sheets, tmp_path):
    asked = plan.study.changed(suitability={"rasters": plants_to_map(plan)})
    rasters = write_rasters(replace(plan, study=asked), tmp_path)
    made = {p.stem for p in tmp_path.iterdir() if p.stem.startswith("fit-")}
    assert rasters is None or made
    assert made == {name for name in sheets if name.startswith("fit-")}
