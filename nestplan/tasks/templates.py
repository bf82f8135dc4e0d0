"""Pieces from a photograph of templates: what was found, what the person is asked, and the job made of the answers."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

from nestplan.errors import InputError
from nestplan.model.files import write_job
from nestplan.model.job import Job
from nestplan.tasks.importing import PieceWishes, job_of_pieces, stem_of
from nestplan.tasks.tracing import PrintedMarks, Scale, TwoPoints, sheet_corners, straightened

if TYPE_CHECKING:
    from nestplan.intake.photo.reading import Photo
    from nestplan.intake.photo.rectification import RectifiedPhoto
    from nestplan.intake.photo.template_likeness import SymmetryAxis
    from nestplan.intake.photo.templates import FoundTemplate, TemplateWarning
    from nestplan.intake.photo.templates_to_model import Meaning, TemplateAnswers
    from nestplan.model.piece import Piece

__all__ = [
    "TemplatePhoto",
    "job_of_templates",
    "pieces_of",
    "read_templates",
    "require_answers",
    "template_answers",
    "write_template_picture",
]


@dataclass(frozen=True)
class TemplatePhoto:
    """A photograph of templates and what was found in it: templates in reading order, called A, B, …"""

    photo: Photo
    straight: RectifiedPhoto
    found: tuple[FoundTemplate, ...]
    warnings: tuple[TemplateWarning, ...]

    @cached_property
    def letters(self) -> tuple[str, ...]:
        """The placeholder of each template."""
        from nestplan.intake.photo.templates_to_model import letter_of

        return tuple(letter_of(number) for number in range(len(self.found)))

    @cached_property
    def pairs(self) -> tuple[tuple[int, int, float], ...]:
        """Numbers of templates that are each other's mirror image, with their distance, mm."""
        from nestplan.intake.photo.template_likeness import mirrored_pairs

        return mirrored_pairs(self.found)

    @cached_property
    def axes(self) -> dict[int, SymmetryAxis]:
        """The axes of templates that are their own mirror image, by their number."""
        from nestplan.intake.photo.template_likeness import symmetry_axis

        found = ((number, symmetry_axis(each)) for number, each in enumerate(self.found))
        return {number: axis for number, axis in found if axis is not None}

    @cached_property
    def marks_drawn(self) -> dict[str, int]:
        """How many marks of each form and colour are drawn, by group, such as `red rings`."""
        from nestplan.intake.photo.templates_to_model import marks_drawn

        return marks_drawn(self.found)

    @property
    def pixel(self) -> float:
        """How many mm a pixel of the photograph's middle shows."""
        from nestplan.intake.photo.template_ground import mm_per_pixel

        return mm_per_pixel(self.straight, self.photo)


def read_templates(
    photo: Photo,
    scale: Scale,
    *,
    on_step: Callable[[str], None] | None = None,
    cancelled: Callable[[], bool] | None = None,
) -> TemplatePhoto:
    """The templates in a photograph.

    `on_step` is told in words what is being done.

    Raises InputError if the scale or no template is found, Cancelled if `cancelled` says so.
    """
    from nestplan.intake.photo.template_lens import find_templates_beside_sheet
    from nestplan.intake.photo.templates import find_templates

    tell = on_step or (lambda _words: None)
    tell("finding the sheet")
    if isinstance(scale, PrintedMarks | TwoPoints):
        straight = straightened(photo, scale)
        result = find_templates(
            photo, straight, progress=lambda _share, words: tell(words), cancelled=cancelled
        )
    else:
        straight, result = find_templates_beside_sheet(
            photo,
            sheet_corners(photo, scale),
            progress=lambda _share, words: tell(words),
            cancelled=cancelled,
        )
    return TemplatePhoto(photo, straight, result.found, result.warnings)


