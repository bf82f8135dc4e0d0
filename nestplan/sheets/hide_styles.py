"""Which line, pattern, letter and colour means what on a sheet or a picture.

Every meaning is told by a pattern, a letter or a word; colour only repeats it, so that a page without colour
still tells everything.
"""

from __future__ import annotations

from dataclasses import dataclass

from nestplan.drawing.colors import BLACK, BLUE, GREEN, SKY, VERMILLION
from nestplan.drawing.primitives import Fill, Hatch, LineStyle
from nestplan.model import Flaw

__all__ = [
    "DARK_STYLE",
    "HIDE_STYLES",
    "LIGHT_STYLE",
    "PAPER_STYLE",
    "SPOT_SIZE",
    "HideStyle",
]

SPOT_SIZE = 1.4
"""How wide the diamond of a spot is drawn, mm on the paper."""


@dataclass(frozen=True)
class HideStyle:
    """The colours of a hide's drawing, and the lines and fills that follow from them; widths are mm on the paper.

    A fill of None leaves the area empty.
    """

    name: str
    background: str
    ink: str
    faint: str
    hide_fill: str | None
    piece_fill: str | None
    strip_fill: str | None
    offcut_fill: str | None
    done_fill: str | None
    flaw: str
    offcut: str
    region: str
    stretch: str
    halo: str | None

    def stroke(self, width: float, *dash: float, color: str | None = None) -> LineStyle:
        """A line of that width and dash, in the style's ink unless another colour is given."""
        return LineStyle(width, color or self.ink, dash)

    @property
    def hide_edge(self) -> LineStyle:
        return self.stroke(0.6)

    @property
    def cut_line(self) -> LineStyle:
        return self.stroke(0.35)

    @property
    def finished_line(self) -> LineStyle:
        return self.stroke(0.18, 1.4, 0.8)

    @property
    def inner_line(self) -> LineStyle:
        """Openings, holes, slits and spots that are done at the table."""
        return self.stroke(0.2)

    @property
    def later_line(self) -> LineStyle:
        """Those that are only drawn, and done once the layers are glued and trimmed."""
        return self.stroke(0.16, 0.5, 0.4)

    @property
    def done_line(self) -> LineStyle:
        return self.stroke(0.25, 0.3, 0.9, color=self.faint)

    @property
    def backbone(self) -> LineStyle:
        return self.stroke(0.25, 6.0, 1.2, 0.8, 1.2)

    @property
    def base_line(self) -> LineStyle:
        return self.stroke(0.2, 3.0, 1.5)

    @property
    def region_line(self) -> LineStyle:
        return self.stroke(0.2, 2.2, 1.0, 0.4, 1.0, color=self.region)

    @property
    def offcut_line(self) -> LineStyle:
        return self.stroke(0.3, 0.5, 1.0, color=self.offcut)

    @property
    def margin_line(self) -> LineStyle:
        return self.stroke(0.13, 0.6, 0.9, color=self.flaw)

    def flaw_edge(self, flaw: Flaw) -> LineStyle:
        return self.stroke(0.4 if flaw.kind.goes_through else 0.22, color=self.flaw)

    def flaw_fill(self, flaw: Flaw) -> Fill:
        """The hatching of the flaw's kind."""
        hatch = flaw.kind.hatch
        lines = self.stroke(hatch.line_width, color=self.flaw)
        return Fill(self.background, Hatch(hatch.style, hatch.spacing, hatch.angle, lines))


PAPER_STYLE = HideStyle(
    name="paper", background="#ffffff", ink=BLACK, faint="#666666", hide_fill=None, piece_fill=None,
    strip_fill=None, offcut_fill=None, done_fill=None, flaw=BLACK, offcut=BLACK, region="#555555",
    stretch=BLACK, halo="#ffffff",
)  # fmt: skip
LIGHT_STYLE = HideStyle(
    name="light", background="#ffffff", ink="#1c1c1c", faint="#8a8a8a", hide_fill="#f6efe4",
    piece_fill="#cfe6f6", strip_fill="#fbe4b4", offcut_fill="#d3ece4", done_fill="#ececec", flaw=VERMILLION,
    offcut=GREEN, region="#7c6f5a", stretch=BLUE, halo=None,
)  # fmt: skip
DARK_STYLE = HideStyle(
    name="dark", background="#14171a", ink="#f2f2f2", faint="#8d959c", hide_fill="#2a2723",
    piece_fill="#17415c", strip_fill="#5a430b", offcut_fill="#0c3d30", done_fill="#24282c", flaw="#ff8a4c",
    offcut="#37c69c", region="#b7a98d", stretch=SKY, halo=None,
)  # fmt: skip
HIDE_STYLES: dict[str, HideStyle] = {style.name: style for style in (PAPER_STYLE, LIGHT_STYLE, DARK_STYLE)}
"""The styles by name: black on white paper, light, dark."""
