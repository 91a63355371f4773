"""A yard of a parcel file in the browser: what is drawn on it is read where it was drawn."""

import pytest
from selenium.webdriver.common.by import By
from selenium.webdriver.support.ui import Select

from habitat.commands.sketch_parcel import write_parcel_sketch
from habitat.errors import MissingFileError, NotFoundError
from habitat.layers.read import read_layers
from habitat.study.files import sources_of
from habitat.study.reading import read_study
from tests.commands.test_sketch import FOOT, HIGH, WIDE, click, finish
from tests.layers import builders as make
from tests.report.browser import browser


@pytest.fixture(scope="module")
def driver(tmp_path_factory):
    with browser(tmp_path_factory.mktemp("profile"), WIDE, HIGH) as made:
        yield made


def test_a_drive_drawn_on_a_known_yard_is_read_where_it_was_drawn(driver, tmp_path):
    """The yard is 30 m by 40 m; its middle is the page's start, east to the right, south down."""
    make.yards(address=make.ADDRESSES).to_file(tmp_path / "yards.gpkg")
    make.yards({"house": make.box(5, 10, 15, 20)}).to_file(tmp_path / "houses.gpkg")
    files = {"yards": "yards.gpkg", "buildings": "houses.gpkg"}
    study = make.study(tmp_path, files)
    path, saved = write_parcel_sketch(tmp_path, "12 Plum Alley", None)
    driver.get(path.as_uri())
    assert "12 Plum Alley" in driver.find_element(By.ID, "lead").text
    assert [item["what"] for item in driver.execute_script("return known")] == ["yard", "building"]
    Select(driver.find_element(By.ID, "what")).select_by_value("paving")
    click(driver, *((x / FOOT, y / FOOT) for x, y in ((8, -20), (11, -20), (11, 4), (8, 4))))
    finish(driver)
    saved.write_text(driver.execute_script("return document.getElementById('text').value"), encoding="utf-8")
    make.study(tmp_path, files | {"more_yards": "more_yards"})
    layers = read_layers(sources_of(read_study(study)))
    (drive,) = layers.frame("paving").geometry
    assert drive.area == pytest.approx(3 * 24, abs=0.05)
    expected = make.box(15 + 8, 20 - 4, 15 + 11, 20 + 20)
    assert (
        drive.symmetric_difference(expected).area < 0.02 * 72 + 24 * 0.6
    )  # north of the grid is off by a degree
    assert layers.frame("buildings").geometry.area.tolist() == [100]


def test_text_from_data_stays_text_on_the_page(driver, tmp_path):
    name = '</script><script>document.title = "gone"</script>'
    make.yards(address=[name, "b", "c"]).to_file(tmp_path / "yards.gpkg")
    make.study(tmp_path, {"yards": "yards.gpkg"})
    path, _ = write_parcel_sketch(tmp_path, "TB-01", None)
    driver.get(path.as_uri())
    assert name in driver.find_element(By.ID, "lead").text
    assert driver.title.startswith("Draw in what is missing")


def test_who_is_not_there_is_named(tmp_path):
    make.yards(address=make.ADDRESSES).to_file(tmp_path / "yards.gpkg")
    make.study(tmp_path, {"yards": "yards.gpkg"})
    with pytest.raises(NotFoundError, match="TB-09"):
        write_parcel_sketch(tmp_path, "TB-09", None)
    with pytest.raises(MissingFileError, match=r"plan\.gpkg"):
        write_parcel_sketch(tmp_path, "TB-01", tmp_path)
