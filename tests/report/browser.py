"""Headless Chromium for the tests of pages; skips with a reason where there is none.

Set HABITAT_REQUIRE_BROWSER to make a missing browser an error instead.
"""

import os
import shutil
from contextlib import contextmanager

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
