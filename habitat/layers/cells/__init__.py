"""Columns and single values: what a heading and a cell mean."""
