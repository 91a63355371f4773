"""The section of the page that shows what the plan's butterflies look like."""

import re
from dataclasses import replace

from habitat.report.page.kinds import kinds_section
from habitat.report.teaching.kinds import served_kinds


def test_each_kind_is_drawn_in_four_stages_and_the_pages_to_print_are_linked(plan):
    section = kinds_section(plan)
    many = len(served_kinds(plan))
    assert section.count("<details>") == many > 1
    assert section.count("<svg") == 4 * many
    assert 'href="teaching/butterflies.pdf"' in section
    assert not re.search(r"\son\w+=|<script|style=", section)


def test_where_nothing_breeds_there_is_no_section(plan):
    assert kinds_section(replace(plan, yard_butterflies=plan.yard_butterflies.assign(habitat_m2=0.0))) == ""
