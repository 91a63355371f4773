"""Stage `connectivity`; see DEVELOPERS.md."""
