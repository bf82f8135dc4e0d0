"""What holds for every test.

Property tests are not timed, since a busy machine is no fault of the code, and try the same examples every time, so
that a run says the same as the one before. `pytest --hypothesis-profile=random` tries others; what it finds becomes an
`@example` of its test.
"""

from __future__ import annotations

from hypothesis import settings

settings.register_profile("nestplan", deadline=None, derandomize=True, database=None)
settings.register_profile("random", deadline=None, derandomize=False, database=None, print_blob=True)
settings.load_profile("nestplan")
