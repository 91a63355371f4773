"""Pieces of HTML escape what they hold."""

import html
import re
from dataclasses import replace

from habitat.report.page.html import table, text
from habitat.report.page.page import page_html
from habitat.report.words.numbers import money


def test_money_is_a_bare_number_or_in_the_currency_that_the_study_names(plan):
    words = html.unescape(re.sub(r"<[^>]+>", "", page_html(plan)))
    assert "currency" not in words
    assert f"cost {money(plan.headline['cost'])}" in words
    named = replace(plan, study=plan.study.changed(planting={"currency": "<i>kr"}))
    text = page_html(named)
    assert "cost in &lt;i&gt;kr" in text
    assert "<i>kr" not in text


def test_html_pieces_escape():
    assert text("<b>&") == "<bdi>&lt;b&gt;&amp;</bdi>"
    made = table('a "caption"', ("x", "y"), [("<1>", 2)])
    assert "<1>" not in made
    assert 'aria-label="a &quot;caption&quot;"' in made
