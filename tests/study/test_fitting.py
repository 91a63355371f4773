"""A study's needs and its maps' errors, as suitability takes them."""

import pytest

from habitat.errors import StudyError
from habitat.knowledge import load_knowledge
from habitat.settings.knowledge import KnowledgeSettings
from habitat.study.fitting import errors_not_carried, errors_of, needs_of
from habitat.study.model import Study
from habitat.suitability.maps import NormalError

KNOWLEDGE = load_knowledge(KnowledgeSettings())


def study_with(suitability=None, **errors):
    rasters = {name: {"path": f"{name}.tif", "error": e} for name, e in errors.items()}
    return Study(layers={"yards": {"path": "y.gpkg"}}, rasters=rasters, suitability=suitability or {})


def test_the_study_says_how_needs_combine_and_what_its_maps_may_be_off_by():
    study = study_with({"combine": "geometric", "confidence": 0.8, "draws": 50}, ph=0.4)
    needs = needs_of(study, KNOWLEDGE, ("sun_h", "ph"), ("ph",))
    assert (needs.combine, needs.assessed, needs.by_tests) == ("geometric", ("sun_h", "ph"), ("ph",))
    draws, confidence = needs.tables["doubt"]
    assert (draws.shift.shape, confidence) == ((50, 2), 0.8)
    assert (draws.shift[:, 0] == 0).all()  # no error is stated of the sun


def test_errors_are_read_from_the_rasters():
    study = study_with(ph=0.4, surface_m=2.0, sun_h=None)
    assert errors_of(study) == {"ph": NormalError(sd=0.4)}
    told = errors_not_carried(study)
    assert len(told) == 1
    assert "raster surface_m" in told[0]


@pytest.mark.parametrize(
    ("suitability", "errors", "pattern"),
    [
        ({"confidence": 0.8}, {}, "no raster that fit uses states its error"),
        ({"confidence": 0.8}, {"ph": {"6": 0.5}}, "standard deviation"),
        ({"weights": {"moonlight": 1.0}}, {}, "no need"),
    ],
)
def test_what_makes_no_sense_names_the_study_file(suitability, errors, pattern):
    with pytest.raises(StudyError, match=pattern) as error:
        needs_of(study_with(suitability, **errors), KNOWLEDGE, ("ph",))
    assert "study.toml" in str(error.value)
