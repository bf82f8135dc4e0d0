"""Whether the sheet found has the shape of the size named, and which known sizes suit what is seen as well."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from nestplan.errors import InputError
from nestplan.intake.photo.camera import FloorLines, SheetView, fit_camera
from nestplan.intake.photo.floor_lines import camera_and_floor, lines_of
from nestplan.intake.photo.reading import Photo
from nestplan.intake.photo.reference_corners import (
    ReferenceCorners,
    shape_cost_through_lenses,
    sheet_plane,
    way_round_cost,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

__all__ = [
    "PAPER_SIZES",
    "check_named_size",
    "is_paper",
    "is_taken_for",
    "refuse_other_shape",
    "sizes_of_shape",
    "sizes_suiting_as_well",
]

PAPER_SIZES = {
    "A2": (594.0, 420.0),
    "A3": (420.0, 297.0),
    "A4": (297.0, 210.0),
    "A5": (210.0, 148.0),
    "letter": (279.4, 215.9),
    "legal": (355.6, 215.9),
    "tabloid": (431.8, 279.4),
}
"""Sizes in mm, long side first: ISO 216 (A series) and ANSI/ASME Y14.1 (A size, "letter")."""
BOARD_SIZES = {"600 x 400 mm": (600.0, 400.0), "600 x 450 mm": (600.0, 450.0)}
"""Boards and cutting mats that are called by the name of a paper of nearly their size [common practice, no source]."""
_MOST_MISFIT, _FURTHER_MISFIT = 20.0, 8.0
"""Sum of squared residuals, in standard errors, up to which a sheet has the shape named, and what each further sheet
may add (over drawn cameras 3 in the middle and 6.6 at most for one sheet, 15 and 28 for four)."""
_NAMED_MISFIT, _BETTER = 9.0, 3.0
"""From this sum on (more for further sheets) a sheet is of another size, if that lowers it by so much: no usual focal
length explains the shape named, another's is plain."""
_UNDECIDED = 1.0
"""Up to how much higher another known size's sum may be where the picture cannot tell which it is. (Of 360 drawn
sheets called wrongly 51 % are refused, two neither refused nor told, and those not 3 % off; called rightly 11 % are
doubted, 30 % if this were 3: tests/benchmarks/sheet_names.py.)"""
_UNDECIDED_BY_FLOOR, _CONTRADICTED_BY_FLOOR = 8.0, 25.0
"""The same where the floor's own lines are asked too, which are laid less truly than paper is cut; and how much higher
that of the size named must be to be refused for another."""
_CONFUSED = 0.15
"""Logarithm up to which the sides of two sizes that people take for each other differ."""
_SAME_SHAPE = 0.01
"""Logarithm up to which the ratios of two sizes' sides are one."""
_PLAIN_SHAPE, _NO_SHAPE = 4.0, 60.0
"""Cost of a camera over a sheet of the right size at most; and from which on none suits a sheet, whatever its lens
(over drawn cameras the sum of squared residuals is then 280 and more)."""


def is_paper(size_mm: tuple[float, float]) -> bool:
    """Whether a size is that of a paper that has a name."""
    return any(sorted(size_mm) == sorted(size) for size in PAPER_SIZES.values())


def _is_known(size_mm: tuple[float, float]) -> bool:
    return any(sorted(size_mm) == sorted(size) for size in (PAPER_SIZES | BOARD_SIZES).values())


def is_taken_for(name: str, size_mm: tuple[float, float]) -> bool:
    """Whether people take what has a known size's name for one of `size_mm`."""
    return _is_confused_with((PAPER_SIZES | BOARD_SIZES)[name], size_mm)


def _has_other_shape(size: tuple[float, float], other: tuple[float, float]) -> bool:
    return bool(abs(np.log(max(size) / min(size) * min(other) / max(other))) > _SAME_SHAPE)


def sizes_of_shape(seen: Floats, size_mm: tuple[float, float], photo: Photo) -> list[str]:
    """Names of known sizes of another shape than `size_mm` that a camera sees so (corners (4, 2), pixels), likeliest
    first: those that are taken for the size named, then those that suit best."""
    known = PAPER_SIZES | BOARD_SIZES
    costs = {
        name: shape_cost_through_lenses(seen, size, photo)
        for name, size in known.items()
        if _has_other_shape(size, size_mm)
    }
    return sorted(
        (name for name, cost in costs.items() if cost < _PLAIN_SHAPE),
        key=lambda name: (not _is_confused_with(known[name], size_mm), costs[name]),
    )


def refuse_other_shape(names: list[str], size_mm: tuple[float, float], photo: Photo) -> InputError:
    """The error that says that what was found has the shape of other sizes (`names`) than the one named."""
    return InputError(
        f"The sheet found does not have the shape of {max(size_mm):g} × {min(size_mm):g} mm; it has that of "
        f"{' or '.join(names[:2])}.",
        mend=f"Name the size '{names[0]}', if that is what lies there, or measure the sheet and give its sides; "
        "if it is as you said, give its four corners.",
        file=photo.name,
    )


