"""The PDF to teach with: a page for each kind that breeds, with its hosts of this plan and its winter."""

from dataclasses import replace

import pypdfium2
import pytest

from habitat.knowledge.looks import winter_words
from habitat.report.outputs import outputs_for
from habitat.report.teaching.files import write_teaching
from habitat.report.teaching.kinds import kind_page, served_kinds
from tests.report.small_plan import small_plan


@pytest.fixture(scope="module")
def plan(tmp_path_factory):
    return small_plan(tmp_path_factory.mktemp("study"))


def test_each_kind_that_breeds_in_a_yard_has_a_page_that_names_its_hosts(plan, tmp_path):
    (path,) = write_teaching(plan, tmp_path / "teaching")
    texts = [page.get_textpage().get_text_bounded() for page in pypdfium2.PdfDocument(path)]
    table = plan.yard_butterflies
    breed = set(table.loc[(table["habitat_m2"] > 0) & (table["role"] != "anchor"), "butterfly"])
    assert set(served_kinds(plan)) == breed
    assert len(texts) == len(breed)
    names = plan.knowledge.plants["common_name"]
    for name, text in zip(served_kinds(plan), texts, strict=True):
        flat = " ".join(text.split())
        assert name in flat
        hosts = plan.plantings[plan.plantings["butterflies"].str.contains(name)]["plant"].unique()
        assert len(hosts)
        assert all(names[host] in flat for host in hosts)
        assert " ".join(winter_words(plan.knowledge, name).split()[:8]) in flat
        assert all(word in flat for word in ("Egg", "Caterpillar", "Chrysalis", "Adult", "Spray nothing"))


def test_months_of_stages_are_those_of_the_tables(plan):
    """The monarch lays from May to September (its row's half-months), and flies on."""
    page = kind_page(plan, "Danaus plexippus")
    months = {stage.name: stage.months for stage in page.stages}
    assert months["Egg"] == (5, 6, 7, 8, 9)
    assert set(months["Egg"]) <= set(months["Adult"])


def test_without_a_kind_that_breeds_there_is_no_page(plan, tmp_path):
    bare = replace(plan, yard_butterflies=plan.yard_butterflies.assign(habitat_m2=0.0))
    assert write_teaching(bare, tmp_path / "teaching") == []
    assert "teaching/" not in {output.name for output in outputs_for(bare)}
