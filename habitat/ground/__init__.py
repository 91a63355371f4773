"""Ground: what each place offers, and where it is open to plants of each growth form."""

from habitat.ground.open_ground import open_and_closed, open_mask
from habitat.ground.setbacks import setbacks

__all__ = ["open_and_closed", "open_mask", "setbacks"]
