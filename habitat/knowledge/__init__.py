"""Stage `knowledge`; see DEVELOPERS.md."""
