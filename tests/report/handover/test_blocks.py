"""Symbols of plants and the package that drawings need."""

import ezdxf
import pytest
from shapely.geometry import Point

from habitat.errors import OutputError
from habitat.report.handover.blocks import Sheet


def test_kinds_have_a_symbol_each_whatever_they_are_called(tmp_path):
    """Names that differ only in what a block's name may not hold; widths by scale, numbers as attributes."""
    sheet = Sheet()
    kinds = ("Rosa <a>", "Rosa |a|", "Rosa x hybrida", "*U", "")
    for k, plant in enumerate(kinds):
        sheet.define(plant, "shrub", 0.5)
        sheet.plant(Point(k, 0.0), plant, 1.5, "PLANT-SHRUB", str(k))
    sheet.write(tmp_path / "a.dxf")
    drawing = ezdxf.readfile(tmp_path / "a.dxf")
    audit = drawing.audit()
    assert not audit.errors
    symbols = drawing.modelspace().query("INSERT")
    assert len({s.dxf.name for s in symbols}) == len(kinds)
    assert [s.get_attrib_text("NUMBER") for s in symbols] == ["0", "1", "2", "3", "4"]
    for symbol in symbols:
        ring = drawing.blocks[symbol.dxf.name].query("CIRCLE")[0]
        assert 2 * ring.dxf.radius * symbol.dxf.xscale == pytest.approx(1.5)


def test_without_the_drawing_package_the_error_says_what_to_do(monkeypatch):
    monkeypatch.setitem(__import__("sys").modules, "ezdxf", None)
    with pytest.raises(OutputError, match="pip install ezdxf"):
        Sheet()
