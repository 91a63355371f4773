"""Stage `suitability`; see DEVELOPERS.md."""
