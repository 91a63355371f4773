"""Stage `site`; see DEVELOPERS.md."""
