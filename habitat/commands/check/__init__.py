"""``habitat check``: what was read, repaired, set aside, and which words no table knows."""
