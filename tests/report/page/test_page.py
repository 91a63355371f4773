"""The page in a real browser: taps, slides, sorts and reads, compared with plan.gpkg; and its parts alone."""

import json
import re
from dataclasses import replace

import geopandas as gpd
import pyogrio
import pytest
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.by import By
from selenium.webdriver.common.keys import Keys
from selenium.webdriver.support.ui import Select

from habitat.report.package.geopackage import write_geopackage
from habitat.report.page.data import page_data
from habitat.report.page.map import map_frame
from habitat.report.page.page import page_html, write_page
from habitat.report.words.figures import area_words
from habitat.report.words.numbers import METRIC, money, share
from tests.report.browser import browser, violations
from tests.report.small_plan import WISHES, small_plan

SIZES = {"phone": (360, 740), "desktop": (1280, 900)}


@pytest.fixture(scope="module")
def folder(plan, tmp_path_factory):
    folder = tmp_path_factory.mktemp("page")
    write_page(plan, folder / "page.html")
    write_geopackage(plan, folder / "plan.gpkg")
    return folder


@pytest.fixture(scope="module", params=SIZES)
def driver(request, folder, tmp_path_factory):
    width, height = SIZES[request.param]
    profile = tmp_path_factory.mktemp("profile")
    with browser(profile, width, height, phone=request.param == "phone") as made:
        made.set_script_timeout(180)
        yield made


@pytest.fixture
def page(driver, folder):
    driver.get((folder / "page.html").as_uri() + "#group")
    driver.refresh()  # an address that differs only behind # is not loaded anew
    return driver


def read(folder, layer):
    return pyogrio.read_dataframe(folder / "plan.gpkg", layer=layer)


def element(page, name):
    return page.find_element(By.ID, name)


def slide(page, steps):
    slider = element(page, "invited")
    slider.send_keys(*([Keys.ARROW_RIGHT] * steps))


def tap_yard(page, place):
    """Press the middle of a yard on the map, as a finger would."""
    path = page.find_element(By.CSS_SELECTOR, f'#yards [data-place="{place}"]')
    hold = element(page, "map-hold")
    page.execute_script("arguments[0].scrollIntoView({block: 'center', behavior: 'instant'})", hold)
    x, y = page.execute_script(
        "const yard = JSON.parse(document.getElementById('plan-data').textContent).yards[arguments[0]];"
        "const at = new DOMPoint(yard.at[0], yard.at[1])"
        ".matrixTransform(document.getElementById('map').getScreenCTM());"
        "return [Math.round(at.x), Math.round(at.y)]",
        place,
    )
    actions = ActionChains(page)
    actions.w3c_actions.pointer_action.move_to_location(x, y)
    actions.w3c_actions.pointer_action.click()
    actions.perform()
    return path


def rows(page, css):
    script = (
        "return [...document.querySelectorAll(arguments[0])]"
        ".map((r) => [...r.cells].map((c) => c.textContent.trim()))"
    )
    return page.execute_script(script, css)


def test_it_opens_without_errors_and_without_a_network(page):
    assert page.title == "Heron Lane"
    assert [e for e in page.get_log("browser") if e["level"] in ("SEVERE", "WARNING")] == []
    asked = [json.loads(e["message"])["message"] for e in page.get_log("performance")]
    sent = [m["params"] for m in asked if m["method"] == "Network.requestWillBeSent"]
    here = page.current_url.partition("#")[0]
    urls = {m["request"]["url"] for m in sent if m.get("documentURL", "").startswith(here)}
    assert urls == {here}


def test_it_fits_the_width(page):
    wide, shown = page.execute_script(
        "return [document.documentElement.scrollWidth, document.documentElement.clientWidth]"
    )
    assert wide <= shown


