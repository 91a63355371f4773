"""Yard sheets."""
