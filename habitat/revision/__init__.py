"""A plan that lives: what people decided and edited since a run, read back for the next."""
