"""How records show themselves in a notebook."""

from __future__ import annotations

from nestplan.model.notebook import html_view, register_views, svg_view


class Thing:
    """Stands for a record."""


def test_a_record_that_nobody_draws_shows_nothing() -> None:
    assert svg_view(Thing()) is None
    assert html_view(Thing()) is None


def test_a_record_shows_itself_as_was_said_for_its_kind() -> None:
    class Drawn(Thing):
        pass

    register_views(Drawn, svg=lambda thing: f"<svg>{type(thing).__name__}</svg>")
    assert svg_view(Drawn()) == "<svg>Drawn</svg>"
    assert html_view(Drawn()) is None
    register_views(Drawn, html=lambda thing: None)
    assert html_view(Drawn()) is None
    assert svg_view(Thing()) is None
