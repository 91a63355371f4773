"""Files for the print shop: many sheets in one PDF."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from pathlib import Path

from pypdf import PdfWriter
from pypdf.generic import NameObject


def merge_sheets(files: Sequence[Path], path: Path, title: str, date: dt.date | None) -> None:
    """Write PDFs one after the other into one file; what several of them hold alike is stored once.

    Parameters
    ----------
    files
        PDFs in the order of printing.
    path
        Where the merged file goes.
    title, date
        For the file's description; nothing in it depends on the clock. Tags for screen readers stay in the
        single sheets: the merged file is for paper.
    """
    writer = PdfWriter()
    for file in files:
        writer.append(str(file), import_outline=False)
    for page in writer.pages:
        page.pop(NameObject("/StructParents"), None)
    day = date or dt.date(2000, 1, 1)
    writer.metadata = {"/Title": title, "/CreationDate": f"D:{day:%Y%m%d}000000Z"}
    if files:
        writer.compress_identical_objects(remove_duplicates=True, remove_unreferenced=True)
    with path.open("wb") as out:
        writer.write(out)
