"""Pictures of each main view of the demo, for the README and the guide. Run: python -m tests.screenshots DIR

Each view is made by the window itself, offscreen, and grabbed; light and dark. Look at them after a change.
With `--guide` those of the guide (smaller) and of the README are written to resources/guide and resources/pictures.
"""

from __future__ import annotations

import argparse
import os
import tempfile
import time
from pathlib import Path

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

import numpy as np
from PIL import Image
from PySide6.QtCore import QPoint, QSettings, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from nestplan.desk.app import make_application
from nestplan.desk.editing.cutting import steps_on_hide
from nestplan.desk.table.coordinates import scene_rect
from nestplan.desk.theme import apply_theme
from nestplan.desk.window import Window
from nestplan.resources import demo_folder, resource

#: Pictures of the README, and the views they show.
README = {"desk_plan": "plan", "desk_hide": "trace"}
#: Views that the guide shows.
GUIDE = ("empty", "hides", "points", "pieces", "choose", "plan", "drag", "cut", "projector")


class Camera:
    """Takes pictures of a window."""

    def __init__(self, folder: Path, look: str) -> None:
        self.folder, self.look = folder, look
        self.taken: list[str] = []

    def take(self, window: object, name: str) -> None:
        """Grab the window once it has come to rest."""
        rest(0.3)
        path = self.folder / (f"{name}.png" if self.look == "light" else f"{name}-{self.look}.png")
        window.grab().save(str(path))
        self.taken.append(path.name)
        print(path)


def rest(seconds: float) -> None:
    """Let the window do what it has to do."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        QApplication.processEvents()
        time.sleep(0.01)


def until(window: Window) -> None:
    """Wait until no search and no check is at work."""
    end = time.monotonic() + 240
    # The end of a search is told a moment after it, and starts a check of its own: hence two rounds.
    for _ in range(2):
        while _busy(window) and time.monotonic() < end:
            rest(0.1)
        rest(0.6)


def _busy(window: Window) -> bool:
    return (
        window.session.plan_search.running or window.session.checker.busy or window.panels["choose"].running
    )


def views(window: Window, camera: Camera, seconds: float) -> None:
    """Go through the demo and take each view."""
    camera.take(window, "empty")
    trace(window, camera)
    window.session.files.open_demo()
    camera.take(window, "hides")
    window.session.hides.select("flaw", 3)
    window.session.hides.edit_points()
    window.table.zoom(4.0, window.table.pixel_at((430.0, 480.0)))
    camera.take(window, "points")
    window.table.fit()
    window.go_to("pieces")
    window.panels["pieces"].select("front middle")
    window.panels["pieces"].piece.layer.set_value("lining")
    window.panels["pieces"].piece.show_piece(window.document.piece)
    rest(0.2)
    window.table.fit()
    camera.take(window, "pieces")
    window.go_to("choose")
    window.panels["choose"].seconds.set_value(3.0)
    window.panels["choose"].compare()
    until(window)
    camera.take(window, "choose")
    window.go_to("plan")
    window.panels["plan"].begin(seconds=seconds)
    end = time.monotonic() + 60
    while (
        window.session.plan_search.running
        and not window.session.plan_search.current.draft
        and time.monotonic() < end
    ):
        rest(0.05)
    if window.session.plan_search.running:
        camera.take(window, "planning")
    until(window)
    camera.take(window, "plan")
    drag(window, camera)
    window.go_to("cut")
    plan, hide = window.document.contents.plan, window.document.hide
    steps = steps_on_hide(window.session.document)[:6]
    from nestplan.desk.document.plan_edits import marked_cut

    cut = tuple(placement for _, placed, _ in steps for placement in placed)
    window.document.set_plan("Mark as cut", marked_cut(plan, cut, True))
    assert hide is not None
    camera.take(window, "cut")
    projector(window, camera)
    for _ in range(2):
        window.document.stack.undo()
    window.show_guide()
    guide = window._guide
    camera.take(guide, "guide")
    guide.hide()


def projector(window: Window, camera: Camera) -> None:
    """The projector's picture, thrown at a slant, at the step after what is cut."""
    window.session.projector.show()
    dialog = window.session.projector.dialog
    dialog.show_view()
    dialog.view.resize(1320, 840)
    rest(0.2)
    corners = np.array(((205.0, 760.0), (1165.0, 720.0), (1120.0, 215.0), (240.0, 190.0)))
    dialog.projection.set_rectangle(2400.0, 1300.0)
    dialog.projection.set_corners(corners)
    window.document.show_hide(window.document.hide.name)
    low, high = window.document.hide.ring.min(axis=0), window.document.hide.ring.max(axis=0)
    dialog.projection.on_table = dialog.projection.on_hide - (low + high) / 2 + np.array((1200.0, 650.0))
    dialog.projection.go("cut")
    dialog.projection.current = 0
    dialog.projection.step(23)
    camera.take(dialog.view, "projector")
    dialog.done(0)


