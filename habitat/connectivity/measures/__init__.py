"""Published measures of a corridor, and where it breaks."""