def check_named_size(chosen: ReferenceCorners, size_mm: tuple[float, float], photo: Photo) -> tuple[str, ...]:
    """Names of known sizes near the one named which what is seen suits as well.

    Raises InputError if no usual camera sees the sheet so, or sees another size so far better, and names that.
    """
    misfit, others = _misfits(chosen, size_mm, photo)
    further = _FURTHER_MISFIT * len(chosen.others)
    known = PAPER_SIZES | BOARD_SIZES
    better = sorted(
        (
            name
            for name in others
            if others[name] < misfit - _BETTER and others[name] < _MOST_MISFIT + further
        ),
        key=lambda name: (not _is_confused_with(known[name], size_mm), others[name]),
    )
    if misfit >= _NAMED_MISFIT + further and better:
        raise refuse_other_shape(better, size_mm, photo)
    if misfit >= _MOST_MISFIT + further:
        raise InputError(
            f"What was taken for the reference does not have the shape of {max(size_mm):g} × {min(size_mm):g} mm.",
            mend="Check its size, measure its sides, or give its four corners.",
            file=photo.name,
        )
    suiting = _suiting_as_well(size_mm, misfit, others)
    told = _misfits_on_floor(chosen, size_mm, photo, suiting)
    contradicted = [name for name in told if told[name] < told[""] - _CONTRADICTED_BY_FLOOR]
    if contradicted:
        raise refuse_other_shape(sorted(contradicted, key=lambda name: told[name]), size_mm, photo)
    return _suiting_floor_as_well(suiting, told)


def _misfits_on_floor(
    chosen: ReferenceCorners, size_mm: tuple[float, float], photo: Photo, names: tuple[str, ...]
) -> dict[str, float]:
    """The misfit of the size named (under "") and of others to the sheet and the floor's own lines together; nothing
    where no size but the one named is in question, or the floor has no lines."""
    sizes = {"": size_mm} | {name: (PAPER_SIZES | BOARD_SIZES)[name] for name in names}
    if not names:
        return {}
    lines = lines_of(photo)
    # Under a wrong size the lines run no two ways square to each other: then they are those of the next.
    for size in sizes.values():
        _, floor = camera_and_floor(photo, _views(chosen, size, long_way=True), lines=lines)
        if floor is not None:
            return {name: _misfit(chosen, each, photo, floor) for name, each in sizes.items()}
    return {}


def _suiting_floor_as_well(names: tuple[str, ...], told: dict[str, float]) -> tuple[str, ...]:
    """Those of the names that suit the floor's lines as well, where it has any."""
    return tuple(name for name in names if not told or told[name] <= told[""] + _UNDECIDED_BY_FLOOR)


def sizes_suiting_as_well(
    chosen: ReferenceCorners, size_mm: tuple[float, float], photo: Photo
) -> tuple[str, ...]:
    """Names of known sizes near the one named which what is seen suits as well."""
    names = _suiting_as_well(size_mm, *_misfits(chosen, size_mm, photo))
    return _suiting_floor_as_well(names, _misfits_on_floor(chosen, size_mm, photo, names))


def _misfits(
    chosen: ReferenceCorners, size_mm: tuple[float, float], photo: Photo
) -> tuple[float, dict[str, float]]:
    """The misfit of the size named, and of known sizes of another shape that might be meant."""
    misfit = _misfit(chosen, size_mm, photo)
    return misfit, {
        name: _misfit(chosen, size, photo)
        for name, size in (PAPER_SIZES | BOARD_SIZES).items()
        if _has_other_shape(size, size_mm)
        and (
            misfit >= _NAMED_MISFIT + _FURTHER_MISFIT * len(chosen.others) or _is_confused_with(size, size_mm)
        )
    }


def _suiting_as_well(
    size_mm: tuple[float, float], misfit: float, others: dict[str, float]
) -> tuple[str, ...]:
    if not _is_known(size_mm):
        return ()
    known = PAPER_SIZES | BOARD_SIZES
    return tuple(
        name
        for name, other in others.items()
        if other <= misfit + _UNDECIDED and _is_confused_with(known[name], size_mm)
    )


def _is_confused_with(size: tuple[float, float], other: tuple[float, float]) -> bool:
    """Whether people take paper of one size for that of the other."""
    return bool(np.abs(np.log(np.array(sorted(size)) / sorted(other))).max() < _CONFUSED)


def _misfit(
    chosen: ReferenceCorners, size_mm: tuple[float, float], photo: Photo, floor: FloorLines | None = None
) -> float:
    """Sum of squared residuals of the camera that suits sheets of a size best, and the floor's lines if given;
    infinite where no camera nearly does."""
    best = np.inf
    for long_way in (True, False):
        views = _views(chosen, size_mm, long_way=long_way)
        if way_round_cost(chosen.seen, views[0].plane, photo) > _NO_SHAPE:
            # Seldom the right way round, and a camera that cannot be found is what takes longest to look for.
            continue
        best = min(best, fit_camera(views, photo.size, focal=photo.focal, floor=floor).misfit)
    return best


def _views(chosen: ReferenceCorners, size_mm: tuple[float, float], *, long_way: bool) -> list[SheetView]:
    """The sheets as if of another size; `long_way`: their long sides lie as they were taken to lie."""
    views = []
    for each in (chosen, *chosen.others):
        wide = _lies_wide(each) == long_way
        width, height = (max(size_mm), min(size_mm)) if wide else (min(size_mm), max(size_mm))
        error = max(each.standard_error, 0.2)
        views.append(SheetView(sheet_plane(width, height), each.seen, error, each.sides))
    return views


def _lies_wide(corners: ReferenceCorners) -> bool:
    return float(np.ptp(corners.plane[:, 0])) >= float(np.ptp(corners.plane[:, 1]))
