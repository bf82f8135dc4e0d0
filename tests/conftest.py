"""What holds for every test: property tests are not timed, since a busy machine is no fault of the code."""

from __future__ import annotations

from hypothesis import settings

settings.register_profile("nestplan", deadline=None)
settings.load_profile("nestplan")
