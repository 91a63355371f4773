"""The page of opened results in a real browser, at the width of a phone: every edit, by keys and taps."""

import shutil
import threading

import pytest
from selenium.common.exceptions import StaleElementReferenceException
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys
from selenium.webdriver.support.ui import Select, WebDriverWait

from habitat.report.words.figures import figure_words
from habitat.report.words.numbers import METRIC, money
from habitat.what_if.listening import listen_on
from habitat.what_if.server import Door, make_app
from habitat.what_if.session import Session
from tests.report.browser import browser, violations

WIDE, HIGH = 390, 844


@pytest.fixture(scope="module")
def opened(street, tmp_path_factory):
    """Serve a copy of the results; give the session and the browser that was let in."""
    folder = shutil.copytree(street.folder, tmp_path_factory.mktemp("opened") / "results")
    session, server = Session(folder, street.path), listen_on(0)
    door = Door(server.port)
    server.app = make_app(session, door, lambda *_: None)
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    try:
        with browser(tmp_path_factory.mktemp("profile"), WIDE, HIGH, phone=True) as driver:
            driver.implicitly_wait(5)
            driver.get(door.address)
            yield session, driver
    finally:
        server.shutdown()
        server.server_close()


class Page:
    def __init__(self, opened):
        self.session, self.driver = opened

    def find(self, css):
        return self.driver.find_element(By.CSS_SELECTOR, css)

    def tap(self, css):
        found = self.find(css)
        self.driver.execute_script(
            "arguments[0].scrollIntoView({block: 'center', behavior: 'instant'})", found
        )
        found.click()

    def said(self, words):
        """Wait until the status line says something, and return it."""
        WebDriverWait(self.driver, 20).until(lambda d: words in d.find_element(By.ID, "said").text)
        return self.find("#said").text

    def yard(self, name):
        box = self.find("#find")
        box.clear()
        box.send_keys(name, Keys.ENTER)
        WebDriverWait(self.driver, 20, ignored_exceptions=[StaleElementReferenceException]).until(
            lambda d: (
                d.find_elements(By.ID, "mine-title") and name in d.find_element(By.ID, "mine-title").text
            )
        )

    def figures(self):
        rows = self.driver.execute_script(
            "return [...document.querySelectorAll('#figures tbody tr')]"
            ".map((r) => [...r.cells].map((c) => c.textContent))"
        )
        return {row[0]: row[1:] for row in rows}


@pytest.fixture
def page(opened):
    made = Page(opened)
    yield made
    session = made.session
    while len(session.states) > 1:
        session.undo(session.version)
    made.driver.refresh()


def test_the_address_is_spent_and_the_page_stays(page):
    assert page.driver.current_url.endswith("/")
    assert "enter" not in page.driver.current_url
    assert page.driver.title.startswith("What if?")
    assert [e for e in page.driver.get_log("browser") if e["level"] == "SEVERE"] == []


def test_a_bed_is_moved_by_keys_and_undone(page):
    page.yard("A1")
    page.tap("[data-bed]")
    east = page.find("[data-key='k east']")
    east.send_keys(Keys.ARROW_RIGHT, Keys.ARROW_RIGHT)
    page.find("[data-key='k set']").send_keys(Keys.ENTER)
    assert page.said("moved").startswith("Bed 1 moved in yard A1: ")
    bed = page.session.state.raw.beds.iloc[0]["bed_id"]
    was, now = (
        s.raw.beds.set_index("bed_id").geometry[bed].centroid
        for s in (page.session.states[0], page.session.state)
    )
    assert (now.x - was.x, now.y - was.y) == pytest.approx((0.5, 0.0), abs=1e-6)
    page.tap("#undo")
    page.said("Undone")
    assert len(page.session.states) == 1


def test_a_corner_is_dragged_and_a_bed_struck(page):
    page.yard("A1")
    page.tap("[data-bed]")
    page.tap("[data-key='k corner']")
    grip = page.find(".grip[data-corner='0']")
    page.driver.execute_script("arguments[0].scrollIntoView({block: 'center', behavior: 'instant'})", grip)
    ActionChains(page.driver).click_and_hold(grip).move_by_offset(12, -9).release().perform()
    page.said("reshaped")
    shapes = [s.raw.beds.geometry.iloc[0] for s in (page.session.states[0], page.session.state)]
    assert not shapes[1].equals(shapes[0])
    many = len(page.session.state.drawn.beds)
    page.tap("[data-key='k strike']")
    page.said("struck")
    assert len(page.session.state.drawn.beds) == many - 1


