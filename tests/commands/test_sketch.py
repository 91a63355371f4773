"""Drawing a yard in a real browser, by mouse, finger and keys; what is saved is what habitat reads."""

import io
import json
import math

import pytest
from PIL import Image
from selenium.webdriver.common.actions.action_builder import ActionBuilder
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys
from selenium.webdriver.support.ui import Select, WebDriverWait

from habitat.commands.sketch import write_sketch
from habitat.errors import OutputError
from habitat.layers.read import read_layers
from habitat.study.files import sources_of
from habitat.study.reading import read_study
from tests.commands.calls import call
from tests.report.browser import browser, violations

FOOT = 0.3048
WIDE, HIGH = 1200, 900
PLACE = ("39.9", "-83.1085")
"""Where the scale of the UTM zone is 1 to 1e-6, so that areas on its grid are those on the ground."""


@pytest.fixture
def folder(tmp_path):
    write_sketch(tmp_path / "yard", "2026-03-01")
    return tmp_path / "yard"


@pytest.fixture(scope="module")
def driver(tmp_path_factory):
    with browser(tmp_path_factory.mktemp("profile"), WIDE, HIGH) as made:
        yield made


@pytest.fixture
def page(driver, folder):
    driver.get((folder / "sketch.html").as_uri())
    for name, value in zip(("latitude", "longitude"), PLACE, strict=True):
        driver.find_element(By.ID, name).send_keys(value, Keys.TAB)
    return driver


def by_sides(page, *sides):
    page.find_element(By.ID, "sides").clear()
    page.find_element(By.ID, "sides").send_keys("\n".join(sides))
    page.execute_script("document.getElementById('by-sides').click()")


def draw(page, what, name="", **fields):
    Select(page.find_element(By.ID, "what")).select_by_value(what)
    for key, text in {"name": name, **fields}.items():
        box = page.find_element(By.ID, key)
        box.clear()
        box.send_keys(text)


def on_screen(page, *corners):
    """Return where places on the ground [ft] lie in the window [px]."""
    page.execute_script("document.getElementById('plan').scrollIntoView({behavior: 'instant'})")
    left, top = page.execute_script(
        "const b = document.getElementById('plan').getBoundingClientRect(); return [b.left, b.top]"
    )
    view = page.execute_script("return view")
    return [
        (left + (x * FOOT - view["x"]) * view["perM"], top + (y * FOOT - view["y"]) * view["perM"])
        for x, y in corners
    ]


def click(page, *corners):
    for x, y in on_screen(page, *corners):
        made = ActionBuilder(page)
        made.pointer_action.move_to_location(round(x), round(y)).click()
        made.perform()


