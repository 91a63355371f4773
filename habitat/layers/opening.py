"""Open a layer, give its columns and shapes their meaning, and clean them, each layer by itself."""

from __future__ import annotations

from habitat.errors import LayerError
from habitat.layers import shapes as make
from habitat.layers.columns import SHAPES
from habitat.layers.crs import settle_crs
from habitat.layers.mapping import map_columns
from habitat.layers.places import find_places
from habitat.layers.raw import Draft, refuse_if_nothing_left
from habitat.layers.roles import settle_roles
from habitat.layers.tape import is_tape, read_tape
from habitat.layers.vector import open_layer
from habitat.study import Study

MATCHED = ("participants", "soil_tests")
"""Tables whose rows each belong to a yard."""

MAY_BE_EMPTY = ("plants", "sightings", "soil_tests", "growers")
"""Tables that a new folder holds to be filled in; empty, they mean that there is nothing to say."""


def open_clean(study: Study, name: str) -> dict[str, Draft]:
    """Open one layer; a table of tape measurements gives several at once."""
    source = study.layers[name]
    draft = open_layer(study, name, source)
    draft.set_aside(draft.row_faults)
    if is_tape(draft):
        found = read_tape(draft)
        opened = {n: d for n, d in found.items() if n == name or n not in study.layers}
    else:
        if draft.shapes is None and SHAPES[name] != "none":
            find_places(draft, source)
        opened = {name: draft}
    for one in opened.values():
        _clean(one, study)
    return opened


def _clean(draft: Draft, study: Study) -> None:
    source = study.layers.get(draft.name, study.layers["yards"])
    name, kind = draft.name, SHAPES[draft.name]
    if draft.own_format != "tape":
        map_columns(draft, source)
    if draft.rows_in == 0:
        if name == "yards":
            raise LayerError(
                "the yards layer has no rows", draft.where, "Check the file and which of its layers is read"
            )
        draft.tell("it has no rows", harm=0 if name in MAY_BE_EMPTY else 2)
    if draft.shapes is None:
        if kind != "none" and name not in (*MATCHED, "plants", "sightings"):
            raise LayerError(
                f"layer {name!r} has no shapes or places: no shape column and no longitude and latitude "
                "(lon, lat)",
                draft.where,
                f"Name them: geometry, or x and y, under layers.{name}; columns: "
                f"{', '.join(map(str, draft.table.columns[:20]))}",
            )
        _refuse_without_yards(draft)
        draft.set_aside({r: why for r, why in draft.shape_faults.items() if r in draft.table.index})
    else:
        make.flatten(draft)
        settle_crs(draft, source)
        if len(draft.table):
            {"polygon": make.to_polygons, "point": make.to_points}.get(kind, make.check_any)(draft)
    settle_roles(draft)
    refuse_if_nothing_left(draft)


def _refuse_without_yards(draft: Draft) -> None:
    """Stop where no row can have a place: no column names one, nor a yard."""
    if draft.name not in ("plants", "soil_tests") or {"yard_id", "address"} & set(draft.table.columns):
        return
    if draft.rows_in and not draft.shape_faults:
        raise LayerError(
            f"layer {draft.name!r} does not say where its rows belong: no columns of longitude and latitude "
            "(lon, lat), of x and y, or of shapes, and none of yard ids or addresses",
            draft.where,
            f'Name them under layers.{draft.name}: x and y, geometry, or columns = {{ yard_id = "..." }}; '
            f"columns: {', '.join(map(str, draft.table.columns[:20]))}",
        )