def test_tapping_a_yard_shows_its_plan(page, folder):
    yards, plantings = read(folder, "yards"), read(folder, "plantings")
    path = tap_yard(page, 2)
    assert "chosen" in path.get_attribute("class")
    name = yards["yard_id"][2]
    assert element(page, "yard-plan").find_element(By.TAG_NAME, "h3").text == f"Yard {name}"
    mine = plantings[plantings["yard_id"] == name]
    shown = rows(page, "#yard-plan table:first-of-type tbody tr")[: len(mine)]
    assert sorted(r[1] for r in shown) == sorted(
        f"{a} {b}" for a, b in zip(mine["common_name"], mine["plant"], strict=True)
    )
    assert sum(int(r[2]) for r in shown) == mine["count"].sum()
    assert f"{mine['count'].sum()} plants planned" in element(page, "yard-said").text
    points = read(folder, "plant_points")
    circles = page.find_elements(By.CSS_SELECTOR, "#plan-drawing .crown")
    assert len(circles) == (points["yard_id"] == name).sum()
    beds = read(folder, "beds")
    assert len(page.find_elements(By.CSS_SELECTOR, "#plan-drawing .bed")) == (beds["yard_id"] == name).sum()
    link = element(page, "yard-plan").find_element(By.CSS_SELECTOR, "a[href^=sheets]")
    assert link.get_attribute("href").endswith(f"/sheets/yard-{name}.pdf")


def test_a_yard_is_parsed_only_when_it_is_opened(page):
    known = "return plan.yards.map((yard) => 'facts' in yard)"
    before = page.execute_script(known)
    assert not any(before)
    tap_yard(page, 2)
    assert page.execute_script(known) == [k == 2 for k in range(len(before))]


def test_life_cycles_are_those_of_the_tables(page, folder):
    tap_yard(page, 1)
    worth = read(folder, "yard_butterflies").set_index(["yard_id", "butterfly"])
    shown = [r for r in rows(page, "#yard-plan tbody tr") if len(r) == 4]
    assert len(shown) == len(WISHES)
    for butterfly, row in zip(WISHES, shown, strict=True):
        entry = worth.loc[("0012", butterfly)]
        assert row[0] == entry["common_name"]
        assert float(row[1].split()[0]) == pytest.approx(entry["habitat_before_m2"], abs=0.051)
        assert float(row[2].split()[0]) == pytest.approx(entry["habitat_m2"], abs=0.051)
        assert row[3].startswith(entry["verdict"])
        assert ("missing: " in row[3]) == bool(entry["missing"])


@pytest.mark.parametrize("invited", [0, 1, 2])
def test_sliding_shows_the_area_of_each_step(page, folder, invited):
    steps = read(folder, "invitation_steps").set_index("invited")
    slide(page, invited)
    assert element(page, "invited-count").text == str(invited)
    figures = read(folder, "corridor").fillna({"butterfly": ""}).set_index(["butterfly", "state"])
    area = figures["equivalent_area_m2"]
    one = steps.loc[invited, "Danaus plexippus"] * area["Danaus plexippus", "everyone"]
    together = steps.loc[invited, "connected_m2"]
    said = element(page, "score").text
    assert f"{area_words(*[together] * 3, units=METRIC)} for all" in said
    assert f"{area_words(*[one] * 3, units=METRIC)} for the monarch" in said
    if invited in (0, 2):  # the members alone, and with all that might be asked
        whole = area["", "members" if invited == 0 else "everyone"]
        assert together == pytest.approx(whole, rel=1e-9)
    joined = page.find_elements(By.CSS_SELECTOR, "#yards .joined")
    assert len(joined) == invited
    assert len(page.find_elements(By.CSS_SELECTOR, "#marks .rank")) == invited


def test_switching_the_butterfly_changes_map_score_and_table(page, folder):
    worth, yards = read(folder, "yard_butterflies"), read(folder, "yards")
    for place, butterfly in enumerate(WISHES):
        Select(element(page, "butterfly")).select_by_index(place)
        mine = worth[worth["butterfly"] == butterfly].set_index("yard_id")
        figures = read(folder, "corridor")
        mine_now = figures[(figures["butterfly"] == butterfly) & (figures["state"] == "members")]
        area = mine_now["equivalent_area_m2"].item()
        assert f"{area_words(*[area] * 3, units=METRIC)} for the" in element(page, "score").text
        table_rows = {r[0]: r for r in rows(page, "#yard-table tbody tr")}
        for yard, role in zip(yards["yard_id"], yards["role"], strict=True):
            column = "habitat_m2" if role == "member" else "habitat_before_m2"
            shown = float(table_rows[yard][7].replace(",", ""))
            assert shown == pytest.approx(mine.loc[yard, column], abs=0.051), (yard, butterfly)
        full = {
            int(p.get_attribute("data-place")) for p in page.find_elements(By.CSS_SELECTOR, "#yards .full")
        }
        expected = (yards["role"] == "member") & (yards["yard_id"].map(mine["missing"]) == "")
        assert full == set(yards.index[expected])


