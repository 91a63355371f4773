"""Data within the page."""

import json
import re

from habitat.report.page.data import embedded


def test_embedded_json_cannot_end_its_element():
    given = {"a": "</script><!--&\u2028\u2029\ud800"}
    written = embedded(given)
    assert not re.search("[<>&\u2028\u2029]", written)
    assert json.loads(written) == given
