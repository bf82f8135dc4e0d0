"""The step Cut on the document: the order of cutting, placements marked as cut, a flaw found on the way."""

from __future__ import annotations

import msgspec

from nestplan.desk.document import plan_edits
from nestplan.desk.document.document import Document
from nestplan.desk.editing.step_editor import StepEditor
from nestplan.desk.table.tracing import DiscTool, TraceTool
from nestplan.geometry.ring import make_ring
from nestplan.model.hide import Disc, Flaw, Line
from nestplan.model.plan import Placement
from nestplan.model.values import Point, Points
from nestplan.sheets.cutting_order import cutting_steps

__all__ = ["cutting_numbers", "draw_found_flaw", "mark_cut", "named", "steps_on_hide"]


def steps_on_hide(document: Document) -> list[tuple[str, tuple[Placement, ...], str]]:
    """The order of cutting on the current hide: number, what is cut, and why then.

    Numbered as on the sheet that was printed before the first cut, so that numbers stay while one cuts.
    """
    contents, hide = document.contents, document.hide
    if contents.plan is None or contents.job is None or hide is None:
        return []
    uncut = plan_edits.marked_cut(contents.plan, contents.plan.placements, False)
    return [
        (cut.label, tuple(contents.plan.placements[number] for number in cut.members), cut.reason)
        for cut in cutting_steps(uncut, contents.job, hide)
    ]


def cutting_numbers(document: Document) -> dict[int, str]:
    """The number of each placement on the current hide in the order of cutting, by its identity."""
    numbers = {}
    for label, placed, _ in steps_on_hide(document):
        first = int(label.split("–")[0])
        for step, placement in enumerate(placed):
            numbers[id(placement)] = str(first + step)
    return numbers


def mark_cut(document: Document) -> None:
    """Mark the selected placements as cut, or not where all are."""
    plan, selected = document.contents.plan, document.selected
    if plan is not None and selected:
        done = not all(placement.done for placement in selected)
        words = "Mark as cut:" if done else "Mark as not cut:"
        document.set_plan(f"{words} {named(selected)}", plan_edits.marked_cut(plan, selected, done))


def named(selected: tuple[Placement, ...] | list[Placement]) -> str:
    """What is selected, for the name of a step that can be undone."""
    return selected[0].name if len(selected) == 1 else f"{len(selected)} pieces"


def draw_found_flaw(editor: StepEditor, shape: str, spoils: str) -> None:
    """Draw a flaw found while cutting, on the current hide: a `disc`, a `line` or an outline."""

    def add(*, outline: Points | None = None, disc: Disc | None = None, line: Line | None = None) -> None:
        hide = editor.document.hide
        if hide is not None:
            flaw = Flaw(
                spoils=spoils, name="found while cutting", margin=2.0, outline=outline, disc=disc, line=line
            )
            editor.document.edit_hide(
                "Add a flaw found while cutting", msgspec.structs.replace(hide, flaws=(*hide.flaws, flaw))
            )
            editor.use_default_tool()

    def add_disc(at: Point, diameter: float) -> None:
        editor.attempt(lambda: add(disc=Disc(at=at, diameter=diameter)))

    def add_line(points: Points) -> None:
        editor.attempt(lambda: add(line=Line(points=points, width=3.0)))

    def add_outline(points: Points) -> None:
        editor.attempt(lambda: add(outline=tuple((float(x), float(y)) for x, y in make_ring(points))))

    if shape == "disc":
        editor.use_tool(DiscTool(add_disc, cancelled=editor.use_default_tool), "round flaw")
    elif shape == "line":
        editor.use_tool(TraceTool(add_line, closed=False, cancelled=editor.use_default_tool), "line flaw")
    else:
        editor.use_tool(TraceTool(add_outline, cancelled=editor.use_default_tool), "outlined flaw")
