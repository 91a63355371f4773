"""How much of the processor an action on the page takes at 2,100 yards: ``python bench_actions.py [COPIES]``.

Main thread of Chromium, layout included (thread ticks of the DevTools protocol); goal: 50 ms at 2,000 yards.
"""

import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from habitat.report.page.page import write_page
from tests.benchmarks.bench_page import many
from tests.report.browser import browser
from tests.report.small_plan import small_plan

COPIES = 300
ACTIONS = {
    "another butterfly": "const p = document.getElementById('butterfly');"
    "p.selectedIndex = (p.selectedIndex + 1) % p.options.length;"
    "p.dispatchEvent(new Event('change', {bubbles: true}))",
    "what is planted": "const r = [...document.querySelectorAll('input[name=state]')];"
    "const n = r[(r.findIndex((x) => x.checked) + 1) % 3]; n.checked = true;"
    "n.dispatchEvent(new Event('change', {bubbles: true}))",
    "sort the table": "document.querySelectorAll('th button')[3].click()",
    "open a yard": "location.hash = '#yard=' + plan.yards[7 * (1 + Math.floor(Math.random() * 99))].id",
    "find a yard": "location.hash = ''; const f = document.getElementById('find'); f.value = f.value + '3';"
    "f.dispatchEvent(new Event('input', {bubbles: true}))",
}
TIMES = 5


def busy_ms(driver) -> float:
    """Return what the main thread has worked so far [ms]."""
    found = driver.execute_cdp_cmd("Performance.getMetrics", {})["metrics"]
    return 1000 * next(m["value"] for m in found if m["name"] == "TaskDuration")


def actions_ms(page: Path, folder: Path) -> dict[str, float]:
    """Return the median processor time of each action on a page [ms]."""
    with browser(folder, 1200, 900) as driver:
        driver.execute_cdp_cmd("Performance.enable", {"timeDomain": "threadTicks"})
        driver.get(f"{page.as_uri()}#group")
        out = {"load": busy_ms(driver)}
        for name, script in ACTIONS.items():
            taken = []
            for _ in range(TIMES):
                before = busy_ms(driver)
                driver.execute_script(script)
                driver.execute_async_script("requestAnimationFrame(() => setTimeout(arguments[0], 0))")
                taken.append(busy_ms(driver) - before)
            out[name] = sorted(taken)[TIMES // 2]
        return out


def main() -> None:
    """Print one line per action."""
    copies = int(sys.argv[1]) if len(sys.argv) > 1 else COPIES
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        plan = many(small_plan(folder / "study"), copies)
        write_page(plan, folder / "page.html")
        size = (folder / "page.html").stat().st_size / 1e6
        print(f"{len(plan.yards)} yards, page {size:.1f} MB")
        for action, taken in actions_ms(folder / "page.html", folder / "profile").items():
            print(f"  {action:20s} {taken:6.0f} ms")


if __name__ == "__main__":
    main()
