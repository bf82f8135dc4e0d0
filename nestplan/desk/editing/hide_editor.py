"""The step Hides: outlines traced and mended, flaws, regions, backbone and stretch drawn on the current hide.

What is drawn becomes a new Hide by the model's own checks; a refusal is told and nothing changes.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Hashable, Iterator

import msgspec
import numpy as np
from numpy.typing import ArrayLike
from PySide6.QtCore import Signal
from shapely import union_all
from shapely.affinity import scale, translate
from shapely.geometry import Point, Polygon

from nestplan.desk.document.document import Document
from nestplan.desk.editing.command import Command
from nestplan.desk.editing.legend_entries import hide_legend
from nestplan.desk.editing.step_editor import StepEditor
from nestplan.desk.table.canvas import Table
from nestplan.desk.table.items import BackboneLine, ShownHide, ShownRegion, StretchArrow
from nestplan.desk.table.legend import LegendEntry
from nestplan.desk.table.tracing import DiscTool, PointerPosition, PointsTool, StrokeTool, Tool, TraceTool
from nestplan.errors import NestplanError
from nestplan.geometry.ring import make_ring, signed_area
from nestplan.geometry.units import show_area
from nestplan.model.flaw_kinds import THROUGH
from nestplan.model.hide import Disc, Flaw, Hide, Line, Origin, Region
from nestplan.tasks.contents import HidePhoto
from nestplan.tasks.output_paths import free_name

__all__ = ["HideEditor"]

_POINTS = tuple[tuple[float, float], ...]


class _HideTool(Tool):
    """The tool for when none is chosen: a click selects a flaw or region, a double click opens its points."""

    hint = (
        "Click a flaw or a region to select it. Double click the edge to change its points. "
        "Drag the ground to move the view."
    )

    def __init__(self, editor: HideEditor) -> None:
        self._editor = editor

    def press(self, pointer: PointerPosition) -> bool:
        return self._editor.select_at(pointer)

    def double_click(self, pointer: PointerPosition) -> bool:
        if not self._editor.select_at(pointer):
            self._editor.select("", -1)
        self._editor.edit_points()
        return True

    def key(self, key: str) -> bool:
        if key == "delete" and self._editor.kind:
            self._editor.remove_selected()
            return True
        return False


class HideEditor(StepEditor):
    """Drawing on the current hide. `selected` tells which flaw or region is selected: (kind, number)."""

    selected = Signal(str, int)

    def __init__(self, document: Document, table: Table) -> None:
        super().__init__(document, table)
        self.kind, self.number = "", -1
        self.spoils, self.margin, self.width = THROUGH.name, THROUGH.margin, 3.0
        document.hide_shown.connect(self._shown)
        document.photos_changed.connect(self.refresh)

    def _shown(self, hide: Hide | None) -> None:
        parts = {"flaw": hide.flaws, "region": hide.regions}.get(self.kind, ()) if hide else ()
        if self.kind and self.number >= len(parts):
            self.select("", -1)
        self.refresh()
        if self.active and isinstance(self.table.tool, PointsTool):
            # The outline may have changed under the tool: by undo, or in a panel.
            ring = self._ring_at_hand()
            if ring is None:
                self.use_default_tool()
            elif not np.array_equal(ring, self.table.tool.ring):
                self.table.tool.take(ring)

    def records(self) -> Iterator[tuple[Hashable, object]]:
        hide = self.document.hide
        if hide is None:
            return
        yield from leather_records(hide, self.document.contents.photo(hide.name))
        yield from hide_records(hide)

    def legend(self) -> Iterator[LegendEntry]:
        return hide_legend(self.document.hide)

    def use_default_tool(self) -> None:
        self.table.set_tool(_HideTool(self))

    def select(self, kind: str, number: int) -> None:
        """Select a flaw or a region by its number, or nothing."""
        if (kind, number) != (self.kind, self.number):
            self.kind, self.number = kind, number
            self.selected.emit(kind, number)

    def select_at(self, pointer: PointerPosition) -> bool:
        """Select the flaw, else the region's edge, under the pointer. Whether there is one."""
        hide = self.document.hide
        if hide is None:
            return False
        at = Point(pointer.at)
        for number in reversed(range(len(hide.flaws))):
            if Polygon(hide.flaws[number].ring).distance(at) <= pointer.tolerance / 2:
                self.select("flaw", number)
                return True
        for number in reversed(range(len(hide.regions))):
            if Polygon(hide.regions[number].ring).exterior.distance(at) <= pointer.tolerance:
                self.select("region", number)
                return True
        self.select("", -1)
        return False

    def commands(self) -> list[Command]:
        what = self.kind or "outline"
        there = bool(self.kind)
        return [
            Command(f"Change the {what}'s points", self.edit_points, "points", "Ctrl+E"),
            Command(
                f"Duplicate the {what}" if there else "Duplicate the hide", self.duplicate, key="Ctrl+Shift+D"
            ),
            Command(f"Delete the {what}", self.remove_selected, "off", "Del", enabled=there),
            Command("Spot", lambda: self.draw_flaw("disc"), "disc", "Ctrl+D"),
            Command("Scratch", lambda: self.draw_flaw("line"), "line", "Ctrl+L"),
            Command("Patch", lambda: self.draw_flaw("outline"), "area", "Ctrl+F"),
            Command("Region", self.draw_region, "region", "Ctrl+R"),
        ]

    def duplicate(self) -> None:
        """Another flaw beside the selected one; a hide like this one where none is selected."""
        hide = self.document.hide
        if hide is None:
            return
        if self.kind == "flaw":
            flaw = shifted_flaw(hide.flaws[self.number], 30.0, 30.0)
            self.attempt(
                lambda: self.document.edit_hide(
                    "Duplicate a flaw", msgspec.structs.replace(hide, flaws=(*hide.flaws, flaw))
                )
            )
            self.select("flaw", len(hide.flaws))
        elif not self.kind:
            name = free_name(f"{hide.name} copy", [other.name for other in self.document.contents.hides])
            self.document.add_hide(msgspec.structs.replace(hide, name=name))

    def selected_box(self) -> tuple[float, float, float, float] | None:
        ring = self._ring_at_hand()
        if ring is None:
            return None
        (left, bottom), (right, top) = ring.min(axis=0).tolist(), ring.max(axis=0).tolist()
        return left, bottom, right, top

    def trace_new(self, leather: str = "leather", done: Callable[[], None] | None = None) -> None:
        """Trace a new hide on the table."""

        def finished(points: _POINTS) -> None:
            name = free_name("New hide", [hide.name for hide in self.document.contents.hides])
            if self.attempt(
                lambda: self.document.add_hide(
                    Hide(name=name, leather=leather, outline=_ring(points), origin=Origin(how="traced"))
                )
            ):
                self.use_default_tool()
                if done is not None:
                    done()

        self.use_tool(TraceTool(finished, cancelled=self.use_default_tool, label=_area_words), "hide")

    def trace_outline(self) -> None:
        """Trace the outline of the current hide anew, over its photograph."""

        def finished(points: _POINTS) -> None:
            hide = self.document.hide
            if hide is not None and self.attempt(
                lambda: self.document.edit_hide(
                    "Trace the outline", msgspec.structs.replace(hide, outline=_ring(points))
                )
            ):
                self.use_default_tool()

        self.use_tool(
            TraceTool(finished, cancelled=self.use_default_tool, label=self._area_beside_the_sellers),
            "outline",
        )

    def _area_beside_the_sellers(self, points: _POINTS) -> str:
        hide = self.document.hide
        if hide is None or hide.stated_area is None:
            return _area_words(points)
        return f"{_area_words(points)}; the seller states {show_area(hide.stated_area)}"

    def edit_points(self) -> None:
        """Change the points of the selected flaw or region, or of the outline where nothing is selected."""
        ring = self._ring_at_hand()
        if ring is not None:
            self.use_tool(PointsTool(ring, self._points_changed, cancelled=self.use_default_tool), "points")

    def _ring_at_hand(self) -> np.ndarray | None:
        hide = self.document.hide
        if hide is None:
            return None
        if self.kind == "flaw":
            return hide.flaws[self.number].ring
        if self.kind == "region":
            return hide.regions[self.number].ring
        return hide.ring

    def _points_changed(self, ring: np.ndarray, words: str) -> np.ndarray | None:
        hide = self.document.hide
        if hide is None:
            return None
        try:
            outline = _ring(ring)
            if self.kind == "flaw":
                flaw = msgspec.structs.replace(hide.flaws[self.number], outline=outline, disc=None, line=None)
                self._put("flaws", self.number, flaw, words)
            elif self.kind == "region":
                region = msgspec.structs.replace(hide.regions[self.number], outline=outline)
                self._put("regions", self.number, region, words)
            else:
                self.document.edit_hide(words, msgspec.structs.replace(hide, outline=outline))
        except NestplanError as error:
            self.error_reported.emit(error)
            return None
        return self._ring_at_hand()

    def draw_flaw(self, shape: str) -> None:
        """Draw a flaw as an `outline`, a `disc` or a `line`; what it spoils is what was set last."""
        if self.document.hide is None:
            return
        if shape == "disc":
            self.use_tool(
                DiscTool(
                    lambda at, diameter: self._add_flaw(disc=Disc(at=at, diameter=diameter)),
                    cancelled=self.use_default_tool,
                ),
                "round flaw",
            )
        elif shape == "line":
            self.use_tool(
                TraceTool(
                    lambda points: self._add_flaw(line=Line(points=points, width=self.width)),
                    closed=False,
                    cancelled=self.use_default_tool,
                ),
                "line flaw",
            )
        else:
            self.use_tool(
                TraceTool(lambda points: self._add_flaw(outline=points), cancelled=self.use_default_tool),
                "outlined flaw",
            )

    def _add_flaw(
        self, *, outline: _POINTS | None = None, disc: Disc | None = None, line: Line | None = None
    ) -> None:
        hide = self.document.hide
        if hide is None:
            return

        def add() -> None:
            ring = None if outline is None else _ring(outline)
            flaw = Flaw(spoils=self.spoils, margin=self.margin, outline=ring, disc=disc, line=line)
            self.document.edit_hide("Add a flaw", msgspec.structs.replace(hide, flaws=(*hide.flaws, flaw)))
            self.select("flaw", len(hide.flaws))

        if self.attempt(add):
            self.use_default_tool()

    def draw_region(self) -> None:
        """Draw a region of the current hide."""

        def finished(points: _POINTS) -> None:
            hide = self.document.hide
            if hide is None:
                return

            def add() -> None:
                name = free_name("region", [region.name for region in hide.regions])
                region = Region(name=name, outline=_ring(points))
                self.document.edit_hide(
                    "Add a region", msgspec.structs.replace(hide, regions=(*hide.regions, region))
                )
                self.select("region", len(hide.regions))

            if self.attempt(add):
                self.use_default_tool()

        self.use_tool(TraceTool(finished, cancelled=self.use_default_tool), "region")

    def draw_backbone(self, *, then: Callable[[], object] = lambda: None) -> None:
        """Draw the backbone from neck to tail; `then` is done once it is there."""

        def finished(start: tuple[float, float], end: tuple[float, float]) -> None:
            hide = self.document.hide
            if hide is not None:
                self.document.edit_hide(
                    "Set the backbone", msgspec.structs.replace(hide, backbone=(start, end))
                )
            self.use_default_tool()
            then()

        hint = "Press at the neck, draw along the backbone to the tail and let go."
        self.use_tool(StrokeTool(finished, hint=hint, cancelled=self.use_default_tool), "backbone")

    def draw_stretch(self) -> None:
        """Draw the direction in which the hide (or the selected region) gives most."""

        def finished(start: tuple[float, float], end: tuple[float, float]) -> None:
            hide = self.document.hide
            angle = math.degrees(math.atan2(end[1] - start[1], end[0] - start[0])) % 180.0
            if hide is not None and self.kind == "region":
                region = msgspec.structs.replace(hide.regions[self.number], stretch=round(angle, 1))
                self._put("regions", self.number, region, "Set the stretch")
            elif hide is not None:
                self.document.edit_hide(
                    "Set the stretch", msgspec.structs.replace(hide, stretch=round(angle, 1))
                )
            self.use_default_tool()

        hint = "Pull the leather between your hands; draw a stroke the way it gives most. Shift keeps to 15° steps."
        self.use_tool(StrokeTool(finished, hint=hint, cancelled=self.use_default_tool), "stretch")

    def change(self, words: str, **fields: object) -> None:
        """Change fields of the current hide."""
        hide = self.document.hide
        if hide is not None:
            self.attempt(
                lambda: self.document.edit_hide(words, msgspec.structs.replace(hide, **fields), old=hide.name)
            )

    def change_selected(self, words: str, **fields: object) -> None:
        """Change fields of the selected flaw or region."""
        hide = self.document.hide
        if hide is None or not self.kind:
            return
        field = f"{self.kind}s"

        def change() -> None:
            part = msgspec.structs.replace(getattr(hide, field)[self.number], **fields)
            self._put(field, self.number, part, words)

        self.attempt(change)

    def remove_selected(self) -> None:
        """Take the selected flaw or region away."""
        hide = self.document.hide
        if hide is None or not self.kind:
            return
        field, number = f"{self.kind}s", self.number
        parts = getattr(hide, field)
        words = f"Delete a {self.kind}"
        self.select("", -1)
        self.change(words, **{field: parts[:number] + parts[number + 1 :]})

    def _put(self, field: str, number: int, part: object, words: str) -> None:
        hide = self.document.hide
        if hide is None:
            return
        parts = list(getattr(hide, field))
        parts[number] = part
        self.document.edit_hide(words, msgspec.structs.replace(hide, **{field: tuple(parts)}))


