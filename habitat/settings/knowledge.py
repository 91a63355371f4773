"""Which tables are used: the region, and own tables laid over the shipped ones."""

from __future__ import annotations

from typing import Any

from habitat.settings.base import Section, setting


def _table(what: str, name: str) -> Any:
    return setting(
        None, f"Own table of {what}, laid over ours; left out: ours alone.", example=f"own_tables/{name}.csv"
    )


class KnowledgeSettings(Section):
    """``[knowledge]``: the region or a folder of its own, and own tables laid over the shipped ones (CSV)."""

    region: str | None = setting(
        None,
        "Whose tables count; left out: those of the region in which the yards lie. A name of your own with "
        "own tables starts another region.",
        example="south-central",
    )
    region_folder: str | None = setting(
        None, "Folder of a region of your own, with its region.toml and tables.", example="my_region"
    )
    elsewhere: bool = setting(
        False,
        "Whether to plan although the yards lie outside the region of the tables, so that plants may be "
        "foreign or invasive there.",
        example=True,
    )
    plants: str | None = _table("plants", "plants")
    butterflies: str | None = _table("butterflies", "butterflies")
    hosts: str | None = _table("who eats what", "hosts")
    synonyms: str | None = _table("other names of plants and butterflies", "synonyms")
    lookalikes: str | None = _table("plants easily taken for others", "lookalikes")
    practice: str | None = _table("numbers of gardening practice", "practice")
    stages: str | None = _table("what eggs and caterpillars look like", "stages")
    brood_needs: str | None = _table("how many plants feed a brood", "brood_needs")
    cautions: str | None = _table("cautions", "cautions")
    hazard_classes: str | None = _table("what is poisonous, and how it is handled", "hazard_classes")
    spread_classes: str | None = _table("how plants spread, and what contains them", "spread_classes")
    native_states: str | None = _table("the states that plants are native to", "native_states")
    moth_care: str | None = _table("what moths need", "moth_care")
    genus_words: str | None = _table("what people call a whole genus", "genus_words")
    sources: str | None = _table("sources that the other tables cite", "sources")

    @property
    def tables(self) -> dict[str, str]:
        """The paths of own tables, by name."""
        given = self.model_dump(exclude={"region", "region_folder", "elsewhere"})
        return {name: path for name, path in given.items() if path is not None}
