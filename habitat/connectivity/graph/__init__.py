"""Graphs of passages and the searches on them."""
