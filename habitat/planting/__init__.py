"""Stage `planting`; see DEVELOPERS.md."""
