"""The work on the table: open hides, the job, the plan, and the one way to change them.

Everything is an unchangeable record of the model; a change makes a new one and goes on the undo stack. The
signals carry the records themselves. What is looked at and selected (a hide, a piece, some placements) is here
too, since every panel follows it, but it is no part of the work: it is neither saved nor undone.
"""

from __future__ import annotations

import itertools
from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from functools import partial
from pathlib import Path

import msgspec
from PySide6.QtCore import QObject, Signal
from PySide6.QtGui import QUndoStack

from nestplan.desk.document.plan_edits import renamed_layers, renamed_piece
from nestplan.desk.document.undo import UndoStep
from nestplan.model.hide import Hide
from nestplan.model.job import Article, Job, Layer
from nestplan.model.piece import Piece, Strip
from nestplan.model.plan import Placement, Plan
from nestplan.tasks.article_sizes import SizedJob, followed
from nestplan.tasks.contents import Contents, HidePhoto, renamed_hide
from nestplan.tasks.job_edits import with_piece, without_other_pieces
from nestplan.tasks.job_layers import with_layers
from nestplan.tasks.output_paths import free_name
from nestplan.tasks.save_conflicts import file_fingerprint

__all__ = ["Document"]

_DELETIONS = ("Delete ", "Remove ")
"""How the words of a step begin that takes something out of the work."""


