"""One plain word for each idea in all that people read: held to the table in DEVELOPERS.md."""

import html
import json
import re
from pathlib import Path

import pypdfium2
import pytest

from habitat.commands.run.steps import next_steps

ROOT = Path(__file__).parents[2]
RETIRED = {
    "works as one", "who can reach whom", "host kinds", "part in this", "known of what was assessed",
    "way that it can go", "held back most", "can be counted on", "what could not be had", "own currency",
    "in your currency", "on the list in 7 of 10 tries", "(not 7)", "points",
}  # fmt: skip
"""Words of the last column that have one sense: nobody reads them any more."""

NO_WORDS = re.compile(
    r"\b(leaf_m2|kept_share|known_share|limiting_need|habitat_m2|equivalent_area_m2|hops?|fit 0\.\d+"
    r"|fit \d+ %|class S[123]|chosen at first)\b",
)
"""Names of columns and of the trade, which stand in tables for programs only."""


@pytest.fixture(scope="module")
def texts(first_run):
    """All that the run wrote for people to read, as plain text by file, and the terminal."""
    folder, found = first_run.folder, {"terminal": "\n".join(next_steps(first_run.plan, first_run.folder))}
    for path in sorted(folder.rglob("*")):
        name = path.relative_to(folder).as_posix()
        if path.suffix == ".pdf" and name != "sheets/all-yards.pdf":
            pages = [page.get_textpage().get_text_bounded() for page in pypdfium2.PdfDocument(path)]
            found[name] = " ".join(pages)
        elif path.suffix == ".html":
            page = re.sub(
                r"<(style|script)(?![^>]*json).*?</\1>", " ", path.read_text("utf-8"), flags=re.DOTALL
            )
            found[name] = html.unescape(re.sub(r"<[^>]+>", " ", page))
        elif path.suffix == ".ics":
            found[name] = path.read_text("utf-8").replace("\r\n ", "")
        elif path.suffix == ".txt" and name != "READ_ME.txt":
            found[name] = path.read_text("utf-8")
    return found


def test_the_table_names_every_word_that_is_retired():
    table = (ROOT / "DEVELOPERS.md").read_text("utf-8").split("What people read")[1]
    last = " ".join(line.split("|")[-2] for line in table.splitlines() if line.startswith("|"))
    assert [words for words in RETIRED if words not in last] == []


def test_no_retired_word_and_no_name_of_a_column_is_read(texts):
    assert {
        "page.html",
        "summary.txt",
        "calendar.ics",
        "lists/shopping.pdf",
        "teaching/butterflies.pdf",
    } <= set(texts)
    assert sum(name.startswith("sheets/yard-") for name in texts) == sum(
        n.startswith("yards/") for n in texts if "html" in n
    )
    for name, text in texts.items():
        flat = " ".join(text.split())
        words = [w for w in RETIRED if re.search(rf"(?<![\w-]){re.escape(w)}(?![\w-])", flat)]
        if name == "page.html":  # its data are columns by name, its drawings of plants points
            flat, words = flat.split('{"butterflies"')[0], [w for w in words if w != "points"]
        assert words == [], name
        assert NO_WORDS.findall(flat) == [], name


def test_notebooks_use_the_words_too():
    for path in sorted((ROOT / "notebooks").glob("*.ipynb")):
        cells = json.loads(path.read_text("utf-8"))["cells"]
        text = " ".join(" ".join(cell["source"]) for cell in cells if cell["cell_type"] == "markdown")
        assert [w for w in RETIRED - {"points"} if w in text] == [], path.name