def test_the_chain_is_drawn_and_told(page, folder):
    Select(element(page, "butterfly")).select_by_index(WISHES.index("Papilio troilus"))
    chain = read(folder, "chain")
    mine = chain[(chain["butterfly"] == "Papilio troilus") & (chain["state"] == "members")]
    assert len(page.find_elements(By.CSS_SELECTOR, "#chain .chain")) == len(mine)
    assert len(page.find_elements(By.CSS_SELECTOR, "#chain .weakest")) == mine["weakest"].sum()
    told = rows(page, "#chain-words tbody tr")
    assert [r[1] for r in told] == [str(n) for n in mine["step"]]
    assert [r[5] for r in told] == [share(p, p, p) for p in mine["passage"]]
    assert [r[6] != "" for r in told] == mine["weakest"].tolist()


def test_what_is_planted_can_be_chosen(page, plan, folder):
    together = plan.headline["together"]
    links = read(folder, "links")
    links = links[links["butterfly"] == WISHES[0]]
    for state in ("today", "members", "everyone"):
        page.execute_script(
            "const it = document.querySelector(`input[value=${arguments[0]}]`); it.click();", state
        )
        area = together[state]["equivalent_area_m2"]
        assert f"{area_words(*[area] * 3, units=METRIC)} for all" in element(page, "score").text
        drawn = page.find_element(By.CSS_SELECTOR, "#ways .way").get_attribute("d")
        assert drawn.count("M") == (links["state"] == state).sum()


def test_the_table_sorts_and_searches(page, folder):
    yards = read(folder, "yards")
    by_role = [i for r in ("member", "candidate", "other") for i in yards.loc[yards["role"] == r, "yard_id"]]
    assert [r[0] for r in rows(page, "#yard-table tbody tr")] == by_role
    heads = page.find_elements(By.CSS_SELECTOR, "#yard-table th button")
    cost = next(b for b in heads if b.text.strip().startswith("cost"))
    page.execute_script("arguments[0].click()", cost)
    shown = [float(r[-1]) for r in rows(page, "#yard-table tbody tr")]
    assert shown == sorted(yards["cost"], reverse=True)
    page.execute_script("arguments[0].click()", cost)
    shown = [float(r[-1]) for r in rows(page, "#yard-table tbody tr")]
    assert shown == sorted(yards["cost"])
    head = cost.find_element(By.XPATH, "..")
    assert head.get_attribute("aria-sort") == "ascending"
    search = element(page, "search")
    search.send_keys("15 heron")
    assert [r[0] for r in rows(page, "#yard-table tbody tr")] == ["0044"]
    assert element(page, "found").text == "1 of 7 yards"
    search.send_keys(Keys.CONTROL, "a")
    search.send_keys("spicebush")
    assert len(rows(page, "#yard-table tbody tr")) == 6


def test_everything_works_from_the_keyboard(page):
    hold = element(page, "map-hold")
    page.execute_script("arguments[0].focus()", hold)
    box = lambda: [float(v) for v in element(page, "map").get_dom_attribute("viewBox").split()]  # noqa: E731
    whole = box()
    hold.send_keys("+")
    closer = box()
    assert closer[2] == pytest.approx(0.6 * whole[2], rel=1e-3)
    hold.send_keys(Keys.ARROW_RIGHT)
    assert box()[0] > closer[0]
    hold.send_keys(Keys.ARROW_UP)
    assert box()[1] < closer[1]
    hold.send_keys("0")
    assert box() == whole
    pick = Select(element(page, "yard-pick"))
    pick.select_by_value("0")
    assert "Yard 0007" in element(page, "yard-plan").text
    button = page.find_element(By.CSS_SELECTOR, "#yard-table tbody button")
    button.send_keys(Keys.ENTER)
    assert page.switch_to.active_element.get_attribute("id") == "yard"
    assert box()[2] < whole[2]


