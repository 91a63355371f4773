"""Names for arrays by what they hold; shapes and units stand where each is used."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
FloatRaster = NDArray[np.float32]
"""Values by cell ``(rows, cols)``, NaN where unknown."""
Ints = NDArray[np.int64]
Short = NDArray[np.int32]
Flags = NDArray[np.bool_]
Shapes = NDArray[np.object_]
"""Shapely geometries."""
