"""The map of the town."""

import struct
from dataclasses import replace
from xml.etree import ElementTree as ET

import pytest

from habitat.report.maps.style import style
from habitat.report.maps.town import draw_town


def test_sizes_and_formats(plan, tmp_path):
    """PNG (ISO/IEC 15948): IHDR holds width and height, pHYs dots per metre; SVG is XML without a date."""
    assert plan.study.report.dpi == 150
    study = plan.study.changed(report={"dpi": 300, "formats": ["svg"]})
    with style():
        files = draw_town(replace(plan, study=study), tmp_path)
    raw = files[0].read_bytes()
    wide, high = struct.unpack(">II", raw[16:24])
    at = raw.index(b"pHYs") + 4
    per_m = struct.unpack(">I", raw[at : at + 4])[0]
    assert per_m == pytest.approx(300 / 0.0254, abs=1)
    assert wide / 300 == pytest.approx(12.6, abs=0.01)
    assert high > 4.8 * 300
    root = ET.parse(files[1]).getroot()
    assert root.tag == "{http://www.w3.org/2000/svg}svg"
    assert b"dc:date" not in files[1].read_bytes()
