"""Papers as sizes, and a page as a drawing of that size; nothing about what stands on it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from nestplan.drawing.primitives import Picture
from nestplan.errors import InputError
from nestplan.geometry.units import MM_PER_INCH

__all__ = [
    "MARGIN",
    "PAPERS",
    "Booklet",
    "Page",
    "Paper",
    "paper_named",
]

MARGIN = 10.5
"""Everything stands this far from the paper's edge, mm, so that 10 mm stay white whatever a line's width:
most printers leave 5 to 7 mm white."""


@dataclass(frozen=True)
class Paper:
    """A sheet's size in mm, upright; a roll has its width and the longest length it is cut to."""

    name: str
    width: float
    height: float
    roll: bool = False

    def turned(self) -> Paper:
        """The same sheet lying on its long side."""
        return Paper(self.name, self.height, self.width, self.roll)


PAPERS: dict[str, Paper] = {
    # ISO 216 for A3 and A4; 8.5 x 11 in for Letter. Roll plotters of 24 in are usual; the width may be set.
    "a3": Paper("A3", 297.0, 420.0),
    "a4": Paper("A4", 210.0, 297.0),
    "letter": Paper("Letter", 8.5 * MM_PER_INCH, 11.0 * MM_PER_INCH),
    "roll": Paper("roll", 24.0 * MM_PER_INCH, 3000.0, roll=True),
}


def paper_named(name: str, *, roll_width: float | None = None) -> Paper:
    """The paper called `name` (a4, letter, a3, roll); `roll_width` in mm sets another width for the roll."""
    paper = PAPERS.get(name.strip().lower())
    if paper is None:
        raise InputError(f"There is no paper called “{name}”.", mend="Take a4, letter, a3 or roll.")
    if paper.roll and roll_width is not None:
        if not 150.0 <= roll_width <= 2000.0:
            raise InputError(
                f"A roll of {roll_width:g} mm cannot be used.", mend="Give a width from 150 to 2000 mm."
            )
        return Paper(paper.name, roll_width, paper.height, roll=True)
    return paper


@dataclass
class Page:
    """One page: its size in mm and the drawing on it, the origin at the lower left corner."""

    width: float
    height: float
    picture: Picture = field(default_factory=Picture)
    background: str = "#ffffff"

    @property
    def inner(self) -> tuple[float, float, float, float]:
        """The page inside its margin: xmin, ymin, xmax, ymax in mm."""
        return MARGIN, MARGIN, self.width - MARGIN, self.height - MARGIN


@dataclass(frozen=True)
class Booklet:
    """Pages that go into one file, with the title a reader program shows."""

    title: str
    pages: Sequence[Page]
