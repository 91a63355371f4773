"""DXF: drawings that the library ezdxf finds sound; they hold what the plan holds."""

import math
from collections import Counter

import ezdxf
import pytest
import shapely

from habitat.report.handover.dxf import write_dxf, write_yard_dxf
from habitat.report.handover.schedule import HEADINGS
from habitat.report.sheets.facts import FactFinder
from tests.report.small_plan import small_plan


@pytest.fixture(scope="module")
def plan(tmp_path_factory):
    return small_plan(tmp_path_factory.mktemp("study"), report={"formats": ["dxf", "handover"]})


def plants_of(space):
    """Return the symbols of plants that stand in the ground, not those of the legend."""
    return [e for e in space.query("INSERT") if e.dxf.layer.startswith("PLANT-")]


def across(drawing, symbol):
    """Return how wide a symbol is drawn [m], from the circle of its block."""
    return 2 * drawing.blocks[symbol.dxf.name].query("CIRCLE")[0].dxf.radius * symbol.dxf.xscale


def test_the_drawing_holds_yards_beds_and_plants(plan, tmp_path):
    write_dxf(plan, tmp_path / "plan.dxf")
    drawing = ezdxf.readfile(tmp_path / "plan.dxf")
    assert not drawing.audit().errors
    assert drawing.header["$INSUNITS"] == 6  # metres
    space = drawing.modelspace()
    assert len(space.query('LWPOLYLINE[layer=="BED"]')) == len(plan.beds)
    yards = space.query('LWPOLYLINE[layer=="YARD"]')
    areas = sorted(shapely.Polygon(y.get_points("xy")).area for y in yards)
    assert areas == pytest.approx(sorted(plan.yards.area), rel=1e-6)
    plants = plants_of(space)
    assert len(plants) == len(plan.plant_points)
    assert sorted(across(drawing, p) for p in plants) == pytest.approx(sorted(plan.plant_points["crown_m"]))
    assert len({p.dxf.name for p in plants}) == plan.plant_points["plant"].nunique()
    shrubs = space.query('INSERT[layer=="PLANT-SHRUB"]')
    assert len(shrubs) == (plan.plant_points["plant"] == "Lindera benzoin").sum()
    assert {"0007", "bed 1"} <= {t.dxf.text for t in space.query("TEXT")}
    numbers = [(p.get_attrib_text("PLANT"), int(p.get_attrib_text("NUMBER"))) for p in plants]
    points = plan.plant_points
    assert sorted(numbers) == sorted(zip(points["plant"], points["key_number"], strict=True))


def test_the_drawing_measures_what_the_package_does(plan, tmp_path):
    """Read back: every entity on a layer that the drawing names, outlines of the areas [m2] of the tables."""
    write_dxf(plan, tmp_path / "plan.dxf")
    drawing = ezdxf.readfile(tmp_path / "plan.dxf")
    space, named = drawing.modelspace(), {layer.dxf.name for layer in drawing.layers}
    assert {"YARD", "BUILDING", "PAVING", "TREE", "BED", "PLANT-HERB", "PLANT-SHRUB", "NUMBER"} <= named
    assert {e.dxf.layer for e in space} <= named
    read = {
        layer: [shapely.Polygon(p.get_points("xy")) for p in space.query(f'LWPOLYLINE[layer=="{layer}"]')]
        for layer in ("BED", "BUILDING")
    }
    assert sorted(p.area for p in read["BED"]) == pytest.approx(sorted(plan.beds["area_m2"]), rel=1e-6)
    built = plan.layers.frame("buildings").area.sum()
    assert sum(p.area for p in read["BUILDING"]) == pytest.approx(built, rel=1e-6)
    plants = [p.dxf.insert for p in plants_of(space)]
    beds = shapely.union_all(read["BED"]).buffer(1e-6)
    assert shapely.covers(beds, shapely.points([(p.x, p.y) for p in plants])).all()


def test_equal_plans_give_equal_drawings(plan, tmp_path):
    for name in ("one.dxf", "two.dxf"):
        write_dxf(plan, tmp_path / name)
    assert (tmp_path / "one.dxf").read_bytes() == (tmp_path / "two.dxf").read_bytes()


def test_odd_names_break_no_drawing(tmp_path):
    odd = ("<script>", "=1+1", "a\nb", "../../x", "\u202eabc", "L" * 300, "%%u{\\fArial;x}")
    write_dxf(small_plan(tmp_path, yard_ids=odd), tmp_path / "odd.dxf")
    assert not ezdxf.readfile(tmp_path / "odd.dxf").audit().errors


