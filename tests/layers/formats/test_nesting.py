"""Depth is counted before a library descends: in binary, in text, in marked-up text."""

import pytest

from habitat.errors import LayerError, RasterError
from habitat.layers.formats import nesting
from tests.support.hard_files import nested_wkb


def test_collections_are_counted_whatever_their_byte_order_and_dimensions():
    few, many = nested_wkb(nesting.MOST_COLLECTIONS), nested_wkb(nesting.MOST_COLLECTIONS + 1)
    assert (nesting.too_deep_binary(few), nesting.too_deep_binary(many)) == (False, True)
    heads = ("0000000007", "00000003ef", "00000007d7", "0000000bbf", "0080000007", "00a0000007",
             "0107000000", "01ef030000", "01d7070000", "01bf0b0000", "0107000080", "01070000a0")  # fmt: skip
    for head in heads:
        assert nesting.too_deep_binary(bytes.fromhex(head + "01000000") * 65 + bytes(20)), head


def test_brackets_count_across_pieces_of_a_long_text():
    most = nesting.MOST_BRACKETS
    assert not nesting.too_deep_text("[]" * 10**6 + "[" * most + "]" * most)
    assert nesting.too_deep_text(" " * ((1 << 24) - most // 2) + "[" * (most + 1))


@pytest.mark.parametrize("error", [LayerError, RasterError])
def test_elements_that_close_go_no_deeper(error):
    most = nesting.MOST_ELEMENTS
    nesting.refuse_deep_elements(
        "<a/>" * 999 + "<b x='1'></b>" * 999 + "<?xml?><!-- <<<< -->", "a.kml", error
    )
    nesting.refuse_deep_elements("<a>" * most + "</a>" * most, "a.kml", error)
    with pytest.raises(error, match=r"a\.kml: its elements stand more than 100 deep"):
        nesting.refuse_deep_elements("<a>" * (most + 1), "a.kml", error)