def touch(page, *corners):
    for x, y in on_screen(page, *corners):
        at = [{"x": x, "y": y}]
        page.execute_cdp_cmd("Input.dispatchTouchEvent", {"type": "touchStart", "touchPoints": at})
        page.execute_cdp_cmd("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})


def finish(page):
    page.execute_script("document.getElementById('finish').click()")


def saved(page, folder):
    text = page.execute_script("return document.getElementById('text').value")
    (folder / "tape.csv").write_text(text, encoding="utf-8", newline="")
    return read_layers(sources_of(read_study(folder / "study.toml")))


def areas(layers, name):
    return [round(float(a), 2) for a in layers.frame(name).geometry.area]


@pytest.mark.parametrize("way", [click, touch], ids=["mouse", "touch"])
def test_what_is_drawn_is_what_is_read(page, folder, way):
    by_sides(page, "60, 90", "100, 90", "60, 90")
    draw(page, "building", "house", height="20")
    way(page, (12, 30), (44, 30), (44, 58), (12, 58))
    finish(page)
    draw(page, "paving", "drive")
    way(page, (46, 58), (56, 58), (56, 100), (46, 100))
    finish(page)
    draw(page, "fence", 'the "old" fence, north')
    way(page, (0, 0), (60, 0))
    finish(page)
    draw(page, "tree", "oak", height="40", crown="30")
    way(page, (20, 15))
    draw(page, "downspout")
    way(page, (44, 34), (12, 52))
    layers = saved(page, folder)
    square = FOOT**2
    assert areas(layers, "yards") == pytest.approx([6000 * square], abs=0.01)
    assert areas(layers, "buildings") == pytest.approx([32 * 28 * square], abs=0.01)
    assert areas(layers, "paving") == pytest.approx([10 * 42 * square], abs=0.01)
    assert layers.frame("fences").geometry.length.tolist() == pytest.approx([60 * FOOT], abs=0.01)
    assert layers.frame("fences")["name"].tolist() == ['the "old" fence, north']
    tree = layers.frame("trees").iloc[0]
    assert (tree["height_m"], tree["crown_m"]) == pytest.approx((40 * FOOT, 30 * FOOT))
    house, yard = (layers.frame(name).geometry.iloc[0] for name in ("buildings", "yards"))
    assert yard.covers(house)
    outlets = layers.frame("downspouts").geometry
    assert len(outlets) == 2
    assert outlets.distance(house.exterior).max() < 0.01
    assert outlets.iloc[0].distance(outlets.iloc[1]) == pytest.approx(FOOT * math.hypot(32, 18), abs=0.01)
    assert yard.bounds[3] - house.bounds[3] == pytest.approx(30 * FOOT, abs=0.5)  # up is north


def test_the_top_of_the_page_points_where_the_dial_says(page, folder):
    by_sides(page, "60, 90", "100, 90", "60, 90")
    page.execute_script("state.longitude = '-81'")  # the middle of the zone, where grid north is north
    page.find_element(By.ID, "heading").clear()
    page.find_element(By.ID, "heading").send_keys("90", Keys.TAB)  # up is east, so right is south
    west, south, east, north = saved(page, folder).frame("yards").total_bounds
    assert (east - west, north - south) == pytest.approx((100 * FOOT, 60 * FOOT), abs=0.1)


def test_keys_draw_undo_and_metres_are_metres(page, folder):
    Select(page.find_element(By.ID, "unit")).select_by_value("metres")
    plan = page.find_element(By.ID, "plan")
    page.execute_script("document.getElementById('plan').focus()")
    far = Keys.SHIFT + Keys.ARROW_RIGHT * 20 + Keys.NULL
    plan.send_keys(Keys.ENTER, far, Keys.ENTER, Keys.SHIFT + Keys.ARROW_DOWN * 10 + Keys.NULL, Keys.ENTER)
    finish(page)
    text = page.find_element(By.ID, "text")
    drawn = page.execute_script("return state.items.length")
    assert drawn == 1
    assert areas(saved(page, folder), "yards") == pytest.approx([20 * 10 / 2], abs=0.01)
    page.find_element(By.ID, "undo").click()
    assert "yard 1" not in text.get_property("value")
    page.find_element(By.ID, "redo").click()
    assert "yard 1" in text.get_property("value")


def test_a_saved_file_opens_again_as_it_was(page, folder):
    by_sides(page, "60, 90", "100, 90", "60, 90")
    draw(page, "building", 'a "tool, shed"', height="8")
    click(page, (5, 5), (15, 5), (15, 15))
    finish(page)
    draw(page, "downspout", "by the door")
    click(page, (15, 5))
    text = page.execute_script("return document.getElementById('text').value")
    assert text.count("downspout,by the door,") == 1
    path = folder / "again.csv"
    path.write_text(text, encoding="utf-8", newline="")
    page.get((folder / "sketch.html").as_uri())
    page.find_element(By.ID, "open").send_keys(str(path))
    page.implicitly_wait(5)
    assert page.find_elements(By.CSS_SELECTOR, "#items li:nth-child(3)")
    assert page.execute_script("return document.getElementById('text').value") == text


def test_a_scanned_plat_lies_under_the_drawing_at_scale(page, folder):
    scan = folder / "plat.png"
    Image.new("RGB", (400, 300), (255, 0, 0)).save(scan)
    page.find_element(By.ID, "image").send_keys(str(scan))
    page.implicitly_wait(5)
    WebDriverWait(page, 5).until(lambda p: "how wide" in p.find_element(By.ID, "said").text)
    assert not page.execute_script("return document.querySelector('#plan image')")
    page.find_element(By.ID, "image-width").send_keys("100", Keys.TAB)
    picture = "document.querySelector('#plan image')"
    wide, high = page.execute_script(f"const b = {picture}.getBBox(); return [b.width, b.height]")
    assert wide == pytest.approx(100 * FOOT * page.execute_script("return view.perM"))
    assert high / wide == pytest.approx(300 / 400)
    (x, y), *_ = on_screen(page, (50, 30))
    seen = Image.open(io.BytesIO(page.get_screenshot_as_png())).convert("RGB").getpixel((round(x), round(y)))
    assert seen[0] > 200
    assert seen[1] < 200  # red through half its weight: it is painted, not only there


def test_nothing_is_saved_before_lot_and_place_are_there(page):
    page.find_element(By.ID, "save").click()
    assert "Draw the lot first" in page.find_element(By.ID, "said").text


def test_the_page_is_for_all_and_asks_nothing_of_the_network(page):
    by_sides(page, "60, 90", "100, 90", "60, 90")
    assert violations(page) == []
    sent = [json.loads(entry["message"])["message"] for entry in page.get_log("performance")]
    asked = [
        one["params"]["request"]["url"]
        for one in sent
        if one["method"] == "Network.requestWillBeSent" and "sketch.html" in one["params"]["documentURL"]
    ]
    assert asked
    assert [url for url in asked if not url.startswith(("file:", "data:", "blob:"))] == []


def test_the_command_keeps_a_study_that_is_there(tmp_path):
    told = call("sketch", str(tmp_path / "yard"))
    assert "sketch.html" in told
    study = tmp_path / "yard" / "study.toml"
    study.write_text(study.read_text(encoding="utf-8") + "\n# mine\n", encoding="utf-8")
    call("sketch", str(tmp_path / "yard"))
    assert study.read_text(encoding="utf-8").endswith("# mine\n")
    (tmp_path / "other").mkdir()
    (tmp_path / "other" / "letter.txt").write_text("dear", encoding="utf-8")
    with pytest.raises(OutputError):
        call("sketch", str(tmp_path / "other"))