def shifted_flaw(flaw: Flaw, dx: float, dy: float) -> Flaw:
    """The flaw moved by so many mm."""

    def moved(points: _POINTS) -> _POINTS:
        return tuple((x + dx, y + dy) for x, y in points)

    if flaw.disc is not None:
        x, y = flaw.disc.at
        return msgspec.structs.replace(flaw, disc=msgspec.structs.replace(flaw.disc, at=(x + dx, y + dy)))
    if flaw.line is not None:
        line = msgspec.structs.replace(flaw.line, points=moved(flaw.line.points))
        return msgspec.structs.replace(flaw, line=line)
    return msgspec.structs.replace(flaw, outline=moved(flaw.outline or ()))


def leather_records(hide: Hide, photo: HidePhoto | None) -> Iterator[tuple[Hashable, object]]:
    """The hide itself, over its photograph where there is one."""
    if photo is not None:
        yield "photo", photo
    yield "hide", ShownHide(hide, photo)


_records_of_hides: dict[int, tuple[Hide, list[tuple[Hashable, object]]]] = {}


def hide_records(hide: Hide) -> list[tuple[Hashable, object]]:
    """What is drawn on a hide: its regions, stretch, backbone and flaws."""
    known = _records_of_hides.get(id(hide))
    if known is None or known[0] is not hide:
        if len(_records_of_hides) > 64:
            _records_of_hides.clear()
        known = _records_of_hides[id(hide)] = (hide, list(_records_on(hide)))
    return known[1]


