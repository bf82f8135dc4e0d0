"""Racks put right before they are read: what a cut or an undo left half done, taken back or finished, and told."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path

from nestplan.model.cut_journal import JOURNAL_NAME, MARK_NAME, RackRepair, settle_rack
from nestplan.storage import real_path

__all__ = ["LOCK_PATIENCE", "OnRepair", "settle_folders", "settle_hides"]

LOCK_PATIENCE = 5.0
"""Seconds to wait for another nestplan that is just changing the rack."""

OnRepair = Callable[[RackRepair], None]
"""Told of what was put right in a rack."""


def settle_folders(
    folders: Iterable[Path], on_repair: OnRepair | None = None, *, inside: bool = False
) -> None:
    """Put right what broke off in these folders, with `inside` also in those that lie in them.

    Raises InputError if a rack cannot be put right.
    """
    seen: set[Path] = set()
    for folder in folders:
        names = (JOURNAL_NAME, MARK_NAME)
        deeper = [path.parent for name in names for path in sorted(folder.rglob(name))] if inside else []
        for each in (folder, *deeper):
            real = real_path(each)
            if real in seen or not real.is_dir():
                continue
            seen.add(real)
            for repair in settle_rack(real):
                if on_repair is not None:
                    on_repair(repair)


def settle_hides(files: Iterable[Path], on_repair: OnRepair | None = None) -> None:
    """Put right what broke off in the folders of hide files.

    Raises InputError if a rack cannot be put right.
    """
    settle_folders((real_path(file).parent for file in files), on_repair)
