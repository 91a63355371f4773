"""What there is to do is said first, in lines and on the page alike."""

from habitat.report.compare.to_do_words import to_do_lines, to_do_section

FOUND = {
    "hand_out": [{"yard_id": "0012", "address": "2 <b>Kiln</b> Street", "why": "its first sheet"}],
    "take_back": [{"yard_id": "0030", "address": "", "why": "declined"}],
    "buy": [
        {"plant": "Zizia aurea", "common_name": "golden alexanders", "form": "plug", "more": 5},
        {"plant": "Phlox divaricata", "common_name": "", "form": "plug", "more": -2},
    ],
    "statuses": [{"yard_id": "0007", "before": "accepted", "after": "planted"}],
    "counts": {"before": {"draft": 6}, "after": {"planted": 1, "draft": 5}},
    "living": {"before": {}, "after": {"1": 12, "2": 30}},
    "follows": True,
}  # fmt: skip


def test_lines_say_whose_sheet_what_to_buy_and_who_is_where():
    lines = to_do_lines(FOUND)
    assert lines[:2] == ["What is to be done?", "  Hand out 1 sheet."]
    text = "\n".join(lines)
    for words in (
        "yard 0012, 2 <b>Kiln</b> Street: its first sheet", "yard 0030 (declined)",
        "Buy 5 plants more than was asked for before, and 2 plants fewer of others.",
        "+5 golden alexanders (Zizia aurea), plug", "-2 Phlox divaricata, plug",
        "Became planted: 0007.", "Plans now: 1 planted, 5 draft.",
        "12 in season 1 and 30 in season 2",
    ):  # fmt: skip
        assert words in text
    assert "does not name the first" not in text


def test_who_has_all_buys_nothing():
    assert "  Nothing more is to be bought." in to_do_lines(FOUND | {"buy": []})


def test_a_break_in_the_chain_is_minded():
    assert any("does not name the first" in line for line in to_do_lines(FOUND | {"follows": False}))


def test_the_page_says_the_same_and_escapes():
    page = to_do_section(FOUND)
    assert "&lt;b&gt;Kiln" in page
    assert "<b>Kiln" not in page
    assert "Hand out 1 sheet." in page
    assert "+5" in page


def test_runs_for_the_public_have_nothing_to_do():
    assert to_do_lines(None) == []
    assert to_do_section(None) == ""
