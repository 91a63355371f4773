"""Lists and the calendar."""
