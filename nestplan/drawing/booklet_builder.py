"""Text, tables and drawings set one below the other on as many pages as they need.

Knows pages, letters and rules; knows nothing of hides and plans. All sizes in mm.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from nestplan.drawing.lettering import text_width, wrapped
from nestplan.drawing.pages import MARGIN, Booklet, Page, Paper
from nestplan.drawing.primitives import Anchor, LineStyle

__all__ = [
    "BODY_SIZE",
    "SMALL_SIZE",
    "TABLE_SIZE",
    "TITLE_SIZE",
    "BookletBuilder",
    "Column",
]

TITLE_SIZE, _HEADING_SIZE, BODY_SIZE, TABLE_SIZE, SMALL_SIZE = 6.0, 4.2, 3.3, 3.0, 2.6
"""Sizes of the letters' em, mm: 3.0 mm is 8.5 points."""
_LEADING = 1.32
"""Distance of two lines, as a multiple of the letters' size."""
_HEAD, _FOOT = 9.0, 6.0
"""Height of a page's head and foot, mm."""
_RULE, _THIN = LineStyle(0.45), LineStyle(0.12)
_GREY = "#444444"


@dataclass(frozen=True)
class Column:
    """A table's column: its heading, its width as a share of the table's, and on which side its words stand."""

    heading: str
    share: float
    anchor: Anchor = "left"


