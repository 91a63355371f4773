"""Columns of the shipped tables, and their sources."""

import csv
import re

from habitat.knowledge.region import SHIPPED
from habitat.knowledge.schema import FILES, SCHEMAS, schema_of


def files_of(name):
    """The files of a table: the shared one and those of every region."""
    folders = (SHIPPED / "shared", *(SHIPPED / "regions").iterdir())
    return [folder / FILES[name] for folder in folders if (folder / FILES[name]).is_file()]


def header(path):
    return next(csv.reader(path.read_text(encoding="utf-8").splitlines()))


def rows_of(path):
    return list(csv.DictReader(path.read_text(encoding="utf-8").splitlines()))


def test_shipped_tables_have_exactly_the_columns_of_their_schema():
    for name in SCHEMAS:
        paths = files_of(name)
        assert paths, name
        for path in paths:
            assert sorted(header(path)) == sorted(schema_of(name).columns), path


def keys_of(text):
    """The source keys in a cell: what stands between semicolons, without remarks in brackets."""
    bare = re.sub(r"\s*\([^)]*\)", "", str(text))
    return [part.strip() for part in bare.split(";") if part.strip()]


def test_every_row_of_every_table_names_known_sources_or_says_memory(shipped):
    """Memory, common practice and judgement are words, no sources; all else is a key of sources.csv."""
    plain = {"memory", "common practice", "judgement"}
    known = set(shipped.sources["key"])
    for name, path in [(n, p) for n in FILES for p in files_of(n)]:
        rows = rows_of(path)
        assert rows, path
        if name == "sources":
            assert all(row["citation"] for row in rows)
            continue
        for row in rows:
            keys = keys_of(row["source"])
            assert keys, (name, row)
            assert set(keys) <= plain | known, (name, row)
            if row["source_kind"] == "published":
                assert set(keys) - plain, (name, row)
            else:
                assert row["source_kind"] in ("memory", "evidence"), (name, row)
