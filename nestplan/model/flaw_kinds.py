"""The kinds of flaw, one record each: what files call it, what it spoils, and how it is drawn and named.

Rules, audit, figures, readers, schema, sheets, window and guide follow from these records; to add a kind, register
one more. A kind that neither spoils a face nor goes through only warns: no piece keeps off it, while a strap or a
lace keeps off it as off every flaw, unless the job lets that strip run over flaws.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from nestplan.model.registry import Registry

__all__ = [
    "FLAW_KINDS",
    "GRAIN",
    "THROUGH",
    "Face",
    "FlawKind",
    "HatchPattern",
    "register_flaw_kind",
    "unregister_flaw_kind",
]

Face = Literal["grain", "flesh"]


@dataclass(frozen=True)
class HatchPattern:
    """How an area is filled: `lines` or crossed lines at `angle` degrees, or `dots` in rows at that angle.

    `spacing` and `line_width` are mm on the paper.
    """

    style: Literal["lines", "cross", "dots"]
    spacing: float
    angle: float
    line_width: float = 0.13


@dataclass(frozen=True)
class FlawKind:
    """A kind of flaw. `name` is what files say in `spoils`.

    It spoils the `faces` named for pieces that show them; one that `goes_through` spoils the leather itself: no
    finished piece may lie on it, whatever it shows, nor any strip. `margin` (mm) is the usual distance to keep
    away. `letter` and `hatch` mark it in drawings. `words` say what it does in a legend, `clause` the same after
    "which", `choice` in a list to choose from. In drawing files it lies on the layer `layer`, explained by
    `layer_words`; layers whose names match `layer_patterns` are read as such.
    """

    name: str
    faces: frozenset[Face]
    goes_through: bool
    letter: str
    hatch: HatchPattern
    words: str
    clause: str
    choice: str
    layer: str
    layer_words: str
    layer_patterns: tuple[str, ...]
    margin: float = 3.0

    @property
    def only_warns(self) -> bool:
        """Whether it forbids nothing to pieces: it spoils no face and does not go through."""
        return not self.faces and not self.goes_through


THROUGH = FlawKind(
    name="through",
    faces=frozenset(),
    goes_through=True,
    letter="T",
    hatch=HatchPattern("cross", 1.1, 45.0),
    words="spoils the whole thickness",
    clause="spoils the whole thickness",
    choice="goes through: hole, cut, weak place",
    layer="through",
    layer_words="a flaw that goes through the leather",
    layer_patterns=("through*", "flaw*"),
)
"""A hole, a cut or a weak place."""

GRAIN = FlawKind(
    name="grain",
    faces=frozenset({"grain"}),
    goes_through=False,
    letter="G",
    hatch=HatchPattern("lines", 1.1, 60.0),
    words="spoils the grain side",
    clause="spoils the grain side",
    choice="spoils the grain side",
    layer="grain",
    layer_words="a flaw of the grain side",
    layer_patterns=("grain*",),
)
"""Seen on the grain side only: a scar, a brand, a tick mark."""

FLESH = FlawKind(
    name="flesh",
    faces=frozenset({"flesh"}),
    goes_through=False,
    letter="F",
    hatch=HatchPattern("lines", 1.1, 120.0),
    words="spoils the flesh side",
    clause="spoils the flesh side",
    choice="spoils the flesh side",
    layer="flesh",
    layer_words="a flaw of the flesh side",
    layer_patterns=("flesh*",),
)
"""On the flesh side only: a flay cut that does not go through."""

MARK = FlawKind(
    name="mark",
    faces=frozenset(),
    goes_through=False,
    letter="M",
    hatch=HatchPattern("dots", 1.5, 30.0, line_width=0.35),
    words="a warning only",
    clause="is only a warning",
    choice="only a mark to see",
    layer="blemish",
    layer_words="a flaw that only warns",
    layer_patterns=("blemish*",),
    margin=0.0,
)
"""Something to look at again."""

FLAW_KINDS: Registry[FlawKind] = Registry(THROUGH, GRAIN, FLESH, MARK)
"""All kinds, in the order in which lists and legends show them."""


def register_flaw_kind(kind: FlawKind) -> None:
    """Add a kind of flaw for this run of the program. Raises ValueError if its name, letter or layer is taken."""
    for other in FLAW_KINDS:
        if kind.letter == other.letter or kind.layer == other.layer:
            raise ValueError(f"the letter or the layer of '{kind.name}' is that of '{other.name}'")
    FLAW_KINDS.register(kind)


def unregister_flaw_kind(name: str) -> None:
    """Take a kind of flaw out again. Raises KeyError if there is none of that name."""
    FLAW_KINDS.unregister(name)
