from __future__ import annotations

from dataclasses import dataclass

from nestplan.model import notebook


@dataclass
class Sketched:
    words: str


@dataclass
class Plain:
    words: str


def test_a_record_shows_itself_as_was_registered_for_its_own_kind_only() -> None:
    notebook.register_views(Sketched, svg=lambda each: f"<svg>{each.words}</svg>")
    assert notebook.svg_view(Sketched("a")) == "<svg>a</svg>"
    assert notebook.html_view(Sketched("a")) is None
    assert notebook.svg_view(Plain("a")) is None
    notebook.register_views(Sketched, html=lambda _: None)
    assert notebook.html_view(Sketched("a")) is None
    assert notebook.svg_view(Sketched("b")) == "<svg>b</svg>"
