"""Whom to invite next."""
