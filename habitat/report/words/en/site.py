"""What the survey found: sun, soil and open ground, in English."""

from __future__ import annotations

from habitat.remarks import Subject
from habitat.report.words.say import Say
from habitat.report.words.text import listed

# Sun -------------------------------------------------------------------------------------------------------


def trees_without_height(say: Say, _: Subject, *, count: int, of: int, assumed_height_m: float) -> str:
    """Say that trees of unknown height are given one."""
    return f"{count} of {of} trees have no height_m: {say.units.given(assumed_height_m)} is assumed"


def trees_without_crown(_say: Say, _: Subject, *, count: int, of: int, assumed_crown_share: float) -> str:
    """Say that trees of unknown spread are given one by their height."""
    return f"{count} of {of} trees have no crown_m: {assumed_crown_share:g} of their height is assumed"


def buildings_without_height(say: Say, _: Subject, *, count: int, of: int, assumed_height_m: float) -> str:
    """Say that buildings of unknown height are given one."""
    height = say.units.given(assumed_height_m)
    return (
        f"{count} of {of} buildings have neither height_m nor storeys: {height} is assumed for their shadows"
    )


def ground_taken_as_level(_say: Say, _: Subject) -> str:
    """Say that nothing tells how the ground rises."""
    return "Sun: no terrain or surface heights, so the ground is taken as level"


def no_building_shadows(_say: Say, _: Subject) -> str:
    """Say that nothing tells where buildings stand."""
    return "Sun: no buildings layer, so no building casts a shadow"


def no_tree_shadows(_say: Say, _: Subject) -> str:
    """Say that nothing tells where trees stand."""
    return "Sun: no trees layer, so no tree casts a shadow"


def sun_raster_impossible(_say: Say, about: Subject, *, share: float) -> str:
    """Say that a given raster of sun holds what are no hours of a day."""
    return f"raster {about.layers[0]}: {share:.1%} of the grid is not 0 to 24 h and counts as unknown"


def houses_only_drawn(_say: Say, _: Subject) -> str:
    """Say that beds wait for footprints where only some yards were drawn."""
    return (
        "Ground: buildings are known only where somebody drew them, not in all yards that get a plan, so no "
        "bed is placed, only counts and sizes are given; bring building footprints"
    )


def walk_sun_unused(_say: Say, _: Subject) -> str:
    """Say that words for sun hold hours in bounds, and there are no hours."""
    return "Walk: words for sun are not used, since nothing tells hours of sun; bring building footprints"


def walk_without_front(say: Say, about: Subject) -> str:
    """Say that words for sides mean nothing where no street tells the front."""
    yards = listed([say.yard(yard) for yard in about.yards])
    return f"Walk: no street is near {yards}, so front, back, left and right tell nothing there"


def beyond_grid_unseen(_say: Say, _: Subject) -> str:
    """Say that the sums end at the edge of the grid."""
    return "Sun: what lies beyond the grid is not seen and casts no shadow"


def heights_unknown(_say: Say, _: Subject, *, share: float) -> str:
    """Say that the heights have holes where yards are."""
    return (
        f"Sun: heights are unknown on {share:.1%} of the yards; sun is unknown there, and no shadow comes "
        "from there"
    )


def heights_unexplained(_say: Say, _: Subject, *, share: float) -> str:
    """Say that something stands over the ground of yards that is neither roof nor known tree."""
    told = f"{share:.1%}" if share >= 0.001 else "less than 0.1%"
    return (
        f"Sun: on {told} of the yards something stands over the ground that no trees layer explains; sun is "
        "unknown there"
    )


def sun_count_impossible(_say: Say, _: Subject, *, sun_h: float, most_h: float) -> str:
    """Say that somebody counted more sun than the sky has, or less than none."""
    return (
        f"{sun_h:g} h of sun cannot be: a clear day here has at most {most_h:.1f} h, averaged over the sun "
        "months; not used"
    )


def sun_count_alone(say: Say, about: Subject, *, sun_h: float) -> str:
    """Say that a count stands where no sun could be worked out."""
    return f"{say.yard(about.yards[0])}: {sun_h:g} h of sun were counted, where none could be worked out"


def sun_count_corrects(say: Say, about: Subject, *, sun_h: float, difference_h: float) -> str:
    """Say that a count differs from what was worked out, and wins."""
    return (
        f"{say.yard(about.yards[0])}: {sun_h:g} h of sun were counted, {difference_h:+.1f} h against the "
        "sums; the count wins and corrects its surroundings"
    )


# Soil ------------------------------------------------------------------------------------------------------


def raster_out_of_range(_say: Say, about: Subject, *, share: float, low: float, high: float) -> str:
    """Say that a raster holds what its measure cannot be."""
    return (
        f"raster {about.layers[0]}: {share:.1%} of the grid lies outside {low:g} to {high:g} and counts as "
        "unknown"
    )


def texture_part_alone(_say: Say, about: Subject) -> str:
    """Say that one of sand, silt and clay tells no texture."""
    return f"raster {about.layers[0]} alone tells no texture: sand and clay are needed"


def texture_parts_off(_say: Say, _: Subject, *, share: float) -> str:
    """Say that sand, silt and clay contradict each other."""
    return f"sand, silt and clay do not add up to 100 % on {share:.1%} of the grid: unknown there"


def raster_codes_unknown(_say: Say, about: Subject, *, codes: tuple[float, ...]) -> str:
    """Say that a raster of classes holds codes that name none."""
    shown = ", ".join(f"{v:g}" for v in codes)
    return f"raster {about.layers[0]}: codes {shown} mean no class and count as unknown"


def soil_unit_classes_unknown(_say: Say, about: Subject, *, column: str, values: tuple[str, ...]) -> str:
    """Say that soil polygons name classes that nobody knows."""
    shown = ", ".join(map(repr, values))
    return f"{about.layers[0]}: {column} {shown} is no class that we know; unknown there"


def soil_test_without_yard(_say: Say, _: Subject) -> str:
    """Say that a soil test tells of no yard."""
    return "this soil test lies in no yard and names none: it is not used"


def soil_test_impossible(_say: Say, _: Subject, *, column: str, value: float) -> str:
    """Say that a soil test holds what its measure cannot be."""
    return f"{column} {value:g} is impossible and not used"


def soil_tests_several(say: Say, about: Subject, *, count: int) -> str:
    """Say that a yard has several soil tests."""
    rows = ", ".join(str(row + 1) for row in about.rows[:8]) + (" ..." if len(about.rows) > 8 else "")
    return (
        f"{say.yard(about.yards[0])} has {count} tests (rows {rows}): the median of numbers, the most "
        "frequent class (at a tie the wetter, the finer) counts"
    )


def soil_test_class_unknown(
    _say: Say, about: Subject, *, column: str, value: str, known: tuple[str, ...]
) -> str:
    """Say that a soil test names a class that nobody knows."""
    return (
        f"soil test row {about.rows[0] + 1}: {column} {value!r} is no class that we know and not used; "
        f"known: {', '.join(known)}"
    )


# Open ground -----------------------------------------------------------------------------------------------


def nothing_placed(_say: Say, _: Subject) -> str:
    """Say that nobody knows where houses stand."""
    return (
        "No buildings layer: nobody knows where the houses stand, so nothing is placed; counts and sizes "
        "only. Add [layers.buildings] to have beds drawn"
    )


def busy_roads_unknown(_say: Say, _: Subject) -> str:
    """Say that no street says whether it is busy."""
    return "streets: no column busy and no kind that says so; no road counts as busy"
