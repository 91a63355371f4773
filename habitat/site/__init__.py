"""Stage `site`: what each place offers; see DEVELOPERS.md."""

from habitat.site.ground import open_mask
from habitat.site.horizon import HorizonView, SunTrack, horizon_view
from habitat.site.planned import standing_on, sun_with_trees
from habitat.site.survey import survey

__all__ = ["HorizonView", "SunTrack", "horizon_view", "open_mask", "standing_on", "sun_with_trees", "survey"]
