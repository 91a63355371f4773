"""The two pages of a bed: what stands on them, read back by a general-purpose PDF library."""

import io

import pytest
from pypdf import PdfReader

from habitat.bed import design_bed
from habitat.report.bed.pages import bed_pdf


def _read(bed):
    pages = PdfReader(io.BytesIO(bed_pdf(bed))).pages
    return pages, [" ".join(page.extract_text().split()) for page in pages]


@pytest.mark.parametrize(
    ("place", "size", "more"),
    [
        ("Ohio", "12x6ft", {"wishes": "monarch, black swallowtail"}),
        ("Texas", "12x8m", {"wishes": "as many as possible", "style": "meadow", "soil": "clay"}),
        ("Ohio", "a pot", {}),
        ("Texas", "balcony box", {"children": True, "pets": True}),
    ],
)
def test_all_of_a_bed_takes_two_pages(place, size, more):
    bed = design_bed(place, size, **more)
    pages, (first, second) = _read(bed)
    assert [float(v) for v in pages[0].mediabox[2:]] == pytest.approx(
        [612, 792], abs=0.2
    )  # letter, in points
    for plant, count in zip(bed.plants["plant"], bed.plants["count"], strict=True):
        assert plant.replace(" ", "") in first.replace(" ", "")
        assert str(count) in first
    for words in ("This year and after", "What is not known", "Not assessed", "licensed practice"):
        assert words in second


def test_poison_and_buried_lines_are_told_first():
    bed = design_bed("Ohio", "12x6ft", wishes="monarch")
    _, (_, second) = _read(bed)
    head = second[: second.index("This year and after")]
    assert "buried lines" in head
    assert "poisonous" in head


def test_the_drawing_is_to_scale_and_equal_beds_give_equal_bytes():
    bed = design_bed("Ohio", "12x6ft", wishes="monarch")
    _, (first, _) = _read(bed)
    assert "1 in = " in first
    assert bed_pdf(bed) == bed_pdf(design_bed("Ohio", "12x6ft", wishes="monarch"))
