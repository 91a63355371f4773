"""One profile for all property tests: the same examples on every run, no clock."""

from hypothesis import settings

settings.register_profile("house", derandomize=True, deadline=None)
settings.load_profile("house")
