"""Stage `layers`; see DEVELOPERS.md."""
