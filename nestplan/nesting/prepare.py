"""Compiling the kernels once for this machine, on two cores at a time, before the first plan waits for them.

The compiler works on one core within a process, so two processes compile a share each and leave it in numba's
cache beside the source files. Not here: the kernels, or what is planned with them.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

__all__ = ["compile_share", "is_prepared", "prepare"]

_SHARES = 2
#: The last kernel that each share compiles: where these are in the cache, and newer than their source, all are.
_LAST = ("lay_kernels.find_places", "strip_kernels.best_stack")


def is_prepared() -> bool:
    """Whether the cache beside the kernels holds them as they are now."""
    folder = Path(__file__).resolve().parent
    newest = max(path.stat().st_mtime for path in folder.glob("*kernels.py"))
    tag = f"py{sys.version_info.major}{sys.version_info.minor}"
    cached = [max(_times(folder, f"{name}-*.{tag}.nbi"), default=0.0) for name in _LAST]
    return min(cached) > newest


def prepare() -> None:
    """Compile every kernel that a first plan needs, a share in each of two processes. Never raises: what is not
    compiled here is compiled when it is first called."""
    command = "from nestplan.nesting.prepare import compile_share; compile_share({})"
    running = [
        subprocess.Popen([sys.executable, "-c", command.format(share)], stderr=subprocess.DEVNULL)
        for share in range(_SHARES)
    ]
    for process in running:
        process.wait()


def compile_share(share: int) -> None:
    """Call one share of the kernels by planning a job so small that all the time goes into compiling."""
    from nestplan.model import Article, Hide, Job, Piece, Strip
    from nestplan.nesting.nest import nest

    outline = ((0.0, 0.0), (400.0, 0.0), (400.0, 300.0), (0.0, 300.0))
    hide = Hide(name="sample", leather="any", outline=outline, backbone=((400.0, 0.0), (0.0, 0.0)))
    square = Piece(name="square", outline=((0.0, 0.0), (60.0, 0.0), (60.0, 60.0), (0.0, 60.0)))
    strap = Strip(name="strap", width=20.0, length=150.0, count=30, joins=1, least_part=60.0)
    wanted = {"pieces": (square,)} if share == 0 else {"strips": (strap,)}
    nest(Job(name="sample", articles=(Article(name="sample", sets=1, **wanted),)), (hide,), passes=0)


def _times(folder: Path, pattern: str) -> list[float]:
    return [path.stat().st_mtime for path in (folder / "__pycache__").glob(pattern)]
