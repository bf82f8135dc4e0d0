"""How a record shows itself in a notebook: as whoever can draw its kind has said, or not at all.

The model draws nothing; `nestplan.scripting` registers the views of hides and plans.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

__all__ = ["html_view", "register_views", "svg_view"]

View = Callable[[Any], str | None]

_svg: dict[type, View] = {}
_html: dict[type, View] = {}


def register_views(kind: type, *, svg: View | None = None, html: View | None = None) -> None:
    """Show records of `kind` by these functions from now on; each may return None where it has nothing to show."""
    if svg is not None:
        _svg[kind] = svg
    if html is not None:
        _html[kind] = html


def svg_view(record: object) -> str | None:
    """The record's picture as SVG; None where nobody draws its kind."""
    view = _svg.get(type(record))
    return None if view is None else view(record)


def html_view(record: object) -> str | None:
    """The record's table as HTML; None where nobody shows its kind."""
    view = _html.get(type(record))
    return None if view is None else view(record)
