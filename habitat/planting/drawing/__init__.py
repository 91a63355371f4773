"""A choice drawn on the ground: beds, drifts, points, shade."""
