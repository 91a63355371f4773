"""Where a value is from."""

from habitat.knowledge.sources import value_source


def test_nothing_from_memory_passes_as_published(knowledge):
    for table, frame in (("plants", knowledge.plants), ("butterflies", knowledge.butterflies)):
        for name, row in frame.iterrows():
            checked = set(row["checked_fields"].split(";"))
            for column in frame.columns:
                kind = value_source(knowledge, table, name, column).kind
                assert (kind == "published") == (column in checked), (name, column)
