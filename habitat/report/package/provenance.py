"""What a run was made from: versions, settings, hashes of inputs; and how much memory it took."""

from __future__ import annotations

import platform
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any

from habitat.layers.types import Layers
from habitat.report.written import sha256_of
from habitat.study.files import study_files
from habitat.study.model import Study

PACKAGES = (
    "habitat",
    "numpy",
    "scipy",
    "pandas",
    "geopandas",
    "shapely",
    "rasterio",
    "pyproj",
    "pvlib",
    "numba",
    "highspy",
    "exactextract",
    "matplotlib",
)


def describe_run(study: Study, layers: Layers) -> dict[str, Any]:
    """Return versions, settings, sha256 of the inputs and counts per layer, ready for JSON."""
    return {
        "versions": versions(),
        "settings": study.model_dump(mode="json"),
        "crs": layers.crs.to_string(),
        "inputs": input_hashes(study),
        "layers": {
            name: {
                "rows_in": layer.rows_in,
                "used": layer.used,
                "repaired": layer.repaired,
                "set_aside": len(layer.set_aside),
            }
            for name, layer in sorted(layers.vectors.items())
        },
    }


def versions() -> dict[str, str]:
    """Return the versions that a result depends on."""
    found = {"python": platform.python_version()}
    for name in PACKAGES:
        try:
            found[name] = version(name)
        except PackageNotFoundError:
            found[name] = "not installed"
    return found


def input_hashes(study: Study) -> dict[str, str]:
    """Return sha256 by path, as the study names it, of every file that reading opens, sidecars included."""
    return {name: sha256_of(file) for name, file in study_files(study).items()}


def reset_peak_memory() -> None:
    """Start the peak again from the present, where the system can (Linux)."""
    try:
        Path("/proc/self/clear_refs").write_text("5", encoding="ascii")
    except OSError:
        return


def peak_memory_mb() -> float:
    """Return the peak resident memory of this process [MB]; NaN where the system does not tell."""
    try:
        for line in Path("/proc/self/status").read_text(encoding="ascii").splitlines():
            if line.startswith("VmHWM"):
                return int(line.split()[1]) / 1024.0
    except OSError:
        pass
    try:
        import resource  # noqa: PLC0415  (not on Windows)
    except ImportError:
        return float("nan")
    return float(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss) / 1024.0
