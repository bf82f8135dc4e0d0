"""The list of checks of what strangers' files must not do is as long as it was, and each is a test that is run."""

from __future__ import annotations

from tests.security_checks import security_checks


def test_there_are_more_than_a_hundred_checks_of_many_kinds() -> None:
    checks = security_checks()
    assert len(checks) > 300
    assert len({check.partition("::")[0] for check in checks}) > 12
