"""Sun: hours of direct sun from heights, and what people counted."""

from habitat.sun.hours import SunTerms, sun_hours
from habitat.sun.relief import relief_of_heights

__all__ = ["SunTerms", "relief_of_heights", "sun_hours"]
