"""The photograph's part of `pieces`: what was found is told and asked about, and the job is made of the answers."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from nestplan.cli.option_words import with_options
from nestplan.cli.photo_options import ScaleOptions, scale_of
from nestplan.cli.terminal import say

if TYPE_CHECKING:
    from nestplan.intake.photo.templates_to_model import Meaning
    from nestplan.model import Piece
    from nestplan.tasks.importing import PieceWishes
    from nestplan.tasks.templates import TemplatePhoto

__all__ = ["TemplateOptions", "is_photo", "pieces_of_photo"]


@dataclass(frozen=True)
class TemplateOptions:
    """What the command was told about a photograph of templates, as typed."""

    scale: ScaleOptions
    punch: Sequence[str] = ()
    mark: Sequence[str] = ()
    ignore: Sequence[str] = ()
    names: str = ""
    leave_out: str = ""
    join_pairs: bool = False
    symmetric: str = ""
    picture: Path | None = None
    accept: bool = False

    def refuse_for_drawing(self) -> None:
        """Raise InputError if an option was used that only a photograph has."""
        from nestplan.errors import InputError

        own = (
            ("--punch", self.punch),
            ("--mark", self.mark),
            ("--ignore", self.ignore),
            ("--names", self.names),
            ("--leave-out", self.leave_out),
            ("--join-pairs", self.join_pairs),
            ("--symmetric", self.symmetric),
            ("--picture", self.picture),
            ("--accept", self.accept),
        )
        used = [*self.scale.given, *(name for name, value in own if value)]
        if used:
            raise InputError(
                "This option is for photographs; a drawing's layers say what its lines mean.",
                place=used[0],
                mend="Leave it out; see --layers.",
            )


def is_photo(source: Path) -> bool:
    """Whether a file is taken for a photograph, by its ending."""
    from nestplan.tasks.opening import PHOTO_SUFFIXES

    return source.suffix.lower() in (*PHOTO_SUFFIXES, ".bmp", ".heic")


def pieces_of_photo(
    source: Path, out: Path, options: TemplateOptions, wishes: PieceWishes
) -> tuple[Piece, ...]:
    """The pieces of the templates in a photograph, written as a job to `out`.

    Raises InputError if the photograph cannot be read or something is left to answer; nothing is written then.
    """
    from nestplan.intake.photo.reading import read_photo
    from nestplan.tasks.templates import (
        job_of_templates,
        pieces_of,
        read_templates,
        require_answers,
        template_answers,
        write_template_picture,
    )
    from nestplan.tasks.tracing import require_another_file

    require_another_file(source, options.picture)
    photo = read_photo(source)
    read = read_templates(photo, scale_of(options.scale, photo.name, beside="the templates"))
    _tell(read, options)
    if options.picture is not None:
        write_template_picture(options.picture, read)
        say(f"Written: {options.picture}")
    answers = template_answers(
        read,
        names=_names(options.names),
        meanings=_meanings(options),
        join_pairs=options.join_pairs,
        symmetric=_letters(options.symmetric),
        leave_out=_letters(options.leave_out),
        arrows="arrows" not in [text.strip().lower() for text in options.ignore],
    )
    require_answers(read, answers, accepted=options.accept)
    return job_of_templates(out, pieces_of(read, answers), wishes).articles[0].pieces


def _tell(read: TemplatePhoto, options: TemplateOptions) -> None:
    """What was found, what is offered and what is asked."""
    from nestplan.geometry.units import show_length

    count = len(read.found)
    say(f"{count} template{'s' * (count != 1)} found; a pixel shows {read.pixel:.2f} mm.")
    for letter, each in zip(read.letters, read.found, strict=True):
        (left, low), (right, high) = each.outline.min(axis=0), each.outline.max(axis=0)
        inside = each.inside
        things = [
            (len(inside.holes), "hole"),
            (len(inside.openings), "opening"),
            (len(inside.spots), "drawn mark"),
            (len(inside.arrows), "arrow"),
            (len(inside.writing), "other stroke"),
        ]
        words = "".join(f", {number} {what}{'s' * (number != 1)}" for number, what in things if number)
        exact = f"; lengths good to {each.scale_error:.1%}"
        say(f"{letter}: {show_length(right - left)} × {show_length(high - low)}{words}{exact}")
        if len(inside.arrows) > 1 and "arrows" not in options.ignore:
            say(f"  {letter} carries {len(inside.arrows)} arrows; none is taken for its stretch.")
    for first, second, apart in read.pairs if not options.join_pairs else ():
        one, other = read.letters[first], read.letters[second]
        say(f"{one} and {other} mirror each other, to {apart:.2f} mm: --join-pairs makes one piece of both.")
    if read.axes and not options.symmetric:
        letters = ", ".join(read.letters[number] for number in read.axes)
        say(f"Nearly symmetric: {letters}. --symmetric '{letters}' (or all) makes them exactly so.")
    for warning in read.warnings:
        x, y = read.straight.photo_points([warning.at])[0] * read.photo.reduction
        say(f"May be wrong: {warning.what} At pixel {x:.0f},{y:.0f}.", err=True)
        say(f"  {with_options(warning.mend)}", err=True)


def _letters(text: str) -> list[str]:
    return [part for part in re.split(r"[,\s]+", text.strip()) if part]


def _names(text: str) -> dict[str, str]:
    from nestplan.errors import InputError

    names = {}
    for part in filter(None, (part.strip() for part in text.split(","))):
        letter, sign, name = (each.strip() for each in part.partition("="))
        if not sign or not letter or not name:
            raise InputError(
                f"'{part}' names no template.", place="--names", mend="Write A=front, B=back, and so on."
            )
        names[letter] = name
    return names


def _meanings(options: TemplateOptions) -> dict[str, Meaning]:
    from nestplan.errors import InputError
    from nestplan.geometry.units import read_length
    from nestplan.intake.photo.templates_to_model import Meaning

    said: dict[str, Meaning] = {}
    for option, do, texts in (
        ("--punch", "punch", options.punch),
        ("--mark", "mark", options.mark),
        ("--ignore", "ignore", options.ignore),
    ):
        for text in texts:
            group, _, size = (each.strip().lower() for each in text.partition("="))
            if group == "arrows" and do == "ignore":
                continue
            if group in said:
                raise InputError(f"The {group} are given two meanings.", place=option, mend="Keep one.")
            said[group] = Meaning(do, read_length(size) if size else None)  # type: ignore[arg-type]
    return said
