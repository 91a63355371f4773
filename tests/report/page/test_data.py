"""Data within the page."""

import json
import re

from habitat.report.page.data import apart, embedded, page_data
from habitat.report.page.map import map_frame


def test_embedded_json_cannot_end_its_element():
    given = {"a": "</script><!--&\u2028\u2029\ud800"}
    written = embedded(given)
    assert not re.search("[<>&\u2028\u2029]", written)
    assert json.loads(written) == given


def test_what_an_opened_yard_shows_stands_apart_and_nothing_is_lost(plan):
    data = page_data(plan, map_frame(plan))
    whole, opened, texts = apart(data)
    assert len(set(texts)) == len(texts)

    def read(value):
        if isinstance(value, dict):
            return texts[value["t"]] if value.keys() == {"t"} else {k: read(v) for k, v in value.items()}
        return [read(v) for v in value] if isinstance(value, list) else value

    assert len(whole["yards"]) == len(opened) == len(data["yards"])
    for entry, few, mine in zip(data["yards"], whole["yards"], opened, strict=True):
        assert {k: v for k, v in few.items() if k not in ("count", "kinds")} | read(mine) == entry
        assert not few.keys() & {"plants", "points", "mine", "facts"}
        assert few.get("count", 0) == sum(row[3] for row in entry.get("plants", []))
    assert len(embedded(whole)) < len(embedded(data)) / 2