def trace(window: Window, camera: Camera) -> None:
    """A skin half traced on the empty table."""
    from nestplan.model.files import read_hide

    ring = read_hide(demo_folder() / "goat_skin_clover.hide.json").ring
    window.session.trace_hide()
    rest(0.1)
    window.table.show_box(scene_rect((-150.0, -100.0, 1250.0, 950.0)))
    view, button, none = window.table.viewport(), Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier
    last = int(0.68 * len(ring))
    for at in ring[:last]:
        QTest.mouseClick(view, button, none, window.table.pixel_at((float(at[0]), float(at[1]))))
    QTest.mouseMove(view, window.table.pixel_at(tuple(ring[last + 2])))
    camera.take(window, "trace")
    window.table.tool.key("escape")
    window.refresh()


def drag(window: Window, camera: Camera) -> None:
    """A piece held over its neighbours."""
    hide = window.document.hide
    here = [p for p in window.document.contents.plan.placements if p.hide == hide.name and p.piece]
    piece = here[len(here) // 2]
    low, high = piece.finished_ring.min(axis=0), piece.finished_ring.max(axis=0)
    middle = (float(low[0] + high[0]) / 2, float(low[1] + high[1]) / 2)
    window.table.zoom(3.2, window.table.pixel_at(middle))
    rest(0.1)
    at = window.table.pixel_at(middle)
    view = window.table.viewport()
    QTest.mousePress(view, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier, at)
    for step in range(1, 9):
        QTest.mouseMove(view, at + QPoint(6 * step, 5 * step))
        rest(0.02)
    camera.take(window, "drag")
    window.table.tool.key("escape")
    QTest.mouseRelease(view, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier, at)
    window.table.fit()


def main() -> None:
    """Take all pictures."""
    options = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    options.add_argument("folder", type=Path)
    options.add_argument("--seconds", type=float, default=20.0, help="how long to search for the plan")
    options.add_argument("--looks", nargs="*", default=["light", "dark"])
    options.add_argument(
        "--guide", action="store_true", help="renew the pictures of the guide and the README"
    )
    asked = options.parse_args()
    asked.folder.mkdir(parents=True, exist_ok=True)
    application = make_application()
    for look in asked.looks:
        with tempfile.TemporaryDirectory() as home:
            QSettings.setPath(QSettings.Format.IniFormat, QSettings.Scope.UserScope, home)
            apply_theme(application, look)
            window = Window(recovery=Path(home) / "recovery")
            window.settings.theme = look
            window.resize(1320, 840)
            window.show()
            rest(0.3)
            views(window, Camera(asked.folder, look), asked.seconds)
            window.document.stack.setClean()
            window.close()
            window.deleteLater()
            rest(0.1)
    if asked.guide:
        for name, view in README.items():
            shrink(asked.folder / f"{view}.png", resource("pictures", f"{name}.png"), 1320, 255)
        for name in GUIDE:
            shrink(asked.folder / f"{name}.png", resource("guide") / f"{name}.png", 800, 255)


def shrink(source: Path, target: Path, width: int, colors: int) -> None:
    """Write a picture with few colours, no wider than `width` pixels."""
    with Image.open(source) as picture:
        small = picture.convert("RGB")
        if small.width > width:
            small = small.resize((width, round(small.height * width / small.width)))
        # Greatest coverage keeps the few strokes that mark flaws in their own colour; two rounds of k-means after it
        # keep the wide grounds in theirs.
        small.quantize(colors, method=Image.Quantize.MAXCOVERAGE, kmeans=2).save(target, optimize=True)


if __name__ == "__main__":
    main()
