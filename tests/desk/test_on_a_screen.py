"""One pass on a real X display without a window manager: real pointer moves and clicks, sent by the X server.

The display is Xvfb, started here. The pointer is moved through the XTEST extension, so that events take the
whole way: server, Qt's platform, window, table.
"""

from __future__ import annotations

import ctypes
import ctypes.util
import os
import shutil
import subprocess
import sys
import textwrap
import time
from pathlib import Path

import pytest

_WINDOW = """
    import json, sys
    from pathlib import Path
    from PySide6.QtCore import QPoint, QSettings, QTimer, Qt
    folder = Path(sys.argv[1])
    QSettings.setPath(QSettings.Format.IniFormat, QSettings.Scope.UserScope, str(folder / "settings"))
    from nestplan.desk.app import make_application
    from nestplan.desk.theme import apply_theme
    from nestplan.desk.pages.start import StartPage
    from nestplan.desk.window import Window
    application = make_application()
    apply_theme(application, "light")
    window = Window(recovery=folder / "recovery")
    window.setGeometry(0, 0, 1280, 800)
    window.show()
    start = next(page for page in window.findChildren(StartPage) if "Trace a hide" in page.buttons)

    def tell():
        # Where things are on the screen, for the hand outside; and what the work is by now.
        view = window.table.viewport()
        def spot(x, y):
            at = view.mapToGlobal(window.table.pixel_at((x, y)))
            return [at.x(), at.y()]
        def middle(widget):
            at = widget.mapToGlobal(widget.rect().center())
            return [at.x(), at.y()]
        hide = window.document.hide
        told = {
            "platform": application.platformName(),
            "visible": window.isVisible() and view.isVisible(),
            "trace": middle(start.buttons["Trace a hide"]),
            "disc": middle(window.panels["hides"].tools["round flaw"]),
            "points": {f"{x},{y}": spot(x, y) for x in (200, 600, 660, 1200) for y in (100, 300, 600)},
            "scale": window.table.pixels_per_mm,
            "tool": type(window.table.tool).__name__,
            "area": hide.gross_area if hide else None,
            "flaws": [flaw.disc.diameter for flaw in hide.flaws] if hide else [],
            "undo": window.document.stack.undoText(),
        }
        (folder / "told.part").write_text(json.dumps(told))
        (folder / "told.part").rename(folder / "told.json")

    timer = QTimer()
    timer.timeout.connect(tell)
    timer.start(60)
    window.document.stack.setClean()
    application.exec()
"""


class Pointer:
    """The pointer of an X display, by XTEST."""

    def __init__(self, display: str) -> None:
        names = (ctypes.util.find_library("X11"), ctypes.util.find_library("Xtst"))
        if None in names:
            pytest.skip("libX11 or libXtst (Debian: libx11-6, libxtst6) is not installed")
        self.x11, self.xtst = (ctypes.CDLL(name) for name in names)
        self.x11.XOpenDisplay.restype = ctypes.c_void_p
        self.x11.XOpenDisplay.argtypes = [ctypes.c_char_p]
        self.display = ctypes.c_void_p(self.x11.XOpenDisplay(display.encode()))
        assert self.display.value, "the display cannot be opened"

    def move(self, x: int, y: int) -> None:
        self.xtst.XTestFakeMotionEvent(self.display, -1, int(x), int(y), 0)
        self.flush()

    def button(self, down: bool) -> None:
        self.xtst.XTestFakeButtonEvent(self.display, 1, int(down), 0)
        self.flush()

    def click(self, x: int, y: int) -> None:
        self.move(x, y)
        self.button(True)
        self.button(False)

    def flush(self) -> None:
        self.x11.XSync(self.display, 0)
        time.sleep(0.05)

    def close(self) -> None:
        self.x11.XCloseDisplay(self.display)


@pytest.fixture
def screen():
    """An Xvfb display of 1280 × 800."""
    server = shutil.which("Xvfb")
    if server is None:
        pytest.skip("Xvfb (Debian: xvfb) is not installed")
    reading, writing = os.pipe()
    process = subprocess.Popen(
        [server, "-displayfd", str(writing), "-screen", "0", "1280x800x24", "-nolisten", "tcp"],
        pass_fds=[writing],
        stderr=subprocess.DEVNULL,
    )
    os.close(writing)
    with os.fdopen(reading) as told:
        number = told.readline().strip()
    assert number, "Xvfb did not start"
    yield f":{number}"
    process.terminate()
    process.wait(10)


def test_a_hide_is_traced_and_a_flaw_drawn_with_real_mouse_events(screen, tmp_path):
    here = Path(__file__).resolve().parents[2]
    process = subprocess.Popen(
        [sys.executable, "-c", textwrap.dedent(_WINDOW), str(tmp_path)],
        cwd=here,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        env={**os.environ, "QT_QPA_PLATFORM": "xcb", "DISPLAY": screen, "QT_SCALE_FACTOR": "1"},
    )
    pointer = Pointer(screen)
    try:
        told = wait_for(tmp_path, process, lambda told: told["platform"] == "xcb")
        pointer.click(*told["trace"])
        told = wait_for(tmp_path, process, lambda told: told["tool"] == "TraceTool" and told["visible"])
        time.sleep(0.3)
        told = wait_for(tmp_path, process, lambda told: told["visible"])
        for at in ("200,100", "1200,100", "1200,600", "200,600", "200,100"):
            pointer.click(*told["points"][at])
        told = wait_for(tmp_path, process, lambda told: told["area"] is not None)
        assert told["area"] == pytest.approx(1000 * 500, rel=0.02)
        pointer.click(*told["disc"])
        told = wait_for(tmp_path, process, lambda told: told["tool"] == "DiscTool")
        time.sleep(0.3)
        told = wait_for(tmp_path, process, lambda told: told["visible"])
        start, end = told["points"]["600,300"], told["points"]["660,300"]
        pointer.move(*start)
        pointer.button(True)
        for step in range(1, 7):
            pointer.move(start[0] + (end[0] - start[0]) * step / 6, start[1])
        pointer.button(False)
        told = wait_for(tmp_path, process, lambda told: bool(told["flaws"]))
        assert told["flaws"][0] == pytest.approx(120, abs=8)
        assert told["undo"] == "Add a flaw"
    finally:
        pointer.close()
        process.kill()
        process.communicate(timeout=10)


def wait_for(folder: Path, process: subprocess.Popen[str], wanted, seconds: float = 30.0) -> dict:
    """What the window tells, once it is as wanted."""
    import json

    end = time.monotonic() + seconds
    told: dict = {}
    while time.monotonic() < end:
        assert process.poll() is None, process.stdout.read() if process.stdout else ""
        path = folder / "told.json"
        if path.exists():
            told = json.loads(path.read_text())
            if wanted(told):
                return told
        time.sleep(0.05)
    raise AssertionError(f"the window did not come to it: {told}")
