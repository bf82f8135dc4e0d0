"""Compiling the kernels once for this machine, on two cores at a time, before the first plan waits for them.

The compiler works on one core within a process and leaves what it compiled in numba's cache beside the source files in
`arrays`. One process compiles what every plan needs; then two compile the rest, the kernels of strips and of the
search. All are waited for: a search that compiled within its seconds would end with little searched.
"""

from __future__ import annotations

import compileall
import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from nestplan.model import Article, Job

__all__ = ["compile_share", "is_prepared", "prepare"]

PIECES, STRIPS, SEARCH = 0, 1, 2
"""Shares of the kernels: those that lay pieces, those that lay strips, and those of the search."""

_LAST = (
    "construct_kernels.find_places",
    "strip_kernels.best_stack",
    "entry_kernels.search_entry",
    "ejection_kernels.cheapest_pose",
)
"""Kernels that the shares compile last, of the search's two: where they are in the cache, all are."""


def is_prepared() -> bool:
    """Whether the cache beside the kernels holds them as they are now."""
    folder = _folder()
    newest = _newest(folder)
    tag = f"py{sys.version_info.major}{sys.version_info.minor}"
    return all(max(_times(folder, f"{name}-*.{tag}.nbi"), default=0.0) > newest for name in _LAST)


def prepare() -> None:
    """Compile every kernel that a plan needs, by two processes at a time. Never raises: what is not compiled here
    is compiled when it is first called."""
    forget_stale(_folder())
    pieces = _begin(PIECES)
    # Python's own compiled files too: where it is told to write none, every start would compile all of this again.
    compileall.compile_dir(_folder().parent.parent, quiet=2)
    pieces.wait()
    # Both lay pieces first; what that takes is in the cache by now, and is not compiled twice.
    for share in [_begin(SEARCH), _begin(STRIPS)]:
        share.wait()


def forget_stale(folder: Path) -> None:
    """Delete what the cache held before a kernel's source last changed.

    The cache looks only at the file that a kernel stands in, but a kernel also holds those it calls from others.
    """
    newest = _newest(folder)
    for kind in ("nbi", "nbc"):
        for path in (folder / "__pycache__").glob(f"*kernels.*.{kind}"):
            try:
                if path.stat().st_mtime <= newest:
                    path.unlink(missing_ok=True)
            except OSError:
                continue


def compile_share(share: int) -> None:
    """Call one share of the kernels by planning jobs so small that all the time goes into compiling."""
    from nestplan.model import Article, Hide, Piece, Strip
    from nestplan.model.goals import GOALS
    from nestplan.nesting.nest import nest

    # No box: of boxes the engine knows the distances without the kernels that real hides need.
    outline = ((0.0, 0.0), (400.0, 0.0), (400.0, 250.0), (350.0, 300.0), (0.0, 300.0))
    one, other = (
        Hide(name=name, leather="any", outline=outline, backbone=((400.0, 0.0), (0.0, 0.0)))
        for name in ("one", "other")
    )
    square = Piece(name="square", outline=((0.0, 0.0), (60.0, 0.0), (60.0, 60.0), (0.0, 60.0)))
    strap = Strip(name="strap", width=20.0, length=150.0, count=30, joins=1, least_part=60.0)
    # By area two of them fit on one hide, by shape they do not: that hides are emptied is tried as well.
    large = Piece(name="large", outline=((0.0, 0.0), (250.0, 0.0), (250.0, 170.0), (0.0, 170.0)))

    if share == PIECES:
        nest(_job_of(Article(name="sample", sets=1, pieces=(square,))), (one,), passes=0)
    elif share == STRIPS:
        nest(_job_of(Article(name="sample", sets=1, strips=(strap,))), (one,), passes=0)
    else:
        for pieces, sets in (((large,), 3), ((large, square), 2)):
            job = _job_of(Article(name="sample", sets=sets, pieces=pieces))
            for goal in GOALS:
                # Enough for every step of a goal to have its share.
                nest(job, (one, other), goal=goal.name, passes=6)


def _job_of(article: Article) -> Job:
    from nestplan.model import Job

    return Job(name="sample", articles=(article,))


def _begin(share: int) -> subprocess.Popen[bytes]:
    # The current folder is not looked through for modules (-P): it may be anybody's. Ours are found where we were.
    home = str(_folder().parent.parent.parent)
    command = (
        f"import sys; sys.path[:0] = [home for home in [{home!r}] if home not in sys.path]; "
        f"from nestplan.nesting.precompile import compile_share; compile_share({share})"
    )
    # Nothing of ours is handed on: whoever reads our output would wait for the last share to end.
    away = subprocess.DEVNULL
    return subprocess.Popen([sys.executable, "-P", "-c", command], stdin=away, stdout=away, stderr=away)


def _folder() -> Path:
    return Path(__file__).resolve().parent / "arrays"


def _newest(folder: Path) -> float:
    return max(path.stat().st_mtime for path in folder.glob("*kernels.py"))


def _times(folder: Path, pattern: str) -> list[float]:
    return [path.stat().st_mtime for path in (folder / "__pycache__").glob(pattern)]