class Document(QObject):
    """Holds what lies open, its undo stack, the files it belongs to and what is selected."""

    hides_changed = Signal(object)  # tuple[Hide, ...]
    job_changed = Signal(object)  # Job | None
    plan_changed = Signal(object)  # Plan | None
    photos_changed = Signal()
    changed = Signal(object)  # Work
    hide_shown = Signal(object)  # Hide | None
    piece_shown = Signal(object)  # Piece | Strip | None
    selection_changed = Signal(object)  # tuple[Placement, ...]
    opened = Signal()
    left_out_changed = Signal(object)  # frozenset[str]
    deleted = Signal(str)
    """Something that was there is gone: in words, so that it can be taken back at once."""
    told = Signal(str)  # what a change brought with it that is not seen

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.contents = Contents()
        self.stack = QUndoStack(self)
        # A hide has a key that stays the same whatever it is called, so that its file goes along through undo and redo.
        self._keys: dict[str, str] = {}
        self._file_of: dict[str, str] = {}
        self._counter = itertools.count(1)
        self.fingerprints: dict[str, str] = {}  # file -> of its bytes as they were last read or written here
        self._hide_name = ""
        self._piece_name = ""
        self._left_out: frozenset[str] = frozenset()
        self._selected: tuple[Placement, ...] = ()

    @property
    def files(self) -> dict[str, str]:
        """The files of what lies open: by the hide's name, `""` for the job, `plan` for the plan."""
        contents = self.contents
        names = [hide.name for hide in contents.hides]
        names += [name for name, part in (("", contents.job), ("plan", contents.plan)) if part is not None]
        found = {name: self._file_of.get(self._key(name), "") for name in names}
        return {name: file for name, file in found.items() if file}

    def _key(self, name: str) -> str:
        """What stands for a hide (the job, the plan) under whatever name."""
        if name in ("", "plan"):
            return name
        if name not in self._keys:
            self._keys[name] = self._new_key()
        return self._keys[name]

    def _new_key(self) -> str:
        return f"hide {next(self._counter)}"

    @property
    def hide(self) -> Hide | None:
        """The hide that lies on the table."""
        return self.contents.hide(self._hide_name)

    @property
    def piece(self) -> Piece | Strip | None:
        """The piece or strip that is looked at."""
        return next(
            (piece for piece in pieces_and_strips(self.contents.job) if piece.name == self._piece_name), None
        )

    @property
    def selected(self) -> tuple[Placement, ...]:
        """The placements that are selected."""
        return self._selected

    @property
    def left_out(self) -> frozenset[str]:
        """The names of the hides on which nothing is to be planned anew."""
        return self._left_out

    def leave_out(self, name: str, out: bool) -> None:
        """Leave a hide out when a plan is searched for, or take it in again."""
        left_out = self._left_out | {name} if out else self._left_out - {name}
        if left_out != self._left_out:
            self._left_out = left_out
            self.left_out_changed.emit(left_out)

    @property
    def planned_hides(self) -> tuple[str, ...]:
        """The names of the hides that a plan is searched on: none, which means all, where none is left out."""
        hides = self.contents.leather
        kept = tuple(hide.name for hide in hides if hide.name not in self._left_out)
        return kept if 0 < len(kept) < len(hides) else ()

    def open(
        self, contents: Contents, files: dict[str, str], fingerprints: dict[str, str] | None = None
    ) -> None:
        """Take other work in place of this one; nothing of it can be undone.

        `fingerprints` are those of the files when they were read, by default as they are now.
        """
        self._keys = {}
        self.forget_files()
        self.note_saved(files)
        self.fingerprints |= fingerprints or {}
        self._hide_name = contents.hides[0].name if contents.hides else ""
        pieces = pieces_and_strips(contents.job)
        self._piece_name = pieces[0].name if pieces else ""
        self._selected = ()
        self._show(contents, everything=True)
        self.stack.clear()
        self.stack.setClean()
        self.opened.emit()

    def close(self) -> None:
        """End in order: the undo stack, which is emptied as it goes, tells nobody of it any more."""
        self.stack.blockSignals(True)

    def add_file(self, name: str, file: str) -> None:
        """The hide of that name (`""` the job, `plan` the plan) was read from this file just now."""
        self._file_of[self._key(name)] = file
        self.fingerprints[file] = file_fingerprint(file)

    def forget_files(self) -> None:
        """What lies open, and what undo may bring back, is in no file any more."""
        self._file_of, self.fingerprints = {}, {}

    def note_saved(self, files: dict[str, str], left: Collection[str] = ()) -> None:
        """The files are as they lie open now, but for those of the names in `left`, which were not written."""
        self._file_of |= {self._key(name): file for name, file in files.items()}
        self.fingerprints |= {
            file: file_fingerprint(file) for name, file in files.items() if name not in left
        }

    def change(
        self, words: str, contents: Contents, *, kind: str = "", renamed: Mapping[str, str] | None = None
    ) -> None:
        """Put other contents in place of these, as one step that can be undone.

        `renamed` says what hides were called before, by their new names.

        `kind` joins this step to the last one of the same kind. A step that is called a deletion is told by `deleted`.
        Sizes follow the articles they are made from; of what is no longer in the job nothing stays in the plan, and
        without a job there is none.
        """
        sized = followed(self.contents.job, contents.job)
        if sized.job is not contents.job:
            plan = contents.plan
            for old, piece in sized.renamed:
                plan = renamed_piece(plan, old, piece) if plan is not None else None
            contents = replace(contents, job=sized.job, plan=plan)
        job, plan = contents.job, contents.plan
        if plan is not None and job is None:
            contents = replace(contents, plan=None)
        elif plan is not None and job is not None and job is not self.contents.job:
            contents = replace(contents, plan=without_other_pieces(plan, job))
        self._put(words, contents, kind, renamed or {})
        for each in sized.told:
            self.told.emit(each)

    def _put(
        self, words: str, contents: Contents, kind: str = "", renamed: Mapping[str, str] | None = None
    ) -> None:
        before, known, old_names = self.contents, dict(self._keys), renamed or {}
        keys = {
            hide.name: known.get(old_names.get(hide.name, hide.name)) or self._new_key()
            for hide in contents.hides
        }
        same = (
            contents.hides is before.hides
            and contents.job is before.job
            and contents.plan is before.plan
            and contents.photos is before.photos
        )
        if not same:
            back, forth = partial(self._show, before, known), partial(self._show, contents, keys)
            self.stack.push(UndoStep(words, back, forth, kind))
            if words.startswith(_DELETIONS):
                self.deleted.emit(words)

    def show_hide(self, name: str) -> None:
        """Put another hide on the table."""
        if name != self._hide_name:
            self._hide_name = name
            self.select(())
            self.hide_shown.emit(self.hide)

    def show_next_hide(self, step: int) -> None:
        """Put the hide on the table that comes `step` places later on the rack, round and round."""
        names = [hide.name for hide in self.contents.hides]
        if self.hide is not None and names:
            self.show_hide(names[(names.index(self.hide.name) + step) % len(names)])

    def show_piece(self, name: str) -> None:
        """Look at another piece or strip."""
        if name != self._piece_name:
            self._piece_name = name
            self.piece_shown.emit(self.piece)

    def select(self, placements: Sequence[Placement]) -> None:
        """Select placements of the plan."""
        if tuple(placements) != self._selected:
            self._selected = tuple(placements)
            self.selection_changed.emit(self._selected)

    def add_hide(self, hide: Hide, photo: HidePhoto | None = None, file: str = "") -> None:
        """Put one more hide on the rack and on the table."""
        name = free_name(hide.name, [other.name for other in self.contents.hides])
        hide = hide if name == hide.name else msgspec.structs.replace(hide, name=name)
        if file:
            self.add_file(name, file)
        photos = self.contents.photos + (((name, photo),) if photo else ())
        self._hide_name = name
        self.change(
            f"Add hide {name}", replace(self.contents, hides=(*self.contents.hides, hide), photos=photos)
        )
        self.hide_shown.emit(hide)

    def edit_hide(self, words: str, hide: Hide, *, old: str = "", kind: str = "") -> None:
        """Replace the hide named `old` (or of the same name) by `hide`."""
        old = old or hide.name
        if hide == self.contents.hide(old):
            return
        hides = tuple(hide if other.name == old else other for other in self.contents.hides)
        after = replace(self.contents, hides=hides)
        if old != hide.name:
            plan = renamed_hide(after.plan, old, hide.name) if after.plan is not None else None
            photos = tuple((hide.name if n == old else n, p) for n, p in after.photos)
            after = replace(after, plan=plan, photos=photos)
            if self._hide_name == old:
                self._hide_name = hide.name
        self.change(words, after, kind=kind, renamed={hide.name: old})

    def remove_hide(self, name: str) -> None:
        """Take a hide off the rack; what a plan laid on it is taken off too."""
        plan = self.contents.plan
        if plan is not None and any(p.hide == name for p in plan.placements):
            plan = msgspec.structs.replace(
                plan, placements=tuple(p for p in plan.placements if p.hide != name), figures=None
            )
        hides = tuple(hide for hide in self.contents.hides if hide.name != name)
        if self._hide_name == name:
            self._hide_name = hides[0].name if hides else ""
        photos = tuple(entry for entry in self.contents.photos if entry[0] != name)
        after = replace(self.contents, hides=hides, plan=plan, photos=photos)
        self.change(f"Delete hide {name}", after)

    def edit_job(self, words: str, job: Job | None, *, kind: str = "") -> None:
        """Replace the job."""
        self.change(words, replace(self.contents, job=job), kind=kind)

    def set_layers(self, layers: Sequence[Layer]) -> None:
        """Give the job other layers; pieces and a plan keep to those that are called otherwise. Raises InputError where
        something is cut from one that is gone."""
        job, plan = self.contents.job, self.contents.plan
        if job is None:
            return
        changed, renamed = with_layers(job, layers)
        if plan is not None and renamed:
            plan = renamed_layers(plan, renamed)
        self.change("Set the layers", replace(self.contents, job=changed, plan=plan))

    def set_sizes(self, sized: SizedJob) -> None:
        """Put the sizes of an article in the job; a plan keeps what lies of the pieces there still are."""
        plan = self.contents.plan
        if plan is not None:
            old_names = {new: old for old, new in sized.renamed.items()}
            pieces: list[Piece | Strip] = [*sized.drawn.pieces, *sized.drawn.strips]
            for piece in pieces:
                plan = renamed_piece(plan, old_names[piece.name], piece)
            plan = without_other_pieces(plan, sized.job)
        self._piece_name = sized.renamed.get(self._piece_name, self._piece_name)
        self._put(f"Make the sizes of {sized.drawn.name}", replace(self.contents, job=sized.job, plan=plan))

    def edit_piece(self, words: str, old: str, piece: Piece | Strip, *, kind: str = "") -> None:
        """Replace the piece or strip named `old`; placements keep its name when it is renamed."""
        job = self.contents.job
        if job is None:
            return
        after = replace(self.contents, job=with_piece(job, old, piece))
        plan = after.plan
        if plan is not None and piece.name != old:
            after = replace(after, plan=renamed_piece(plan, old, piece))
        if self._piece_name == old:
            self._piece_name = piece.name
        self.change(words, after, kind=kind)

    def add_piece(self, piece: Piece | Strip, article: str = "") -> None:
        """Add a piece or strip to an article (the last one, or a first one named after the piece)."""
        job = self.contents.job
        name = free_name(piece.name, [other.name for other in pieces_and_strips(job)])
        piece = piece if name == piece.name else msgspec.structs.replace(piece, name=name)
        fields = {"pieces": (piece,)} if isinstance(piece, Piece) else {"strips": (piece,)}
        if job is None:
            job = Job(name="New job", articles=(Article(name="Article 1", sets=1, **fields),))
        else:
            target = article or [each.name for each in job.articles if not each.graded_from][-1]
            job = msgspec.structs.replace(
                job, articles=tuple(_with_piece(a, piece) if a.name == target else a for a in job.articles)
            )
        self._piece_name = name
        self.change(f"Add {name}", replace(self.contents, job=job))
        self.piece_shown.emit(piece)

    def set_plan(self, words: str, plan: Plan | None, *, kind: str = "") -> None:
        """Replace the plan; what was selected stays selected where it still lies in the same copy.

        Pieces that the job has no more are left out: a search may end, or an old answer be taken, after they went.
        """
        if plan is not None and self.contents.job is not None:
            plan = without_other_pieces(plan, self.contents.job)
        self.change(words, replace(self.contents, plan=plan), kind=kind)

    def _show(
        self, contents: Contents, keys: Mapping[str, str] | None = None, *, everything: bool = False
    ) -> None:
        before, self.contents = self.contents, contents
        selected, has_other_plan = self._selected, everything or contents.plan is not before.plan
        if has_other_plan:
            # Before anything is told of: whoever hears of a job or a plan looks at what is selected in it.
            self._selected = _still_there(selected, contents.plan)
        shown = self._keys.get(self._hide_name)
        self._keys = dict(keys) if keys is not None else self._keys
        if everything or contents.hides is not before.hides:
            if self.hide is None:  # it may only be called otherwise
                self._hide_name = next((name for name, key in self._keys.items() if key == shown), "")
            if self.hide is None:
                self._hide_name = contents.hides[0].name if contents.hides else ""
            self.hides_changed.emit(contents.hides)
            self.hide_shown.emit(self.hide)
        if everything or contents.photos is not before.photos:
            self.photos_changed.emit()
        if everything or contents.job is not before.job:
            if self.piece is None:
                pieces = pieces_and_strips(contents.job)
                self._piece_name = pieces[-1].name if pieces else ""
            self.job_changed.emit(contents.job)
            self.piece_shown.emit(self.piece)
        if has_other_plan:
            self.plan_changed.emit(contents.plan)
            if self._selected != selected:
                self.selection_changed.emit(self._selected)
        self.changed.emit(contents)


