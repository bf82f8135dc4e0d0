"""Templates read from a photograph once, and kept for the tests of a module that ask for the same again."""

from __future__ import annotations

from typing import Any

import pytest

from nestplan.tasks import templates

__all__ = ["keep_readings"]


def keep_readings(monkeypatch: pytest.MonkeyPatch, kept: dict[str, Any]) -> None:
    """Whoever reads templates reads them for the first time for `kept`, later on gets what was read."""
    really = templates.read_templates

    def read(photo: Any, scale: Any, **others: Any) -> Any:
        asked = f"{photo.name} {scale}"
        if asked not in kept:
            kept[asked] = really(photo, scale, **others)
        return kept[asked]

    monkeypatch.setattr(templates, "read_templates", read)
