"""The plan on the table cut: its saved files committed to the rack, and what to tell of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from nestplan.desk.sentences import count
from nestplan.errors import InputError
from nestplan.tasks.contents import Contents
from nestplan.tasks.cutting import CommittedCut, contents_after_cut, cut_plan, find_cut

__all__ = ["CutOnTable", "cut_saved_plan"]


@dataclass(frozen=True)
class CutOnTable:
    """What lies on the table after a cut, its files, what to tell, and the cut itself, to take it back by."""

    contents: Contents
    files: dict[str, str]
    words: str
    cut: CommittedCut


def cut_saved_plan(contents: Contents, files: Mapping[str, str]) -> CutOnTable:
    """Commit the plan of `contents`, whose parts are all saved in `files`, as cut.

    Raises InputError if a part is not saved, a hide was used up already, or the rack cannot be written.
    """
    if contents.plan is None or contents.job is None or "plan" not in files or not contents.plan.placements:
        raise InputError(
            "Nothing has been planned and saved, so there is nothing to book.", mend="Save the plan first."
        )
    hides = [Path(files[hide.name]) for hide in contents.hides if hide.name in files]
    saved = find_cut(Path(files["plan"]), job=Path(files[""]), hides=hides)
    done = cut_plan(saved, taken=[hide.name for hide in contents.hides])
    after, files_after = contents_after_cut(contents, files, done)
    return CutOnTable(after, files_after, _cut_words(len(done.used), len(done.offcuts)), done)


def _cut_words(gone: int, offcuts: int) -> str:
    used = f"{count(gone, 'hide')} {'is' if gone == 1 else 'are'} used up"
    lie = "lies on the rack as a hide of its own" if offcuts == 1 else "lie on the rack as hides of their own"
    return f"{used}; {count(offcuts, 'offcut')} {lie}."
