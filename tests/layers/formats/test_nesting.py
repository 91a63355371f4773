"""Depth is counted before a library descends: in binary, in text, in marked-up text."""

import numpy as np
import pytest
import shapely

from habitat.errors import LayerError, RasterError
from habitat.layers.formats import nesting
from tests.support.hard_files import nested_wkb


def test_collections_are_counted_whatever_their_byte_order_and_dimensions():
    few, many = nested_wkb(nesting.MOST_COLLECTIONS), nested_wkb(nesting.MOST_COLLECTIONS + 1)
    assert (nesting.too_deep_binary(few), nesting.too_deep_binary(many)) == (False, True)
    heads = ("0000000007", "00000003ef", "00000007d7", "0000000bbf", "0080000007", "00a0000007",
             "0107000000", "01ef030000", "01d7070000", "01bf0b0000", "0107000080", "01070000a0")  # fmt: skip
    for head in heads:
        reference = "00000000" if "a0" in head else ""
        number = reference + ("01000000" if head.startswith("01") else "00000001")
        assert nesting.too_deep_binary(bytes.fromhex(head + number) * 65 + bytes(20)), head


@pytest.mark.parametrize(
    "kept", [{}, {"byte_order": 0}, {"flavor": "iso"}, {"include_srid": True}, {"output_dimension": 2}]
)
def test_coordinates_that_look_like_heads_are_no_collections(kept):
    """Round coordinates of a shape of very many parts hold the bytes of heads by chance."""
    x, y = (
        part.ravel()
        for part in np.meshgrid(np.arange(337_500, 337_800, 3), np.arange(4_418_560, 4_419_584, 4))
    )
    parts = shapely.set_srid(shapely.force_3d(shapely.multipolygons(shapely.box(x, y, x + 1, y + 1)), 7.0), 7)
    whole = shapely.GeometryCollection([parts, shapely.LineString([(0, 0), (1, 7)]), shapely.Point(0, 7)])
    value = shapely.to_wkb(whole, **kept)
    assert len(nesting.COLLECTION.findall(value)) > nesting.MOST_COLLECTIONS or "byte_order" in kept
    assert not nesting.too_deep_binary(value)
    inside = nested_wkb(nesting.MOST_COLLECTIONS)
    assert nesting.too_deep_binary(shapely.to_wkb(shapely.GeometryCollection([parts]))[:5] + b"\2\0\0\0"
                                   + shapely.to_wkb(parts) + inside)  # fmt: skip


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
