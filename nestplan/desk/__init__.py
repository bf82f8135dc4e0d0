"""The window: the whole job without the command line. The only folder that knows Qt."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

__all__ = ["open_desk"]


def open_desk(files: Sequence[Path] = ()) -> int:
    """Open the window on some files and stay until it is closed; gives the exit code."""
    from nestplan.desk.app import run

    return run(files)
