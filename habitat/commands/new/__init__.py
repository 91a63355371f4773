"""``habitat new``: a study folder to fill in."""
