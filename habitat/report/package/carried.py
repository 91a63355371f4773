"""``for_next_run.json``: what a run settled on the way, so that a later one plans drafts by the same."""

from __future__ import annotations

import json
import os
from collections.abc import Mapping
from dataclasses import asdict
from pathlib import Path
from typing import Any

from habitat.errors import LayerError, MissingFileError
from habitat.planting.settled import Carried, Round, fingerprints
from habitat.planting.types import Drawn, Milestone
from habitat.planting.years.survival import Lot
from habitat.remarks import Fact, Remark, Subject
from habitat.report.plan import Plan

CARRIED = "for_next_run.json"


def write_carried(plan: Plan, path: Path) -> Path:
    """Write what a later run takes over."""
    carried = plan.carried or Carried((), (Round(),))
    results = plan.yard_results
    relaxed = {
        str(yard): [_plain(found) for found in told]
        for yard, told in zip(results["yard_id"], results.get("relaxed", [()] * len(results)), strict=True)
        if isinstance(told, tuple) and told
    }
    data = {
        "order": list(carried.order),
        "rounds": [
            {
                "weights": [[yard, butterfly, w] for (yard, butterfly), w in sorted(one.weights.items())],
                "neighbour_nectar": {y: sorted(m) for y, m in sorted(one.neighbour_nectar.items())},
            }
            for one in carried.rounds
        ],
        "relaxed": relaxed,
        "fit": dict(sorted(carried.fit.items())),
        "drawn": fingerprints(Drawn(plan.beds, plan.plantings, plan.plant_points)),
        "study": _from(plan.study.path, path.parent),
        "history": [asdict(one) for one in carried.history],
        "survival": [[lot.plant, lot.form, lot.ground, lot.planted, lot.alive] for lot in carried.survival],
    }
    path.write_text(json.dumps(data, ensure_ascii=False, indent=1, allow_nan=False) + "\n", encoding="utf-8")
    return path


def read_carried(path: Path) -> Carried:
    """Read what ``write_carried`` wrote.

    Raises
    ------
    OSError, ValueError, KeyError, TypeError, AttributeError
        If the file is not there, or not as it was written.
    """
    data = json.loads(path.read_text(encoding="utf-8"))
    rounds = tuple(
        Round(
            {(str(yard), str(butterfly)): float(w) for yard, butterfly, w in one["weights"]},
            {str(y): frozenset(map(int, m)) for y, m in one["neighbour_nectar"].items()},
        )
        for one in data["rounds"]
    )
    relaxed = {str(y): tuple(map(_remark, told)) for y, told in data["relaxed"].items()}
    if not rounds:
        raise ValueError("it tells of no round")
    fit = {str(planting): float(value) for planting, value in data["fit"].items()}
    drawn = {str(key): str(value) for key, value in data["drawn"].items()}
    lots = (Lot(str(p), str(f), str(g), int(n), int(a)) for p, f, g, n, a in data["survival"])
    order = tuple(map(str, data["order"]))
    history = tuple(Milestone(**one) for one in data["history"])
    return Carried(order, rounds, relaxed, fit, drawn, str(data["study"]), tuple(lots), history)


def read_carried_of(folder: Path) -> Carried:
    """Read what results carry on.

    Raises
    ------
    MissingFileError, LayerError
        If the file is not there, or not as it was written.
    """
    if not (folder / CARRIED).is_file():
        raise MissingFileError(
            f"{CARRIED} is missing, so nobody can tell what was settled, planned or edited",
            str(folder),
            "Put it back, or run the study once without --after",
        )
    try:
        return read_carried(folder / CARRIED)
    except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError) as error:
        raise LayerError(
            f"{CARRIED} cannot be read ({error})", str(folder), "Put it back as the run wrote it"
        ) from error


def _from(study: Path, folder: Path) -> str:
    """Return where the study file is, seen from results; results are written in a folder beside their own."""
    try:
        return Path(os.path.relpath(study.resolve(), folder.resolve())).as_posix()
    except ValueError:  # another drive
        return str(study)


_SUBJECT = ("yards", "anchors", "butterflies", "plants", "layers", "rows", "household")


def _plain(found: Fact) -> Any:
    if isinstance(found, Remark):
        about = {name: list(v) for name in _SUBJECT if (v := getattr(found.subject, name))}
        facts = {name: _plain(value) for name, value in found.facts}
        return {"kind": found.kind, "subject": about, "facts": facts}
    return [_plain(part) for part in found] if isinstance(found, tuple) else found


def _remark(data: Mapping[str, Any]) -> Remark:
    about = Subject(**{name: tuple(values) for name, values in data["subject"].items()})
    return Remark(str(data["kind"]), about, tuple((name, _fact(v)) for name, v in data["facts"].items()))


def _fact(value: Any) -> Fact:
    if isinstance(value, Mapping):
        return _remark(value)
    return tuple(map(_fact, value)) if isinstance(value, list) else value
