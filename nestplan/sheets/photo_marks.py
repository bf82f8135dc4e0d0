"""The marks to lay round a hide for its photograph, a sheet each, with a rule to check the print.

The marks' shape is given by the caller: what reads them in a photograph says how they look.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from numpy.typing import ArrayLike

from nestplan.drawing.pages import Booklet, Page, paper_named
from nestplan.drawing.pdf import write_pdf
from nestplan.drawing.primitives import Fill, LineStyle

__all__ = ["photo_mark_booklet", "write_photo_marks"]

_RULE = 100.0
"""Length of the rule that checks the print, mm."""


def photo_mark_booklet(marks: Sequence[ArrayLike], *, count: int = 4, paper: str = "a4") -> Booklet:
    """`count` sheets, each with the mark: its black ring and the white one inside it, (n, 2) mm round (0, 0)."""
    import numpy as np

    black, white = (np.asarray(ring, dtype=np.float64) for ring in marks)
    size = paper_named(paper)
    pages = []
    for number in range(1, count + 1):
        page = Page(size.width, size.height)
        middle = np.array([size.width / 2, size.height / 2])
        page.picture.area([black + middle, white + middle], None, Fill("#000000"))
        _words(page, number, count, float(np.ptp(black[:, 0])))
        pages.append(page)
    return Booklet("Marks to lay round a hide", pages)


def _words(page: Page, number: int, count: int, side: float) -> None:
    picture, left = page.picture, page.width / 2 - _RULE / 2
    line = LineStyle(0.4)
    picture.line([(left, 40), (left + _RULE, 40)], line)
    for step in range(11):
        picture.line([(left + 10 * step, 40), (left + 10 * step, 44 if step % 5 else 46)], line)
    picture.text(
        page.width / 2,
        33,
        f"This rule is {_RULE:.0f} mm long, the black square {side:.0f} mm wide.",
        4,
        anchor="middle",
    )
    picture.text(
        page.width / 2,
        26,
        "Print at 100 % and measure. Lay the sheets flat, one at each corner of the hide,",
        4,
        anchor="middle",
    )
    picture.text(
        page.width / 2,
        20,
        f"the square wholly in sight. Sheet {number} of {count}; all are alike.",
        4,
        anchor="middle",
    )


def write_photo_marks(
    path: str | Path, marks: Sequence[ArrayLike], *, count: int = 4, paper: str = "a4"
) -> None:
    """Write the sheets as a PDF.

    Raises InputError if it cannot be written or the paper is not known.
    """
    write_pdf(photo_mark_booklet(marks, count=count, paper=paper), path)
