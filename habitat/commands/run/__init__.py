"""``habitat run``: the whole job, results on disk."""
