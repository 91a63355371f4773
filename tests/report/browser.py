"""Headless Chromium for the tests of pages; skips with a reason where there is none.

Set HABITAT_REQUIRE_BROWSER to make a missing browser an error instead.
"""

import os
import shutil
from contextlib import contextmanager
from pathlib import Path

import pytest
from selenium import webdriver
from selenium.webdriver.chrome.service import Service

NAMES = ("chromium", "chromium-browser", "google-chrome", "chrome")
FLAGS = ("--headless=new", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage", "--hide-scrollbars")


def _found(names):
    return next((path for path in map(shutil.which, names) if path), None)


@contextmanager
def browser(folder, width, height, *, phone=False):
    """Give a driver with a fresh profile in ``folder`` and no network."""
    chromium, driver = _found(NAMES), _found(("chromedriver",))
    if chromium is None or driver is None:
        if os.environ.get("HABITAT_REQUIRE_BROWSER"):
            pytest.fail("HABITAT_REQUIRE_BROWSER is set, but no Chromium with chromedriver is installed")
        pytest.skip("no Chromium with chromedriver on this machine")
    options = webdriver.ChromeOptions()
    options.binary_location = chromium
    for flag in (*FLAGS, f"--user-data-dir={folder}", f"--window-size={width},{height}"):
        options.add_argument(flag)
    if phone:
        metrics = {"width": width, "height": height, "pixelRatio": 2.0, "touch": True}
        options.add_experimental_option("mobileEmulation", {"deviceMetrics": metrics})
    options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
    made = webdriver.Chrome(options=options, service=Service(driver))
    try:
        yield made
    finally:
        made.quit()


def violations(page):
    """Return what axe-core finds against WCAG 2.0 to 2.2, levels A and AA, and its best practice."""
    spec = pytest.importorskip("axe_core_python", reason="axe-core-python is not installed")
    script = (Path(spec.__file__).parent / "axe.min.js").read_text(encoding="utf-8")
    # the page's own policy forbids foreign scripts, so that the checker comes in through the debugger
    page.execute_cdp_cmd("Runtime.evaluate", {"expression": script})
    return page.execute_async_script(
        "const done = arguments[arguments.length - 1];"
        "axe.run(document, {runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', "
        "'best-practice']})"
        ".then((r) => done(r.violations.map((v) => [v.id, v.help, v.nodes.slice(0, 5).map((n) => n.html)])))"
    )
