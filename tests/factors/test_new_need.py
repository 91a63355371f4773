"""A need that nobody thought of is one entry and data: an invented one goes the way of the others."""

import numpy as np
import pypdf
import pytest

import habitat
from habitat.commands.why.answer import explain_plant
from habitat.errors import KnowledgeError, RasterError, StudyError
from habitat.factors import FACTORS, Factor, at_most
from habitat.knowledge import load_knowledge
from habitat.pipeline.reading import read_layers
from habitat.pipeline.survey import survey
from habitat.report.package.tables import described
from habitat.report.sheets.files import write_sheets
from habitat.report.sheets.words import measurable
from habitat.settings.knowledge import KnowledgeSettings
from tests.layers import builders as make

WIND = Factor(
    name="wind_m_s",
    words="wind",
    title="wind in summer",
    unit="m/s",
    possible=(0.0, 40.0),
    source="Hurricanes blow at 33 m/s and more: Beaufort scale.",
    wants=at_most(("wind_full_m_s", "wind_max_m_s"), 0.0, 40.0),
    test_column="number",
    aliases=("wind", "wind_speed"),
    too_much="A hedge or fence on the windward side; {gap:.1f} m/s less are wanted.",
    measure="Hang a ribbon in {bed} and compare it with the Beaufort scale on a windy day",
    measure_rank=0,
)
SHAPES = {name: make.box(60 * k, 0, 60 * k + 36, 40) for k, name in enumerate(("calm", "blown"))}
MILKWEED = "Asclepias incarnata"


@pytest.fixture
def wind():
    with FACTORS.adding(WIND) as factor:
        yield factor


def write(folder, speeds=(2.0, 6.0), own="wind_full_m_s,wind_max_m_s\nAsclepias incarnata,4,8\n"):
    """Write two yards with a house each, in a wind of so many m/s, and one plant that says what it bears."""
    make.yards(SHAPES).to_file(folder / "yards.gpkg")
    houses = {str(k): make.box(60 * k + 10, 10, 60 * k + 26, 24) for k in range(2)}
    make.yards(houses, height_m=5.0).to_file(folder / "houses.gpkg")
    (folder / "people.csv").write_text("yard_id,role\ncalm,member\nblown,member\n", encoding="utf-8")
    blows = np.full((8, 20), speeds[0])
    blows[:, 9:] = speeds[1]  # cells of 5 m: it changes 45 m on, between the yards
    make.raster(folder, blows, "wind.tif", nodata=np.nan)
    layers = {"yards": "yards.gpkg", "buildings": "houses.gpkg", "participants": "people.csv"}
    path = make.study(folder, layers, {"wind_m_s": "wind.tif"})
    (folder / "own.csv").write_text("scientific_name," + own, encoding="utf-8")
    path.write_text(path.read_text() + '\n[knowledge]\nplants = "own.csv"\n', encoding="utf-8")
    return path


def test_an_entry_and_data_bring_a_need_into_plan_sheet_and_package(wind, tmp_path):
    plan = habitat.run(habitat.read_study(write(tmp_path)))
    yards = plan.site.yards.set_index("yard_id")
    assert yards["wind_m_s_mean"].to_dict() == pytest.approx({"calm": 2.0, "blown": 6.0})
    assert (yards["wind_m_s_source"] == "raster").all()
    write_sheets(plan, tmp_path / "sheets")
    pages = pypdf.PdfReader(tmp_path / "sheets" / "yard-blown.pdf").pages
    text = " ".join(" ".join(page.extract_text() for page in pages).split())
    assert "wind in summer" in text
    assert measurable()[0] == "wind_m_s"  # the least effort
    unit, meaning = described("yards", "wind_m_s_mean")
    assert (unit, meaning) == ("m/s", "wind in summer, mean over the yard; empty if unknown")


def test_why_tells_of_it_what_is_here_what_is_wanted_and_what_to_change(wind, tmp_path):
    path = write(tmp_path)
    calm, blown = (explain_plant(path, yard, MILKWEED) for yard in SHAPES)
    told = {yard["yard_id"]: next(n for n in yard["needs"] if n["need"] == "wind") for yard in (calm, blown)}
    assert told["calm"]["score"] == 1.0
    assert told["blown"]["score"] == pytest.approx(0.5)  # 6 m/s, half way from 4 to 8
    assert told["blown"]["here"] == "6 m/s"
    assert told["blown"]["wanted"] == "best up to 4, lives with up to 8 m/s"
    assert told["blown"]["limiting"]
    assert "Wind: a hedge or fence on the windward side; 2.0 m/s less are wanted." in blown["advice"]
    assert "limited by wind (S2)" in blown["sentence"]
    other = explain_plant(path, "blown", "Asclepias syriaca")
    assert next(n for n in other["needs"] if n["need"] == "wind")["state"] == "not stated"


def test_a_soil_test_may_tell_it_under_any_of_its_headings(wind, tmp_path):
    path = write(tmp_path)
    (tmp_path / "tests.csv").write_text("yard_id,Wind Speed\nblown,3.5\n", encoding="utf-8")
    path.write_text(path.read_text() + '\n[layers.soil_tests]\npath = "tests.csv"\n', encoding="utf-8")
    study = habitat.read_study(path)
    yards = survey(study, read_layers(study)).yards.set_index("yard_id")
    assert yards.loc["blown", "wind_m_s_mean"] == 3.5
    assert yards.loc["blown", "wind_m_s_source"] == "soil test"


def test_what_cannot_be_is_refused_by_its_range(wind, tmp_path):
    with pytest.raises(RasterError, match="out of the range 0 to 40 of wind"):
        read_layers(habitat.read_study(write(tmp_path, speeds=(200.0, 300.0))))
    write(tmp_path, own="wind_full_m_s,wind_max_m_s\nAsclepias incarnata,9,8\n")
    with pytest.raises(KnowledgeError, match="wind_full_m_s, wind_max_m_s: must not fall"):
        load_knowledge(KnowledgeSettings(plants="own.csv"), tmp_path)


def test_without_its_entry_nothing_knows_of_it(tmp_path):
    with pytest.raises(StudyError, match="unknown raster 'wind_m_s'"):
        habitat.read_study(write(tmp_path))