def template_answers(
    read: TemplatePhoto,
    *,
    names: Mapping[str, str] | None = None,
    meanings: Mapping[str, Meaning] | None = None,
    join_pairs: bool = False,
    symmetric: Iterable[str] = (),
    leave_out: Iterable[str] = (),
    arrows: bool = True,
) -> TemplateAnswers:
    """What a person said of templates by their letters; `all` stands for all that were offered as symmetric.

    Raises InputError if a letter, a group of marks or a symmetric template is named that is not there.
    """
    from nestplan.intake.photo.templates_to_model import TemplateAnswers

    wanted = [letter.upper() for letter in symmetric]
    numbers = list(read.axes) if wanted == ["ALL"] else [_number(read, letter) for letter in wanted]
    plain = [read.letters[number] for number in numbers if number not in read.axes]
    if plain:
        raise InputError(
            f"The template {plain[0]} is not symmetric.",
            mend=f"Those that are: {', '.join(read.letters[number] for number in read.axes) or 'none'}.",
        )
    said = dict(meanings or {})
    unknown = [group for group in said if group not in read.marks_drawn]
    if unknown:
        raise InputError(
            f"There are no {unknown[0]} on the templates.",
            mend=f"There are: {_groups_in_words(read) or 'no drawn marks'}.",
        )
    return TemplateAnswers(
        names={_number(read, letter): name for letter, name in (names or {}).items()},
        meanings=said,
        pairs=tuple((first, second) for first, second, _ in read.pairs) if join_pairs else (),
        symmetric={number: read.axes[number] for number in numbers},
        left_out=frozenset(_number(read, letter) for letter in leave_out),
        arrows=arrows,
    )


def _number(read: TemplatePhoto, letter: str) -> int:
    if letter.strip().upper() not in read.letters:
        raise InputError(
            f"There is no template '{letter}'.",
            mend=f"They are called {read.letters[0]} to {read.letters[-1]}.",
        )
    return read.letters.index(letter.strip().upper())


def _groups_in_words(read: TemplatePhoto) -> str:
    return ", ".join(f"{count} {group}" for group, count in read.marks_drawn.items())


def require_answers(read: TemplatePhoto, answers: TemplateAnswers, *, accepted: bool) -> None:
    """Nothing, if all that was drawn is given a meaning and all warnings were accepted.

    Raises InputError otherwise, and says what to answer: nothing is guessed.
    """
    open_groups = [group for group in read.marks_drawn if group not in answers.meanings]
    if open_groups:
        counts = " and ".join(f"{read.marks_drawn[group]} {group}" for group in open_groups)
        first = open_groups[0]
        raise InputError(
            f"The templates carry {counts}; what they mean is not said, so no job was written.",
            mend=f"Say of '{first}' that they mean punch here, mark here or nothing"
            + (", and so of the others." if len(open_groups) > 1 else "."),
            file=read.photo.name,
        )
    if read.warnings and not accepted:
        count = len(read.warnings)
        raise InputError(
            f"{count} thing{'s' * (count != 1)} told above may be wrong; no job was written.",
            mend="Take the photo again as told, or write it as it is all the same.",
            file=read.photo.name,
        )


def pieces_of(read: TemplatePhoto, answers: TemplateAnswers) -> tuple[Piece, ...]:
    """The pieces of the templates as they were answered for.

    Raises InputError if two have one name, or a drawn dot is to be punched without a diameter.
    """
    from nestplan.intake.photo.templates_to_model import pieces_of_templates

    return pieces_of_templates(read.found, answers, pixel=read.pixel)


def job_of_templates(out: Path, pieces: Sequence[Piece], wishes: PieceWishes) -> Job:
    """Write a job of these pieces, as they are wanted, named after its file; gives it.

    With `pairs` wished for, all are left and right; else those that were joined stay so.

    Raises InputError if there is no piece or the file cannot be written.
    """
    if not pieces:
        raise InputError("All templates were left out.", mend="Keep at least one.")
    job = job_of_pieces(stem_of(out), pieces, wishes)
    write_job(out, job)
    return job


def write_template_picture(path: Path, read: TemplatePhoto) -> None:
    """Write what was found over the photograph.

    Raises InputError if the file cannot be written.
    """
    from nestplan.intake.photo import template_preview

    template_preview.write_template_picture(path, read.photo, read.straight, read.found, read.letters)
