"""Stage `site`: what each place offers; see DEVELOPERS.md."""

from habitat.site.survey import survey

__all__ = ["survey"]