def test_the_buttons_move_the_map(page):
    box = lambda: [float(v) for v in element(page, "map").get_dom_attribute("viewBox").split()]  # noqa: E731
    whole = box()
    for move, check in (
        ("in", lambda b: b[2] < whole[2]),
        ("west", lambda b: b[0] >= 0),
        ("out", lambda b: b == whole),
        ("all", lambda b: b == whole),
    ):
        button = page.find_element(By.CSS_SELECTOR, f"[data-move={move}]")
        page.execute_script("arguments[0].click()", button)
        assert check(box()), move


def test_targets_are_large_enough_for_a_finger(page):
    """WCAG 2.2, success criterion 2.5.5: at least 44 by 44 CSS pixels, links within a sentence aside."""
    tap_yard(page, 0)
    small = page.execute_script(
        "return [...document.querySelectorAll('button, select, input, summary, nav a')]"
        ".filter((e) => e.offsetParent && !e.hidden)"
        ".map((e) => [e.outerHTML.slice(0, 80), e.getBoundingClientRect()])"
        ".filter(([, r]) => r.width < 43.9 || r.height < 43.9).map(([e]) => e)"
    )
    assert small == []


def test_axe_finds_nothing(page):
    """WCAG 2.0 to 2.2, levels A and AA, as axe-core checks them; with a yard chosen and a step invited."""
    tap_yard(page, 0)
    slide(page, 1)
    assert violations(page) == []


def test_equal_plans_give_equal_pages(folder, tmp_path):
    write_page(small_plan(tmp_path / "study"), tmp_path / "page.html")
    assert (tmp_path / "page.html").read_bytes() == (folder / "page.html").read_bytes()


ODD_NAMES = (
    "<script>alert(1)</script>",
    '=HYPERLINK("http://x","y")',
    "#set page(width: 1pt)</title></script><!--",
    "../../x",
    "\u202egnol \u05d0\u05d1",
    "L" * 300,
    '"><img src=x onerror=alert(1)>',
)


def test_the_legend_names_whatever_is_drawn(plan):
    page = page_html(plan)
    drawing, legend = (
        re.search(p, page, re.DOTALL)[0] for p in ('<svg id="map".*?</svg>', '<ul class="legend".*?</ul>')
    )
    for kind in ("yard", "anchor", "streets", "water", "buildings", "trees", "beds"):
        assert re.search(rf'class="{kind}[ "]', legend), kind
    drawn = set(re.findall(r'class="([a-z-]+)', drawing))
    assert {"yard", "anchor", "streets", "buildings", "trees", "beds"} <= drawn
    told = set(re.findall(r'class="([a-z-]+)', legend))
    assert drawn - told <= {
        "ground",
        "paving",
        "place",  # a name on the map, as that of a street
        "street",
        "wild-ground",
        "wild-dot",
        "some-ground",
        "some-line",
    }


def test_the_head_tells_what_those_who_take_part_pay(plan):
    """Plans of yards that have not joined are no cost of the group's yet."""
    members = plan.yards.loc[plan.yards["role"] == "member", "yard_id"]
    mine = plan.plantings[plan.plantings["yard_id"].isin(members)]
    head = page_html(plan).split('id="group"')[1].split("<section")[0]
    assert f"{mine['count'].sum()} plants for them cost {money(mine['cost'].sum())}" in head
    assert f"with all that could join {plan.plantings['count'].sum()} plants of" in head
    assert f"cost {money(plan.plantings['cost'].sum())}." in head


@pytest.fixture(scope="module")
def odd_plan(tmp_path_factory):
    return small_plan(tmp_path_factory.mktemp("odd"), yard_ids=ODD_NAMES)