# --- a yard for a designer --------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def yard(plan, tmp_path_factory):
    path = tmp_path_factory.mktemp("yard") / "yard.dxf"
    write_yard_dxf(FactFinder(plan).of("0007"), path)
    return ezdxf.readfile(path)


def of_yard(frame, yard_id="0007"):
    return frame[frame["yard_id"] == yard_id]


def test_a_yard_is_drawn_alone_with_every_plant(plan, yard):
    audit = yard.audit()
    assert not audit.errors
    assert not audit.fixes
    assert yard.header["$INSUNITS"] == 6  # metres
    space = yard.modelspace()
    assert len(space.query('LWPOLYLINE[layer=="YARD"]')) == 1
    points = of_yard(plan.plant_points)
    found = Counter(p.get_attrib_text("PLANT") for p in plants_of(space))
    assert found == Counter(points["plant"])
    at = shapely.MultiPoint([tuple(p.dxf.insert)[:2] for p in plants_of(space)])
    assert at.hausdorff_distance(shapely.MultiPoint(list(points.geometry))) < 1e-6


def test_dimensions_are_the_distances_of_the_ground(plan, yard):
    """Each is as long as its ends are apart; from a corner of the house, or to a bed."""
    house = plan.layers.frame("buildings").geometry.iloc[0]
    corners = shapely.MultiPoint(shapely.get_coordinates(house))
    beds = shapely.union_all(of_yard(plan.beds).geometry.to_numpy())
    found = yard.modelspace().query("DIMENSION")
    assert len(found) >= 4
    to_beds = 0
    for one in found:
        start, end = (shapely.Point(tuple(p)[:2]) for p in (one.dxf.defpoint2, one.dxf.defpoint3))
        assert one.get_measurement() == pytest.approx(start.distance(end), abs=1e-6)
        assert 0.05 < one.get_measurement() <= 30.0
        from_house, to_bed = (min(g.distance(start), g.distance(end)) < 0.01 for g in (corners, beds))
        assert from_house or to_bed
        to_beds += to_bed
        assert start.x <= end.x  # so that its words are not upside down
        words = [e.text for e in one.virtual_entities() if e.dxftype() == "MTEXT"]
        assert words == [f"{one.get_measurement():.1f} m"]
    assert to_beds >= 2


def test_the_legend_names_the_kinds_that_are_used(plan, yard):
    space = yard.modelspace()
    shown = {e.dxf.name for e in space.query('INSERT[layer=="LEGEND"]')}
    assert shown == {p.dxf.name for p in plants_of(space)}
    told = {t.dxf.text for t in space.query('TEXT[layer=="LEGEND"]')}
    kinds = set(of_yard(plan.plant_points)["plant"])
    assert told & set(plan.knowledge.plants.index) == kinds
    assert any("not a survey" in t for t in told)
    assert any("buried lines marked" in t for t in told)


def test_the_schedule_says_how_many_of_what(plan, yard):
    """Words of one row stand at one height; columns in the order of the headings."""
    rows = {}
    for text in yard.modelspace().query('TEXT[layer=="SCHEDULE"]'):
        x, y, _ = text.dxf.insert
        rows.setdefault(round(y, 3), []).append((x, text.dxf.text))
    table = [tuple(t for _, t in sorted(row)) for _, row in sorted(rows.items(), reverse=True)]
    assert table[1] == HEADINGS
    counts = Counter()
    for row in table[2:]:
        counts[row[1]] += int(row[3])
    mine = of_yard(plan.plantings)
    assert dict(counts) == mine.groupby("plant")["count"].sum().to_dict()


def test_feet_and_inches_where_the_study_asks_for_them(tmp_path):
    plan = small_plan(tmp_path, report={"units": "us"})
    write_yard_dxf(FactFinder(plan).of("0007"), tmp_path / "yard.dxf")
    one = ezdxf.readfile(tmp_path / "yard.dxf").modelspace().query("DIMENSION")[0]
    feet, inches = divmod(round(one.get_measurement() / 0.0254), 12)
    assert one.dxf.text.startswith(f"{feet} ft")
    assert math.isclose(inches, 0) or f"{inches} in" in one.dxf.text


def test_equal_yards_give_equal_drawings(plan, tmp_path):
    for name in ("one.dxf", "two.dxf"):
        write_yard_dxf(FactFinder(plan).of("0012"), tmp_path / name)
    assert (tmp_path / "one.dxf").read_bytes() == (tmp_path / "two.dxf").read_bytes()
