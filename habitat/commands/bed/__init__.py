"""``habitat bed``: one bed from a few answers."""
