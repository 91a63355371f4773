"""The offline page."""