def test_odd_yard_names_break_nothing(odd_plan):
    page = page_html(odd_plan)
    assert page.count("<script") == page.count("</script>") == 2 + page.count('json" id="yard-')
    assert "<img" not in page
    assert "<!--" not in page
    data = json.loads(re.search(r'id="plan-data">(.*?)</script>', page, re.DOTALL)[1])
    assert data["yards"][0]["id"] == ODD_NAMES[0]


def test_odd_yard_names_in_a_browser(odd_plan, tmp_path):
    write_page(odd_plan, tmp_path / "page.html")
    with browser(tmp_path / "profile", 390, 844, phone=True) as page:
        page.get((tmp_path / "page.html").as_uri() + "#group")
        for place in range(7):
            Select(element(page, "yard-pick")).select_by_value(str(place))
            assert element(page, "yard-plan").find_element(By.TAG_NAME, "h3").text.startswith("Yard ")
            wide, shown = page.execute_script(
                "return [document.documentElement.scrollWidth, document.documentElement.clientWidth]"
            )
            assert wide <= shown, ODD_NAMES[place]
        for place in range(7):
            page.execute_script("openYard(arguments[0])", place)
            page.refresh()
            assert element(page, "mine").is_displayed(), ODD_NAMES[place]
            wide = page.execute_script("return document.documentElement.scrollWidth")
            assert wide <= 390, ODD_NAMES[place]
        assert [e for e in page.get_log("browser") if e["level"] == "SEVERE"] == []


def test_units_and_audience_follow_the_study(plan):
    study = plan.study.changed(report={"units": "us"})
    data = page_data(replace(plan, study=study), map_frame(plan))
    assert data["us"] is True
    assert dict(zip(data["facts"], data["yards"][0]["facts"], strict=True))["area"].endswith("sq ft")
    assert "For the group only" in page_html(plan)


def test_a_plan_without_corridor_or_plants_still_makes_a_page(plan):
    bare = replace(
        plan,
        beds=plan.beds.iloc[:0],
        plantings=plan.plantings.iloc[:0],
        plant_points=plan.plant_points.iloc[:0],
        links=gpd.GeoDataFrame(geometry=[], crs=plan.layers.crs),
        chain=gpd.GeoDataFrame(geometry=[], crs=plan.layers.crs),
        invitations=gpd.GeoDataFrame(geometry=[], crs=plan.layers.crs),
        invitation_steps=plan.invitation_steps.iloc[:0],
    )
    assert "Nobody to ask yet" in page_html(bare)


def test_figures_on_the_page_are_as_coarse_as_the_reach_makes_them(plan):
    """The area from 2,000 to 8,000 m2: thousands only, on the page and while sliding; gains likewise."""
    together = {s: {"equivalent_area_m2": 4321.0, "broods": 12} for s in ("today", "members", "everyone")}
    for reach, m2 in (("low_reach", 2345.0), ("high_reach", 8123.0)):
        together[reach] = {s: {"equivalent_area_m2": m2} for s in ("today", "members", "everyone")}
    steps = plan.invitation_steps.assign(connected_m2=4321.0)
    asked = plan.invitations.assign(gain_m2_low_reach=10.0, gain_m2_high_reach=90.0, kept_share=0.7)
    wide = replace(
        plan, headline=plan.headline | {"together": together}, invitation_steps=steps, invitations=asked
    )
    data = page_data(wide, map_frame(wide))
    assert set(data["together"]) == {"4,000 m² (2,000 to 8,000 m²)"}
    assert {s["together"] for s in data["steps"]} == {"4,000 m² (2,000 to 8,000 m²)"}
    page = page_html(wide)
    assert "4,000 m² (2,000 to 8,000 m²)" in page
    assert "3 broods, 40 m² (10 to 90 m²)" in page
    assert "fairly firm (7 of 10)" in page


def test_a_share_is_told_as_withheld_with_its_reason(plan):
    page = page_html(plan)
    assert "No share of what could be is given" in page
    assert "1 of 7 yards have none" in page
