"""Results read once, with everything that their plans were made of."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from habitat.errors import LayerError
from habitat.layers.types import Layers
from habitat.pipeline.plant_facts import PlantFacts
from habitat.pipeline.planting import Groundwork, facts_of
from habitat.pipeline.redraw import edited_list, study_of
from habitat.pipeline.run import ready_to_redraw
from habitat.planting.choice.facts import Facts
from habitat.planting.settled import Settled
from habitat.planting.standing import standing_fit
from habitat.planting.types import Drawn
from habitat.progress import Progress
from habitat.remarks import Remark
from habitat.report.package.carried import read_carried_of
from habitat.report.package.provenance import versions
from habitat.report.written import sha256_of
from habitat.revision.deciding import read_run
from habitat.revision.earlier import Earlier, kept_plans
from habitat.site.types import Site
from habitat.study.reading import read_study
from habitat.sun.hours import sun_hours

FILES = (
    "run.json", "plan.gpkg", "for_next_run.json", "decisions.csv", "decisions.xlsx", "lists/plantings.csv",
    "lists/plantings.xlsx",
)  # fmt: skip
"""Files of results that are read here; "save" writes some of them, and none that has changed since."""


@dataclass(frozen=True, slots=True)
class Base:
    """Results as they were read.

    request : what planting takes to draw them anew, everything settled. raw : beds, plantings and points as
    they stand in plan.gpkg. facts, bars : what rows say of plants, and what keeps plants out of yards. was :
    by yard, the fingerprints of what the run wrote. files : SHA-256 by name of FILES, "" for one that is not
    there.
    """

    folder: Path
    request: Groundwork
    raw: Drawn
    was: dict[str, dict[str, str]]
    facts: PlantFacts
    bars: Facts
    notes: tuple[Remark | str, ...]
    files: dict[str, str]

    @property
    def earlier(self) -> Earlier:
        """The results as a run that is followed."""
        assert self.request.earlier is not None  # by ``ready_to_redraw``
        return self.request.earlier

    @property
    def settled(self) -> Settled:
        """Their plans, edits read."""
        assert self.request.settled is not None
        return self.request.settled

    @property
    def layers(self) -> Layers:
        """The layers of the study, roles as decided."""
        return self.request.layers


def read_base(folder: Path, study: Path | None = None, progress: Progress | None = None) -> Base:
    """Read results to try things on.

    Parameters
    ----------
    folder
        Results of a run for a group, by this version.
    study
        The study file, if it has been moved.
    progress
        Called with (stage in words, done, total).

    Raises
    ------
    HabitatError
        If there are no such results, they are for the public or of another version, a list of plantings was
        edited and not drawn yet, or the study cannot be read any more.
    """
    folder = folder.absolute()
    _refuse_others(folder)
    files = hashes(folder)
    read = read_study(study or study_of(folder, read_carried_of(folder).study))
    request, notes = ready_to_redraw(read, folder, progress)
    earlier = request.earlier
    assert earlier is not None
    fit = standing_fit(request.existing, request.site, request.needs)
    request = replace(request, existing=request.existing.assign(fit=fit), site=_sun_kept(request.site))
    raw = kept_plans(earlier, request.yard_ids).drawn
    _refuse_strays(earlier, folder)
    bars = facts_of(request.study, request.knowledge, request.needs, request.wishes)
    return Base(folder, request, raw, _by_yard(earlier, raw), PlantFacts(request), bars, notes, files)


def _sun_kept(site: Site) -> Site:
    """Return a site that keeps its sun before any tree is planted: each yard that joins asks for it."""
    if site.relief is None or site.sun_terms is None:
        return site
    return replace(site, sun_known=sun_hours(site.relief, site.sun_terms))


def hashes(folder: Path) -> dict[str, str]:
    """Return the SHA-256 of FILES in results, "" for one that is not there."""
    return {name: sha256_of(folder / name) if (folder / name).is_file() else "" for name in FILES}


def _refuse_others(folder: Path) -> None:
    about = read_run(folder)
    if about.get("audience") == "public":
        what = "these results are for the public: their yards have numbers of their own"
        raise LayerError(what, str(folder), "Name results that were made with --audience group")
    made, now = (about.get("versions") or {}).get("habitat"), versions()["habitat"]
    if made != now:
        what = f"these results were made by habitat {made or 'of an unknown version'}, this is {now}"
        raise LayerError(what, str(folder), "Draw them anew by this version first: habitat redraw DIR")
    if edited_list(folder) is not None:
        what = "lists/plantings has been edited and is not drawn yet"
        raise LayerError(what, str(folder), "Draw it first: habitat redraw DIR")


def _refuse_strays(earlier: Earlier, folder: Path) -> None:
    """Refuse rows that somebody added in a GIS and that have no yard yet: these are for redraw to place."""
    for name in ("beds", "plantings", "plant_points"):
        yards = earlier.tables[name]["yard_id"]
        if (yards.isna() | (yards == "")).any():
            what = f"in plan.gpkg, layer {name}, somebody added rows that have no yard_id yet"
            raise LayerError(what, str(folder), "Draw them first: habitat redraw DIR")


def _by_yard(earlier: Earlier, raw: Drawn) -> dict[str, dict[str, str]]:
    """Return the fingerprints of what the run wrote, by yard; of what is gone from the tables, none."""
    yards = dict(zip("bed " + raw.beds["bed_id"], raw.beds["yard_id"], strict=True))
    for word in ("planting ", "points "):
        yards |= dict(zip(word + raw.plantings["planting_id"], raw.plantings["yard_id"], strict=True))
    out: dict[str, dict[str, str]] = {}
    for key, mark in earlier.carried.drawn.items():
        if key in yards:
            out.setdefault(str(yards[key]), {})[key] = mark
    return out
