"""What a household does with a phone: ten tasks at 390 px, each in at most three taps and two screens."""

import re

import geopandas as gpd
import pytest
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys
from selenium.webdriver.support.ui import Select

from habitat.report.package.geopackage import write_geopackage
from habitat.report.page.page import write_page
from tests.report.bought import as_bought
from tests.report.browser import browser, violations
from tests.report.small_plan import small_plan

YARD, ADDRESS = "0007", "3 Heron Lane"
CONTACT = "Ines, 555-0142"
MOST_TAPS, MOST_SCREENS = 3, 2
WIDE, HIGH = 390, 844


@pytest.fixture(scope="module")
def plan(tmp_path_factory):
    sections = {"study": {"contact": CONTACT}, "planting": {"currency": "dollars"}}
    return small_plan(tmp_path_factory.mktemp("study"), **sections)


@pytest.fixture(scope="module")
def folder(plan, tmp_path_factory):
    folder = tmp_path_factory.mktemp("page")
    write_page(plan, folder / "page.html")
    write_geopackage(plan, folder / "plan.gpkg")
    return folder


@pytest.fixture(scope="module")
def driver(tmp_path_factory):
    with browser(tmp_path_factory.mktemp("profile"), WIDE, HIGH, phone=True) as made:
        made.set_script_timeout(120)
        made.implicitly_wait(5)  # an address changes a moment after the tap
        yield made


class Phone:
    """A phone that counts taps and how far what is looked for lies from the top of the screen."""

    def __init__(self, driver, address):
        self.driver, self.taps = driver, 0
        driver.get("about:blank")
        driver.get(address)

    def tap(self, css):
        self.taps += 1
        found = self.driver.find_element(By.CSS_SELECTOR, css)
        self.driver.execute_script(
            "arguments[0].scrollIntoView({block: 'nearest', behavior: 'instant'})", found
        )
        found.click()

    def find_yard(self):
        self.tap("#find")
        self.driver.find_element(By.ID, "find").send_keys(ADDRESS)
        self.tap("#find-list button")

    def read(self, css):
        """Return the text of an element that begins within two screens of where the page stands."""
        found = self.driver.find_element(By.CSS_SELECTOR, css)
        top = self.driver.execute_script("return arguments[0].getBoundingClientRect().top", found)
        assert self.taps <= MOST_TAPS
        assert -1 <= top < MOST_SCREENS * HIGH, (css, top)
        assert found.is_displayed()
        return found.text


@pytest.fixture
def phone(driver, folder):
    return Phone(driver, (folder / "page.html").as_uri())


def mine(folder, layer):
    table = gpd.read_file(folder / "plan.gpkg", layer=layer)
    return table[table["yard_id"] == YARD]


def jump(phone, name):
    phone.find_yard()
    phone.driver.execute_script("document.documentElement.style.scrollBehavior = 'auto'")
    phone.tap(f"[data-jump={name}]")


def test_find_my_yard(phone):
    phone.find_yard()
    assert phone.read("#mine-title") == ADDRESS
    assert phone.driver.current_url.endswith(f"#yard={YARD}")
    phone.driver.refresh()
    assert phone.read("#mine-title") == ADDRESS


def test_what_do_i_plant(phone, folder):
    jump(phone, "plants")
    assert phone.read("#my-plants") == "What I plant"
    cards = [c.text for c in phone.driver.find_elements(By.CSS_SELECTOR, ".card")]
    table = mine(folder, "plantings")
    for (plant, form), rows in table.groupby(["plant", "form"]):
        card = next(c for c in cards if plant in c and ("packet" in c) == (form == "seed"))
        assert rows.iloc[0]["common_name"] in card
        assert f"{rows['count'].sum()} {as_bought(rows)}" in card
    assert len(cards) == len(table.groupby(["plant", "form"]))


def test_what_blooms_in_may(phone, folder):
    jump(phone, "months")
    Select(phone.driver.find_element(By.ID, "month")).select_by_visible_text("May")
    said = phone.read(".in-bloom")
    table = mine(folder, "plantings")
    nectar = table[table["purpose"].str.contains("nectar")]
    for name, span in zip(nectar["common_name"], nectar["bloom_months"], strict=True):
        first, last = map(int, span.split("-"))
        assert (name in said) == (first <= 5 <= last), name


def test_which_butterfly_when(phone, plan):
    jump(phone, "months")
    assert phone.read("#my-months") == "What to look for"
    row = plan.knowledge.butterflies.loc["Danaus plexippus"]
    for month, name in ((1, "January"), (7, "July")):
        Select(phone.driver.find_element(By.ID, "month")).select_by_visible_text(name)
        said = phone.read("#month-said")
        flies = row["flight_start_month"] <= month <= row["flight_end_month"]
        assert ("monarch: adults fly" in said) == flies


def test_whom_to_talk_to(phone):
    jump(phone, "call")
    assert phone.read("#my-call") == "Whom to call"
    assert CONTACT in phone.driver.find_element(By.CSS_SELECTOR, "section[aria-labelledby=my-call]").text


