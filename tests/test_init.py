"""The public library: its names, what each takes, and a short example of each from plain values."""

import ast
import inspect
import json
import re
from pathlib import Path

import pytest

import habitat
from tests.commands.calls import ended, start

TAKES = {
    "Grid": "(shape, transform, crs)",
    "HabitatError": "(what, where='', mend='')",
    "check_study": "(path, progress=None, more=None, overview=None, ready=None)",
    "connectivity.Reach": "(median_m, hop_max_m=None, kernel='exponential')",
    "connectivity.choose_patches": "(area_m2, links, passage, candidates, number, *, costs=None, "
    "budget=None)",
    "connectivity.equivalent_connected_area": "(area_m2, links, passage)",
    "connectivity.likeliest_chain": "(links, passage, start, end)",
    "connectivity.link_passage": "(links, reach)",
    "connectivity.link_patches": "(patches, longest_m, *, cost=None, grid=None)",
    "connectivity.patch_importance": "(area_m2, links, passage)",
    "ground.open_and_closed": "(yards, surroundings, settings=None, *, steep=None)",
    "ground.open_mask": "(open_ground, growth_form, grid)",
    "ground.setbacks": "(overrides)",
    "knowledge.HostStand": "(*, plant, count, form='standing', planted_year=1)",
    "knowledge.close_life_cycle": "(knowledge, butterfly, stands, *, nectar_months=(), winter_places=(), "
    "year=5, season=(1, 12))",
    "knowledge.load_knowledge": "(settings=None, folder=None)",
    "knowledge.resolve_butterflies": "(names, knowledge)",
    "knowledge.resolve_plants": "(names, knowledge)",
    "knowledge.stages": "(butterfly)",
    "knowledge.year_gaps": "(knowledge, butterflies, plants)",
    "planting.plan_yard": "(yard, values, *, knowledge, needs, wishes, buildings=(), surroundings=None, "
    "household=None, plants=None, settings=None, site_settings=None, season=(4, 10), seed=0, grid=None, "
    "crs=None, latitude_deg=None)",
    "read_layers": "(study, progress=None)",
    "read_raster": "(layer, grid)",
    "read_study": "(path)",
    "run": "(study, *, yard_ids=(), after=None, redraw=False, listed=None, workers=1, cluster='', "
    "progress=None, checkpoints=None)",
    "soil.reaction_class": "(ph)",
    "soil.soil_water": "(sand_pct, clay_pct, organic_matter_pct=2.5)",
    "soil.texture_class": "(sand_pct, clay_pct)",
    "suitability.build_needs": "(wanted, settings=None, *, assessed=None, by_tests=())",
    "suitability.classify": "(score, limits)",
    "suitability.compile_needs": "(knowledge, settings=None, assessed=(), by_tests=(), *, errors=None, "
    "seed=7, named_in='')",
    "suitability.explain": "(needs, plant, values)",
    "suitability.fit": "(needs, values, *, shape=None)",
    "sun.SunTerms.of": "(season, sun_months, settings=None)",
    "sun.relief_of_heights": "(tops_m, grid, *, ground_m=None)",
    "sun.sun_hours": "(relief, terms)",
    "survey": "(study, layers, progress=None)",
    "write_plan": "(plan, folder, *, replace=False, workers=1, progress=None, told=None)",
}
"""Public name -> what it takes. To change one breaks programs of other people: say so in CHANGELOG.md."""

VALUES = [
    "Plan",
    "Study",
    "knowledge.Knowledge",
    "planting.Planting",
    "settings.ConnectivitySettings",
    "settings.KnowledgeSettings",
    "settings.PlantingSettings",
    "settings.SiteSettings",
    "settings.SuitabilitySettings",
    "suitability.Needs",
]
"""Public classes that functions return, or that a study file's keys are the arguments of."""


def public():
    """Return every public name below ``habitat``, with its value."""
    found = {}
    for name in habitat.__all__:
        value = getattr(habitat, name)
        inner = value.__all__ if inspect.ismodule(value) else ()
        found |= {f"{name}.{one}": getattr(value, one) for one in inner} or {name: value}
    return found


