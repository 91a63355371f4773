"""Pages to teach with: the stages of each butterfly and moth that a plan serves."""
