"""Compiling the kernels once for this machine, on two cores at a time, before the first plan waits for them.

The compiler works on one core within a process, so two processes compile a share each and leave it in numba's
cache beside the source files in `arrays`. The search's own kernels, which a first candidate does not need, are left
compiling while that is made.
"""

from __future__ import annotations

import compileall
import subprocess
import sys
import threading
from pathlib import Path

__all__ = ["compile_share", "is_prepared", "prepare"]

PIECES, STRIPS, SEARCH = 0, 1, 2
"""Shares of the kernels: those that lay pieces, those that lay strips, and those of the search."""

_LAST = ("construct_kernels.find_places", "strip_kernels.best_stack", "search_kernels.run_passes")
"""The last kernel that each share compiles, in the order of the shares: where it is in the cache, all of them are."""


def is_prepared(*, search: bool = False) -> bool:
    """Whether the cache beside the kernels holds them as they are now; with `search` those of the search too."""
    folder = _folder()
    newest = _newest(folder)
    needed = _LAST if search else _LAST[:SEARCH]
    tag = f"py{sys.version_info.major}{sys.version_info.minor}"
    return all(max(_times(folder, f"{name}-*.{tag}.nbi"), default=0.0) > newest for name in needed)


def prepare() -> None:
    """Compile every kernel that a first plan needs, a share in each of two processes, and leave a third compiling
    those of the search. Never raises: what is not compiled here is compiled when it is first called."""
    forget_stale(_folder())
    pieces, strips = _begin(PIECES), _begin(STRIPS)
    # Python's own compiled files too: where it is told to write none, every start would compile all of this again.
    compileall.compile_dir(_folder().parent.parent, quiet=2)
    strips.wait()
    # Waited for by a thread that does not hold up the end of the program.
    threading.Thread(target=_begin(SEARCH).wait, name="nestplan-prepare", daemon=True).start()
    pieces.wait()


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
    """Call one share of the kernels by planning a job so small that all the time goes into compiling."""
    from nestplan.model import Article, Hide, Job, Piece, Strip
    from nestplan.nesting.nest import nest

    outline = ((0.0, 0.0), (400.0, 0.0), (400.0, 300.0), (0.0, 300.0))
    hide = Hide(name="sample", leather="any", outline=outline, backbone=((400.0, 0.0), (0.0, 0.0)))
    square = Piece(name="square", outline=((0.0, 0.0), (60.0, 0.0), (60.0, 60.0), (0.0, 60.0)))
    large = Piece(name="large", outline=((0.0, 0.0), (210.0, 0.0), (210.0, 170.0), (0.0, 170.0)))
    strap = Strip(name="strap", width=20.0, length=150.0, count=30, joins=1, least_part=60.0)
    article = Article(
        name="sample",
        sets=3 if share == SEARCH else 1,
        pieces={PIECES: (square,), STRIPS: (), SEARCH: (large,)}[share],
        strips=(strap,) if share == STRIPS else (),
    )
    nest(Job(name="sample", articles=(article,)), (hide,), passes=1 if share == SEARCH else 0)


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