def test_why_this_bed(phone, folder):
    jump(phone, "why")
    assert phone.read("#my-why") == "Why these plants and beds"
    said = phone.driver.find_element(By.CSS_SELECTOR, "section[aria-labelledby=my-why]").text
    keys = {str(k) for k in mine(folder, "plant_points")["key_number"]}
    told = re.findall(r"^([\d, ]+): \S", said, re.MULTILINE)
    assert keys == {k for numbers in told for k in numbers.split(", ")}


def test_print_my_sheet(phone):
    phone.find_yard()
    assert phone.read(".print a") == "Print my sheet (PDF)"
    link = phone.driver.find_element(By.CSS_SELECTOR, ".print a")
    assert link.get_attribute("href").endswith(f"/sheets/yard-{YARD}.pdf")


def test_what_must_i_not_do(phone):
    jump(phone, "mind")
    assert phone.read("#my-mind") == "Five rules"
    rules = [
        r.text for r in phone.driver.find_elements(By.CSS_SELECTOR, "section[aria-labelledby=my-mind] ol li")
    ]
    assert len(rules) == 5
    assert "811" in rules[0]
    assert any(r.startswith("Spray nothing") for r in rules)


def test_what_does_it_cost(phone, folder):
    jump(phone, "cost")
    told = phone.read("#my-total")
    cost = float(re.search(r"([\d,.]+) dollars", told)[1].replace(",", ""))
    assert cost == pytest.approx(mine(folder, "plantings")["cost"].sum(), abs=0.51)


def test_whom_to_call_before_digging(phone):
    jump(phone, "call")
    assert phone.read("#my-call") == "Whom to call"
    said = phone.driver.find_element(By.CSS_SELECTOR, "section[aria-labelledby=my-call]").text
    assert "utility locating service" in said
    assert "811" in said


def test_a_yard_opens_by_its_link_and_a_wrong_one_is_told(driver, folder):
    page = (folder / "page.html").as_uri()
    assert Phone(driver, f"{page}#yard={YARD}").read("#mine-title") == ADDRESS
    for wrong in ("#yard=nobody", "#yard=%E0%A4%A"):
        assert "no such yard" in Phone(driver, page + wrong).read("#not-found")


def test_the_keyboard_opens_a_yard(phone):
    find = phone.driver.find_element(By.ID, "find")
    find.send_keys(ADDRESS, Keys.ENTER)
    assert phone.driver.find_element(By.ID, "mine-title").text == ADDRESS
    assert phone.driver.switch_to.active_element.get_attribute("id") == "mine-title"


def test_tapping_the_map_opens_a_yard_and_the_group_is_a_second_tab(phone):
    phone.driver.execute_script(
        "document.querySelector('#yards [data-place=\"2\"]')"
        ".dispatchEvent(new MouseEvent('click', {bubbles: true}))"
    )
    assert phone.driver.find_element(By.ID, "mine-plan").text.startswith("Yard 0013")
    phone.tap("[data-tab=group]")
    assert phone.driver.find_element(By.ID, "corridor").is_displayed()
    assert not phone.driver.find_element(By.ID, "mine").is_displayed()


def test_dark_mode_reads_and_200_percent_needs_no_sideways_scrolling(phone):
    """Contrast by axe-core (WCAG 2, criterion 1.4.3); reflow at 320 CSS pixels (criterion 1.4.10)."""
    dark = {"features": [{"name": "prefers-color-scheme", "value": "dark"}]}
    phone.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", dark)
    try:
        phone.find_yard()
        paper = phone.driver.execute_script("return getComputedStyle(document.body).backgroundColor")
        assert sum(map(int, re.findall(r"\d+", paper)[:3])) < 150
        assert violations(phone.driver) == []
        size = {"width": 320, "height": 500, "deviceScaleFactor": 1, "mobile": True}
        phone.driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", size)
        assert phone.driver.execute_script("return document.documentElement.scrollWidth") <= 320
    finally:
        phone.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": []})
        size = {"width": WIDE, "height": HIGH, "deviceScaleFactor": 2, "mobile": True}
        phone.driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", size)


def test_targets_are_large_and_axe_finds_nothing(phone):
    """WCAG 2.2, success criterion 2.5.5: 44 by 44 CSS pixels; axe-core for levels A and AA with contrast."""
    for go in (lambda: None, phone.find_yard):
        go()
        small = phone.driver.execute_script(
            "return [...document.querySelectorAll('button, select, input, summary, nav a, a.button')]"
            ".filter((e) => e.offsetParent)"
            ".map((e) => [e.outerHTML.slice(0, 80), e.getBoundingClientRect()])"
            ".filter(([, r]) => r.width < 43.9 || r.height < 43.9).map(([e]) => e)"
        )
        assert small == []
        wide = phone.driver.execute_script("return document.documentElement.scrollWidth")
        assert wide <= WIDE
        assert violations(phone.driver) == []
