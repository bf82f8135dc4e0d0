"""The kinds of mark on a piece, one record each: what is done there, what measures it, how it is named and drawn.

The checks of a piece, the supplies, sheets, exports and the window's list follow from these records.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from nestplan.model.registry import Registry

__all__ = ["LARGEST_PUNCH", "MARK_KINDS", "MarkKind", "register_mark_kind", "unregister_mark_kind"]

LARGEST_PUNCH = 25.0
"""Round holes up to this diameter in mm are punched, larger ones cut out as openings (ours; no source)."""


@dataclass(frozen=True)
class MarkKind:
    """A kind of mark. `name` is what files say in `do`.

    `measure` names the field of a mark that holds its size (none: it has no size), `needs_measure` is what is said
    when it is missing. `has_direction`: its angle counts. `cuts`: leather is cut there; `goes_through`: it is usually
    done through every layer at once, glued and trimmed; `takes_hardware`: what the
    maker names there is set there and has to be bought. `symbol` tells drawings how to show it. `choice` stands in
    a list to choose from; `template_words` and `job_words` stand on the sheets, with `{size}` for the size in
    words. In drawing files it lies on the layer `layer`.
    """

    name: str
    measure: Literal["diameter", "length"] | None
    needs_measure: str
    has_direction: bool
    cuts: bool
    goes_through: bool
    takes_hardware: bool
    symbol: Literal["circle", "bar", "spot"]
    choice: str
    template_words: str
    job_words: str
    layer: str


PUNCH = MarkKind(
    name="punch",
    measure="diameter",
    needs_measure="A punched hole needs a diameter.",
    has_direction=False,
    cuts=True,
    goes_through=True,
    takes_hardware=True,
    symbol="circle",
    choice="hole to punch",
    template_words="punch a hole {size} across",
    job_words="punch {size}",
    layer="hole",
)
"""A round hole."""

SLIT = MarkKind(
    name="slit",
    measure="length",
    needs_measure="A slit needs a length.",
    has_direction=True,
    cuts=True,
    goes_through=True,
    takes_hardware=False,
    symbol="bar",
    choice="slit to cut",
    template_words="cut a slit {size} long",
    job_words="slit {size}",
    layer="slit",
)
"""A straight cut."""

SPOT = MarkKind(
    name="mark",
    measure=None,
    needs_measure="",
    has_direction=False,
    cuts=False,
    goes_through=False,
    takes_hardware=True,
    symbol="spot",
    choice="spot to mark",
    template_words="mark only, do not cut",
    job_words="mark",
    layer="mark",
)
"""A spot to see: where a rivet, a stud or a fold will be."""

MARK_KINDS: Registry[MarkKind] = Registry(PUNCH, SLIT, SPOT)
"""All kinds, in the order in which lists show them."""


def register_mark_kind(kind: MarkKind) -> None:
    """Add a kind of mark for this run of the program. Raises ValueError if its name is taken."""
    MARK_KINDS.register(kind)


def unregister_mark_kind(name: str) -> None:
    """Take a kind of mark out again. Raises KeyError if there is none of that name."""
    MARK_KINDS.unregister(name)