def _records_on(hide: Hide) -> Iterator[tuple[Hashable, object]]:
    from nestplan.model.rules import zones_of

    if hide.backbone is not None:
        yield "backbone", BackboneLine(hide.backbone)
    for zone in zones_of(hide):
        parts = list(getattr(zone.area, "geoms", (zone.area,)))
        largest = max(parts, key=lambda part: part.area)
        if largest.area < 0.004 * hide.gross_area:
            continue  # a sliver along the edge, left by regions drawn a little off
        arrow = min(120.0, 0.25 * math.sqrt(largest.area))
        at = _clear_point(largest, hide, 0.5 * arrow + 60.0)
        if zone.name:
            rings = tuple(
                tuple(ring.coords[:-1]) for part in parts for ring in (part.exterior, *part.interiors)
            )
            # The name stands below the arrow, at any zoom.
            low = at[1] - (arrow / 2 if zone.stretch is not None else 0.0)
            yield ("region", zone.name), ShownRegion(zone.name, zone.firmness, rings, (at[0], low))
        if zone.stretch is not None:
            yield ("stretch", zone.name), StretchArrow(at, zone.stretch, arrow)
    for number, flaw in enumerate(hide.flaws):
        yield ("flaw", number), flaw


def _clear_point(area: Polygon, hide: Hide, below: float) -> tuple[float, float]:
    """A point of `area` far from its edge and from the hide's flaws, where an arrow can be read, and the name
    that stands `below` mm under it."""
    from nestplan.geometry.inscribed import largest_disc
    from nestplan.geometry.ring import to_polygon

    clear = area.difference(union_all([to_polygon(flaw.ring).buffer(25.0) for flaw in hide.flaws]))
    clear = clear.intersection(translate(clear, 0.0, below))
    parts = [
        part for part in getattr(clear, "geoms", (clear,)) if isinstance(part, Polygon) and part.area > 0
    ]
    room = max(parts, key=lambda part: part.area, default=area)
    # A name is wide and low: the room for it is looked for with the width drawn together.
    x, y, _ = largest_disc(scale(room, 0.4, 1.0, origin=(0, 0)), tolerance=5.0)
    return round(x / 0.4, 1), round(y, 1)


def _area_words(points: _POINTS) -> str:
    """The area inside the points, as far as they go, in both units."""
    within = abs(signed_area(np.asarray(points, dtype=float)))
    return f"{show_area(within)} · {show_area(within, 'ft2')}"


def _ring(points: ArrayLike) -> _POINTS:
    """Points as a checked outline, to a tenth of a millimetre: a hand is no more exact than that."""
    return tuple((round(float(x), 1), round(float(y), 1)) for x, y in make_ring(points, place="outline"))
