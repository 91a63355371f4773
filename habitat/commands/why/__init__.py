"""``habitat why``: why a plant can or cannot go into a yard."""
