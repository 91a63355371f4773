"""Stage `report`; see DEVELOPERS.md."""