def pieces_and_strips(job: Job | None) -> tuple[Piece | Strip, ...]:
    """All pieces and strips of a job in its order."""
    pieces: list[Piece | Strip] = []
    for article in job.articles if job else ():
        pieces += article.pieces
        pieces += article.strips
    return tuple(pieces)


def key_of(placement: Placement) -> tuple[str, str, str, int, int, bool]:
    """What names a placement within a plan, wherever it lies."""
    return (
        placement.piece,
        placement.strip,
        placement.layer,
        placement.copy,
        placement.part,
        bool(placement.strip),
    )


def _still_there(selected: Sequence[Placement], plan: Plan | None) -> tuple[Placement, ...]:
    """What was selected and lies in the plan too, as it lies there."""
    keys = {key_of(placement) for placement in selected}
    return tuple(placed for placed in plan.placements if key_of(placed) in keys) if plan and keys else ()


def _with_piece(article: Article, piece: Piece | Strip) -> Article:
    if isinstance(piece, Piece):
        return msgspec.structs.replace(article, pieces=(*article.pieces, piece))
    return msgspec.structs.replace(article, strips=(*article.strips, piece))


def folder_of(files: dict[str, str]) -> Path | None:
    """The folder the open files lie in, if any is known."""
    found = next((Path(file) for file in files.values() if file), None)
    return found.parent if found else None
