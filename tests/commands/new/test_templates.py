"""Blank tables of habitat new."""

from habitat.commands.new.templates import write_region_template
from habitat.knowledge import load_knowledge
from habitat.knowledge.schema import FILES, SCHEMAS, schema_of
from habitat.settings.knowledge import KnowledgeSettings


def test_a_blank_region_template_names_every_column(tmp_path):
    written = write_region_template(tmp_path / "own")
    assert {p.name for p in written} == {*FILES.values(), "READ_ME.txt"}
    page = (tmp_path / "own" / "READ_ME.txt").read_text(encoding="utf-8")
    for name in SCHEMAS:
        schema = schema_of(name)
        header = (tmp_path / "own" / FILES[name]).read_text(encoding="utf-8")
        assert header == ",".join(schema.columns) + "\n"
        assert all(f" {column}: " in page for column in schema.columns)


def test_blank_template_tables_are_no_fault(tmp_path):
    write_region_template(tmp_path)
    settings = KnowledgeSettings(**{name: FILES[name] for name in SCHEMAS})
    assert len(load_knowledge(settings, tmp_path).plants) == len(load_knowledge(KnowledgeSettings()).plants)