class BookletBuilder:
    """Sets blocks from the top of the page downwards and opens a new page when one is full.

    `title` stands in the head of every page with the page's number; `note` in its foot.
    """

    def __init__(self, paper: Paper, title: str, *, note: str = "") -> None:
        self.paper = paper
        self.title = title
        self.note = note
        self.pages: list[Page] = []
        self.open_page()

    @property
    def page(self) -> Page:
        return self.pages[-1]

    @property
    def width(self) -> float:
        return self.paper.width - 2 * MARGIN

    @property
    def room_left(self) -> float:
        """What is left on this page, mm."""
        return self.y - MARGIN - _FOOT

    @property
    def page_room(self) -> float:
        """What an empty page holds, mm."""
        return self.paper.height - 2 * MARGIN - _HEAD - _FOOT

    def open_page(self) -> None:
        self.pages.append(Page(self.paper.width, self.paper.height))
        self.y = self.paper.height - MARGIN - _HEAD

    def ensure_room(self, height: float) -> None:
        """Open a new page unless `height` mm are left, or the page is still empty."""
        if self.room_left < height and self.room_left < self.page_room - 0.1:
            self.open_page()

    def skip(self, height: float = 3.0) -> None:
        self.y -= min(height, max(self.room_left, 0.0))

    def heading(self, words: str, *, size: float = _HEADING_SIZE, keep_with_next: float = 12.0) -> None:
        """A bold line with a short rule under it; `keep_with_next` mm of what follows stay on the same page."""
        lines = wrapped(words, size, self.width, bold=True)
        self.ensure_room(len(lines) * size * _LEADING + 2.5 + keep_with_next)
        for line in lines:
            self.y -= size * _LEADING
            self.page.picture.text(MARGIN, self.y, line, size, bold=True)
        reach = max(text_width(line, size, True) for line in lines)
        self.y -= 1.4
        self.page.picture.line([(MARGIN, self.y), (MARGIN + min(reach + 4.0, self.width), self.y)], _RULE)
        self.y -= 1.6

    def paragraph(
        self,
        words: str,
        *,
        size: float = BODY_SIZE,
        bold: bool = False,
        indent: float = 0.0,
        gap: float = 1.2,
    ) -> None:
        """Words broken into lines across the page, which may run over onto the next."""
        for line in wrapped(words, size, self.width - indent, bold):
            self.ensure_room(size * _LEADING)
            self.y -= size * _LEADING
            self.page.picture.text(MARGIN + indent, self.y + 0.25 * size, line, size, bold=bold)
        self.skip(gap)

    def bullets(
        self, points: Sequence[str], *, size: float = BODY_SIZE, box: bool = False, indent: float = 0.0
    ) -> None:
        """Each point on lines of its own after a dash, or after an empty box to tick."""
        left = MARGIN + indent
        for point in points:
            lines = wrapped(point, size, self.width - 6.0 - indent)
            self.ensure_room(len(lines) * size * _LEADING)
            top = self.y - size * _LEADING
            if box:
                low = top + 0.1 * size
                self.page.picture.area(
                    [(left, low), (left + 3, low), (left + 3, low + 3), (left, low + 3)],
                    LineStyle(0.25),
                )
            else:
                self.page.picture.text(left + 1.0, top + 0.25 * size, "–", size)
            for line in lines:
                self.y -= size * _LEADING
                self.page.picture.text(left + 5.5, self.y + 0.25 * size, line, size)
            self.skip(0.6)

    def table(
        self,
        columns: Sequence[Column],
        rows: Sequence[Sequence[str]],
        *,
        size: float = TABLE_SIZE,
        bold_rows: frozenset[int] = frozenset(),
        width: float | None = None,
    ) -> None:
        """Rows of cells between thin rules, the headings repeated on every page; long cells are wrapped.

        A row of one cell runs across the whole table as a bold line between the rows.
        """
        whole = width or self.width
        total = sum(column.share for column in columns)
        edges = [MARGIN]
        for column in columns:
            edges.append(edges[-1] + whole * column.share / total)
        heads = self._cells(columns, [column.heading for column in columns], edges, size, bold=True)
        head_height = self._height(heads, size)
        self.ensure_room(head_height + 3 * size * _LEADING)
        self._row(columns, heads, edges, size, bold=True, rule=_RULE)
        for number, row in enumerate(rows):
            across = len(row) == 1 and len(columns) > 1
            bold = across or number in bold_rows
            if across:
                cells = [wrapped(row[0], size, whole - 2.0, True)]
                # A line across the table stays with the row below it.
                needed = self._height(cells, size) + 3 * size * _LEADING
            else:
                cells = self._cells(columns, row, edges, size, bold=bold)
                needed = self._height(cells, size)
            if self.room_left < needed:
                self.open_page()
                self._row(columns, heads, edges, size, bold=True, rule=_RULE)
            last = [MARGIN, MARGIN + whole]
            self._row(columns, cells, last if across else edges, size, bold=bold, rule=_THIN)
        self.skip(3.0)

    def _cells(
        self,
        columns: Sequence[Column],
        row: Sequence[str],
        edges: Sequence[float],
        size: float,
        *,
        bold: bool,
    ) -> list[list[str]]:
        return [
            wrapped(words, size, edges[number + 1] - edges[number] - 2.0, bold)
            for number, (_, words) in enumerate(zip(columns, row, strict=True))
        ]

    @staticmethod
    def _height(cells: Sequence[Sequence[str]], size: float) -> float:
        return max(len(lines) for lines in cells) * size * _LEADING + 1.0

    def _row(
        self,
        columns: Sequence[Column],
        cells: Sequence[Sequence[str]],
        edges: Sequence[float],
        size: float,
        *,
        bold: bool,
        rule: LineStyle,
    ) -> None:
        height = self._height(cells, size)
        for number, lines in enumerate(cells):
            anchor: Anchor = columns[number].anchor if len(cells) == len(columns) else "left"
            left, right = edges[number] + 1.0, edges[number + 1] - 1.0
            x = {"left": left, "middle": (left + right) / 2, "right": right}[anchor]
            y = self.y - 0.5
            for line in lines:
                y -= size * _LEADING
                if line:
                    self.page.picture.text(x, y + 0.3 * size, line, size, anchor=anchor, bold=bold)
        self.y -= height
        self.page.picture.line([(edges[0], self.y), (edges[-1], self.y)], rule)

    def reserve(self, height: float) -> tuple[float, float, float, float]:
        """Room for a drawing across the page: its box xmin, ymin, xmax, ymax; the next thing stands below it."""
        self.ensure_room(height)
        top = self.y
        self.y -= height
        return MARGIN, self.y, MARGIN + self.width, top

    def finish(self) -> Booklet:
        """The finished pages with their heads and feet; call it once, at the end."""
        for number, page in enumerate(self.pages, start=1):
            top = page.height - MARGIN
            side = f"page {number} of {len(self.pages)}"
            page.picture.text(page.width - MARGIN, top - 4.0, side, BODY_SIZE, anchor="right", color=_GREY)
            room = self.width - text_width(side, BODY_SIZE) - 8.0
            title = wrapped(self.title, BODY_SIZE, room, bold=True)[0]
            page.picture.text(MARGIN, top - 4.0, title, BODY_SIZE, bold=True)
            page.picture.line([(MARGIN, top - 6.0), (page.width - MARGIN, top - 6.0)], _RULE)
            if self.note:
                note = wrapped(self.note, SMALL_SIZE, self.width)[0]
                page.picture.text(MARGIN, MARGIN + 0.8, note, SMALL_SIZE, color=_GREY)
        return Booklet(self.title, self.pages)
