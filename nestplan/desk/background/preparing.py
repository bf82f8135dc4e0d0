"""The engine made ready for this computer on the first start, off the window's thread, while one works on."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QObject

from nestplan.desk.background.task import BackgroundTask

__all__ = ["prepare_in_background"]

_BEGINS = (
    "nestplan is made ready for this computer: once, about a minute. You can work meanwhile; the first search waits "
    "for it."
)


def prepare_in_background(parent: QObject, tell: Callable[[str], object]) -> BackgroundTask:
    """Compile the engine where that was not done yet; `tell` is given words when it begins and when it is ready.

    What cannot be compiled now is compiled by the first search.
    """
    from nestplan.tasks.planning import prepare_engine

    task = BackgroundTask(lambda control: prepare_engine(lambda: control.report(_BEGINS)), parent=parent)
    began: list[object] = []
    task.reported.connect(began.append)
    task.reported.connect(tell)
    task.done.connect(lambda _: tell("nestplan is ready.") if began else None)
    return task.start()