def value_of(name):
    value = habitat
    for part in name.split("."):
        value = getattr(value, part)
    return value


def test_every_public_name_is_held_here_and_no_other():
    held = {name.removesuffix(".of") for name in TAKES} | set(VALUES)
    assert set(public()) == held
    assert 40 <= len(held) <= 50


@pytest.mark.parametrize("name", TAKES)
def test_signature(name):
    signature = inspect.signature(value_of(name))
    plain = [p.replace(annotation=p.empty) for p in signature.parameters.values()]
    assert str(signature.replace(parameters=plain, return_annotation=signature.empty)) == TAKES[name]


FUNCTIONS = [name for name in TAKES if inspect.isfunction(value_of(name))]


@pytest.mark.parametrize("name", FUNCTIONS)
def test_public_functions_say_what_they_take_and_show_it(name):
    parts = re.split(r"(?m)^([A-Z][a-z]+)\n-{3,}\n", inspect.getdoc(value_of(name)))
    sections = dict(zip(parts[1::2], parts[2::2], strict=True))
    described = {
        one for line in re.findall(r"(?m)^\w[\w, ]*$", sections["Parameters"]) for one in line.split(", ")
    }
    assert described == set(inspect.signature(value_of(name)).parameters)
    assert 1 <= len(re.findall(r"(?m)^(?:>>>|\.\.\.) ", sections["Examples"])) <= 10


MADE_BY_HAND = ["Grid", "HabitatError", "connectivity.Reach", "knowledge.HostStand"]


@pytest.mark.parametrize("name", VALUES + MADE_BY_HAND)
def test_public_classes_say_what_they_hold(name):
    assert len(inspect.getdoc(value_of(name)).split()) > 10


NOTEBOOKS = Path(habitat.__file__).parents[1] / "notebooks"


def code_of(path):
    """Return the Python of a script, or of a notebook's cells."""
    text = path.read_text(encoding="utf-8")
    if path.suffix == ".py":
        return text
    cells = json.loads(text)["cells"]
    return "\n".join("".join(cell["source"]) for cell in cells if cell["cell_type"] == "code")


def names_used(code):
    """Return every name below ``habitat`` that code imports or calls."""
    for node in ast.walk(ast.parse(code)):
        if isinstance(node, ast.ImportFrom) and node.module and node.module.split(".")[0] == "habitat":
            inner = node.module.removeprefix("habitat").lstrip(".")
            yield from (f"{inner}.{alias.name}".lstrip(".") for alias in node.names)
        elif isinstance(node, ast.Import):
            yield from (a.name[8:] for a in node.names if a.name.startswith("habitat."))
        elif isinstance(node, ast.Attribute) and re.fullmatch(r"habitat(\.\w+)+", ast.unparse(node)):
            yield ast.unparse(node).removeprefix("habitat.")


@pytest.mark.skipif(not NOTEBOOKS.exists(), reason="installed without its checkout")
def test_notebooks_and_examples_use_public_names_only():
    paths = sorted({*NOTEBOOKS.glob("*.ipynb"), *NOTEBOOKS.glob("key/*.py"), *NOTEBOOKS.glob("example_*.py")})
    assert len(paths) >= 10
    leaves = tuple(public())
    for path in paths:
        for name in names_used(code_of(path)):
            inside = name.startswith(tuple(f"{one}." for one in leaves))  # of a public class
            assert inside or name in (*leaves, *habitat.__all__), f"{path.name} uses habitat.{name}"


def test_packages_are_loaded_when_they_are_asked_for():
    script = (
        "import sys, habitat; bare = len(sys.modules); print('numpy' in sys.modules)\n"
        "habitat.soil.soil_water(40, 20); print('numpy' in sys.modules, 'geopandas' in sys.modules)"
    )
    assert ended(start(script=script)) == (0, "False\nTrue False\n", "")


def test_what_is_not_public_is_no_attribute():
    with pytest.raises(AttributeError, match="'habitat' has no attribute 'nonsense'"):
        _ = habitat.nonsense


def test_names_are_listed_before_they_are_loaded():
    assert set(habitat.__all__) <= set(dir(habitat))
