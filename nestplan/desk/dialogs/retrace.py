"""A photograph of a hide as it lies on the day of cutting: the hide found again, its plan taken along and shown."""

from __future__ import annotations

import tempfile
from dataclasses import dataclass, replace
from pathlib import Path

from PySide6.QtCore import QStandardPaths, Qt, Signal
from PySide6.QtGui import QPixmap
from PySide6.QtWidgets import QStackedWidget, QWidget

from nestplan.desk.background.task import TaskControl
from nestplan.desk.controls.fields import button
from nestplan.desk.dialogs.sheet_photo import SheetPhotoDialog
from nestplan.desk.plain_text import plain_label
from nestplan.desk.settings import Settings
from nestplan.geometry.units import show_area
from nestplan.tasks.contents import Contents, HidePhoto
from nestplan.tasks.retracing import (
    FoundHide,
    PlanAlong,
    find_hide_again,
    hide_now,
    picture_as_it_lies,
    plan_along,
    write_retrace_picture,
)
from nestplan.tasks.tracing import keep_straight_picture, trace_photo

__all__ = ["RetraceDialog"]

_CHANGES = {"gone": "leather is gone", "more": "there is more leather", "opening": "a new opening"}


@dataclass(frozen=True)
class _FoundInPhoto:
    """What a photograph of today gave: the hide found again, its plan, the picture under it, the overlay, words."""

    found: FoundHide
    along: PlanAlong | None
    photo: HidePhoto
    overlay: bytes
    words: str


class RetraceDialog(SheetPhotoDialog):
    """Asks for the sheet and finds the hide `name` of `contents` again; `made` carries the contents as they lie now."""

    made = Signal(object)
    found_words = (
        "Found. Check that it is your sheet, of this size: every length hangs on it. Then find the hide."
    )
    failed_words = "Something went wrong inside nestplan. Mark the corners anew."

    def __init__(
        self, file: str, name: str, contents: Contents, settings: Settings, parent: QWidget | None = None
    ) -> None:
        super().__init__(file, settings, parent)
        self.setWindowTitle(f"{name} as it lies now, from {Path(file).name}")
        self._contents = contents
        self._hide = next(hide for hide in contents.hides if hide.name == name)
        self.outcome: _FoundInPhoto | None = None
        self.again_button = button(
            "Find the hide again", self._again, main=True, tip="Follow its edge and lay the old outline on it"
        )
        self.take_button = button(
            "Take it as it lies",
            self._take,
            main=True,
            tip="The hide and what is planned on it move; one Undo",
        )
        self.take_button.hide()
        self.overlay = plain_label()
        self.overlay.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self.overlay.setMinimumSize(260, 240)
        self.overlay.setAccessibleName("Old outline yellow, new outline violet, changes red, the plan blue")
        self.told = plain_label()
        self.told.setWordWrap(True)
        self.views = QStackedWidget()
        self.views.addWidget(self.view)
        self.views.addWidget(self.overlay)
        self._lay_out(
            self.views,
            self.words,
            self._sheet_form(),
            self.find_button,
            self.again_button,
            self.told,
            self.take_button,
        )

    def _refresh(self) -> None:
        super()._refresh()
        self.again_button.setEnabled(self.scale is not None and not self._busy)

    def _again(self) -> None:
        from nestplan.intake.photo.reading import read_photo

        scale, file = self.scale, self._file
        if scale is None:
            return
        hide, contents = self._hide, self._contents
        home = QStandardPaths.writableLocation(QStandardPaths.StandardLocation.AppLocalDataLocation)

        def work(control: TaskControl) -> object:
            traced = trace_photo(
                read_photo(file),
                scale,
                on_step=control.report,
                cancelled=lambda: control.cancelled,
            )
            control.report("laying the old outline on it")
            found = find_hide_again(hide, hide_now(traced, hide))
            along = None
            if contents.plan is not None and contents.job is not None:
                along = plan_along(contents.plan, contents.job, contents.hides, found)
            placed = (
                [] if along is None else [each for each in along.plan.placements if each.hide == hide.name]
            )
            with tempfile.TemporaryDirectory() as folder:
                picture = Path(folder) / "overlay.png"
                write_retrace_picture(picture, traced, found, hide, placed)
                overlay = picture.read_bytes()
            photo = picture_as_it_lies(keep_straight_picture(traced, file, Path(home) / "pictures"), found)
            warnings = [f"May be wrong: {each.what} {each.mend}" for each in traced.outline.warnings]
            return _FoundInPhoto(found, along, photo, overlay, "\n".join([_words(found, along), *warnings]))

        self._start(work, self._show)

    def _show(self, outcome: _FoundInPhoto | None) -> None:
        if outcome is None:
            return
        self.outcome = outcome
        picture = QPixmap()
        picture.loadFromData(outcome.overlay)
        room = self.overlay.size()
        self.overlay.setPixmap(
            picture.scaled(
                room, Qt.AspectRatioMode.KeepAspectRatio, Qt.TransformationMode.SmoothTransformation
            )
        )
        self.views.setCurrentIndex(1)
        self.words.setText("Yellow is the old outline, violet the new one, red what differs, blue the plan.")
        self.told.setText(outcome.words)
        self.take_button.show()

    def _take(self) -> None:
        if self.outcome is None:
            return
        hide, contents = self.outcome.found.hide, self._contents
        photos = tuple((name, photo) for name, photo in contents.photos if name != hide.name)
        after = replace(
            contents,
            hides=tuple(hide if each.name == hide.name else each for each in contents.hides),
            plan=contents.plan if self.outcome.along is None else self.outcome.along.plan,
            photos=(*photos, (hide.name, self.outcome.photo)),
        )
        self.made.emit(after)
        self.accept()


def _words(found: FoundHide, along: PlanAlong | None) -> str:
    """How the hide lies, what has changed, and what that does to its plan."""
    lines = [
        f"Turned by {found.motion.turn:.0f}°. {found.same:.0%} of its edge is as it was, to {found.residual:.1f} mm."
    ]
    if found.rival is not None:
        lines.append(f"It might also lie turned by {abs(found.rival):.0f}°: look at the picture.")
    for change in found.changes[:6]:
        lines.append(
            f"{_CHANGES[change.kind][:1].upper()}{_CHANGES[change.kind][1:]}, {show_area(change.area)}."
        )
    if not found.changes:
        lines.append("Nothing else has changed.")
    if along is not None:
        for touched in along.touched[:6]:
            words = "looks cut already" if touched.looks_cut else "lies where leather has changed"
            lines.append(f"{touched.placement.name} {touched.placement.copy} {words}.")
        count = len(along.faults)
        lines.append(
            f"{count} fault{'s' * (count != 1)} in the plan as it would lie: plan the rest again."
            if count
            else "The plan keeps every rule on the hide as it lies now."
        )
    return "\n".join(lines)