def test_counts_swaps_and_strikes_show_what_comes_of_it(page):
    page.yard("A1")
    first = page.session.state.drawn.plantings.query("yard_id == 'A1'").iloc[0]
    page.tap("details.planting summary")
    box = page.find("details.planting input[type=number]")
    box.clear()
    box.send_keys(str(int(first["count"]) + 5), Keys.ENTER)
    assert "cost +" in page.said(f"{int(first['count']) + 5} for")
    plant = page.find("details.planting input[type=text]")
    plant.send_keys("wild bergamot", Keys.ENTER)
    page.said("swapped for Monarda fistulosa")
    page.tap("details.planting[open] button[data-key^='x ']")
    page.said("struck")
    state = page.session.state
    assert first["planting_id"] not in set(state.drawn.plantings["planting_id"])
    told, head = page.figures(), state.found.headline
    area = figure_words(head["together"], "members", "equivalent_area_m2", METRIC)
    assert told["linked breeding ground, as a single place"][2] == area
    assert told["broods a year that yards feed"][2] == f"{head['together']['members']['broods']:,}"
    assert told["plants of those who take part"][1] == money(head["cost_of_members"])


def test_a_wrong_plant_is_told_and_nothing_changes(page):
    page.yard("A1")
    page.tap("details.planting summary")
    page.find("details.planting input[type=text]").send_keys("plastic fern", Keys.ENTER)
    page.said("plastic fern")
    assert len(page.session.states) == 1


def test_a_neighbour_joins_and_a_member_leaves(page):
    page.yard("A4")
    assert "No plan yet" in page.find("#yard").text
    page.tap("[data-key=join]")
    page.said("joined")
    assert page.find("#plan-drawing .bed")
    assert "member" in page.find("#yards [data-place='3']").get_attribute("class")
    page.yard("A2")
    page.tap("[data-key=join]")
    page.said("dropped")
    assert page.session.state.role("A2") == "other"


def test_reach_is_tried_and_put_back(page):
    name = page.session.base.request.wishes[0]
    Select(page.find("#butterfly")).select_by_value(name)
    box = page.find("#metres")
    box.clear()
    box.send_keys("25", Keys.ENTER)
    page.said("goes 25 m")
    assert page.session.state.reach_m == {name: 25.0}
    page.tap("#own")
    page.said("as in the study")
    assert not page.session.dirty


def test_a_breach_is_named_beside_the_yard_and_for_all(page):
    bed = page.session.state.raw.beds.query("yard_id == 'A1'")["bed_id"].iloc[0]
    page.session.step(
        {"do": "move", "yard": "A1", "bed": bed, "east_m": 40.0, "north_m": 0.0}, page.session.version
    )
    page.driver.refresh()
    assert "outside the yard" in page.find("#warned").text


def test_another_window_is_told_of_and_the_page_shows_what_stands(page):
    page.yard("A1")
    row = page.session.state.raw.plantings.query("yard_id == 'A1'").iloc[0]
    edit = {"do": "count", "yard": "A1", "planting": row["planting_id"], "count": 1}
    page.session.step(edit, page.session.version)
    page.tap("[data-key=join]")
    page.said("in another window")
    assert page.session.state.role("A1") == "member"
    WebDriverWait(page.driver, 20).until(lambda d: d.find_element(By.ID, "undo").is_enabled())


def test_text_from_data_is_text(page):
    page.yard("A6 <b>x")
    assert page.find("#mine-title").text == "Yard A6 <b>x"
    assert page.driver.execute_script("return document.querySelectorAll('#yard b').length") == 0


def test_targets_are_large_nothing_is_cut_and_axe_finds_nothing(page):
    """WCAG 2.2, success criterion 2.5.5: 44 by 44 CSS pixels; axe-core, levels A and AA, light and dark."""
    page.yard("A1")
    page.tap("[data-bed]")
    page.tap("[data-key='k corner']")
    page.tap("details.planting summary")
    small = page.driver.execute_script(
        "return [...document.querySelectorAll('button, select, input, summary, nav a, a.button')]"
        ".filter((e) => e.offsetParent).map((e) => [e.outerHTML.slice(0, 80), e.getBoundingClientRect()])"
        ".filter(([, r]) => r.width < 43.9 || r.height < 43.9).map(([e]) => e)"
    )
    assert small == []
    assert page.driver.execute_script("return document.documentElement.scrollWidth") <= WIDE
    for scheme in ("light", "dark"):
        media = {"features": [{"name": "prefers-color-scheme", "value": scheme}]}
        page.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", media)
        assert violations(page.driver) == []
    page.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": []})


def test_saving_by_the_page(opened):
    """Last, since it is not undone."""
    page = Page(opened)
    page.yard("A1")
    page.tap("details.planting summary")
    box = page.find("details.planting input[type=number]")
    box.clear()
    box.send_keys("7", Keys.ENTER)
    page.said("7 for")
    page.tap("#save")
    page.said("Saved")
    assert not page.session.dirty
    assert page.find("#redraw").is_enabled()
