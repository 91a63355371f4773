"""Zip archives: looked through before anything is unpacked, so that none can do harm."""

from __future__ import annotations

import shutil
import zipfile
from pathlib import Path, PurePosixPath

from habitat.errors import LayerError
from habitat.layers.formats.plain import reading

MAX_FILES = 5_000
MAX_BYTES = 8 * 1024**3
MAX_RATIO = 300.0
FREE_BYTES = 64 * 1024**2
"""Archives that unpack to less than this may shrink as well as they like."""

JUNK = ("__MACOSX/", ".DS_Store", "Thumbs.db")


def safe_members(path: Path) -> list[zipfile.ZipInfo]:
    """Return the files of an archive that may be unpacked.

    Raises
    ------
    LayerError
        If it is no archive, is encrypted, unpacks to too much, or a name points out of its own folder.
    """
    with reading(path.name), zipfile.ZipFile(path) as archive:
        members = [m for m in archive.infolist() if not m.is_dir() and not _junk(m.filename)]
    if len(members) > MAX_FILES:
        raise LayerError(
            f"the archive holds {len(members)} files", path.name, "Unpack the ones that matter by hand"
        )
    for member in members:
        _check_name(path, member)
    packed, whole = sum(m.compress_size for m in members), sum(m.file_size for m in members)
    if whole > MAX_BYTES or (whole > FREE_BYTES and whole > MAX_RATIO * max(packed, 1)):
        raise LayerError(
            f"the archive would unpack to {whole / 1024**2:,.0f} MB from {packed / 1024**2:,.1f} MB",
            path.name,
            "Archives that grow so much are not unpacked; unpack it by hand if you trust it",
        )
    return members


def _junk(name: str) -> bool:
    return any(part in name for part in JUNK)


def _check_name(path: Path, member: zipfile.ZipInfo) -> None:
    name = PurePosixPath(member.filename.replace("\\", "/"))
    link = (member.external_attr >> 16) & 0o170000 == 0o120000
    if name.is_absolute() or ".." in name.parts or ":" in name.parts[0] or link:
        raise LayerError(
            f"the archive holds {member.filename!r}, which points out of its own folder",
            path.name,
            "Such archives are not unpacked; ask for a clean one",
        )
    if member.flag_bits & 1:
        raise LayerError("the archive is locked with a password", path.name, "Unpack it by hand")


def unpack(path: Path, folder: Path) -> list[Path]:
    """Unpack an archive into a folder and return the files, in the order of their names."""
    members = safe_members(path)
    out = []
    with reading(path.name), zipfile.ZipFile(path) as archive:
        for member in members:
            target = folder / PurePosixPath(member.filename.replace("\\", "/"))
            target.parent.mkdir(parents=True, exist_ok=True)
            with archive.open(member) as source, target.open("wb") as sink:
                _copy_bounded(source, sink, member.file_size)
            out.append(target)
    return sorted(out)


def _copy_bounded(source: object, sink: object, size: int) -> None:
    copied = 0
    while chunk := source.read(1 << 20):  # type: ignore[attr-defined]
        copied += len(chunk)
        if copied > size:
            raise LayerError("the archive holds more than it says", "", "Ask for a clean one")
        sink.write(chunk)  # type: ignore[attr-defined]


def link_or_copy(source: Path, target: Path) -> None:
    """Make a file appear under another name: by a link where the system allows it, else by a copy."""
    try:
        target.symlink_to(source.resolve())
    except OSError:
        shutil.copyfile(source, target)
