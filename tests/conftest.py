"""What holds for every test.

Property tests are not timed, since a busy machine is no fault of the code, and try the same examples every time, so
that a run says the same as the one before. `pytest --hypothesis-profile=random` tries others; what it finds becomes an
`@example` of its test.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import settings

_TESTS = Path(__file__).parent
_MEASURED = frozenset({"geometry", "model", "yields", "nesting", "estimate", "desk"})
"""Folders whose tests are to cover what they are named after. The others run untraced, which is quicker."""

settings.register_profile("nestplan", deadline=None, derandomize=True, database=None)
settings.register_profile("random", deadline=None, derandomize=False, database=None, print_blob=True)
settings.load_profile("nestplan")


def pytest_configure(config: pytest.Config) -> None:
    """Where several processes run the tests, the kernels are compiled before they begin; each would compile them."""
    if getattr(config.option, "numprocesses", None):
        # Imported here, since what is imported before a process of tests is traced would count as not covered.
        from nestplan.tasks.planning import prepare_engine

        prepare_engine(lambda: None)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in items:
        if item.path.relative_to(_TESTS).parts[0] not in _MEASURED:
            item.add_marker(pytest.mark.no_cover)
