"""What holds for every test: the same examples on every run, and no clock on one example."""

from __future__ import annotations

from hypothesis import settings

# A busy machine is no finding, and a test that fails must fail again for the next person.
settings.register_profile("standfast", deadline=None, derandomize=True, database=None)
settings.load_profile("standfast")
