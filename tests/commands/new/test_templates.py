"""Blank tables of habitat new."""

from habitat.commands.new.templates import region_template
from habitat.knowledge import load_knowledge
from habitat.knowledge.schema import FILES, SCHEMAS, schema_of
from habitat.settings.knowledge import KnowledgeSettings


def test_a_blank_region_template_names_every_column():
    written = region_template()
    assert {*written} == {*FILES.values(), "READ_ME.txt"}
    page = written["READ_ME.txt"]
    for name in SCHEMAS:
        schema = schema_of(name)
        assert written[FILES[name]] == ",".join(schema.columns) + "\n"
        assert all(f" {column}: " in page for column in schema.columns)


def test_blank_template_tables_are_no_fault(tmp_path):
    for name, text in region_template().items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    settings = KnowledgeSettings(**{name: FILES[name] for name in SCHEMAS})
    assert len(load_knowledge(settings, tmp_path).plants) == len(load_knowledge(KnowledgeSettings()).plants)
