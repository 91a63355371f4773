"""Stage `layers`: files are opened, read, checked, repaired and aligned here; see DEVELOPERS.md."""

from habitat.layers.read import read_layers

__all__ = ["read_layers"]
