"""What holds for every test: properties are tried on the same inputs each time, however slow the machine is."""

from __future__ import annotations

from hypothesis import settings

settings.register_profile("subbase", deadline=None, derandomize=True)
settings.load_profile("subbase")
