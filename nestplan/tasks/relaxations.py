"""Which limits can be loosened so that a piece finds a place: for each reason the changes of the job that may help.

A relaxation is the job with one limit loosened; whether it helps shows when the rest is planned again.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import msgspec

from nestplan.geometry.units import show_length
from nestplan.model.hide import Hide
from nestplan.model.job import Job, Layer
from nestplan.model.piece import LayerCut, Overcut, Piece, Strip
from nestplan.model.plan import Unplaced
from nestplan.tasks.job_edits import with_piece

__all__ = ["Relaxation", "hides_without_direction", "relaxations"]


@dataclass(frozen=True)
class Relaxation:
    """One limit loosened: what to tell the worker, and the job that comes of it."""

    words: str
    job: Job


def relaxations(missing: Unplaced, job: Job, hides: Sequence[Hide]) -> tuple[Relaxation, ...]:
    """The changes of the job that may give `missing` a place, the least first."""
    return tuple(_relaxations(missing, job, hides))


def hides_without_direction(missing: Unplaced, job: Job, hides: Sequence[Hide]) -> tuple[str, ...]:
    """The hides that `missing` may be cut from, but for a direction that they have no backbone to tell; empty where its
    stretch does not keep it out."""
    if missing.reason != "stretch":
        return ()
    takes = job.layer(missing.layer).takes
    return tuple(hide.name for hide in hides if takes(hide) and not hide.knows_stretch)


def _relaxations(missing: Unplaced, job: Job, hides: Sequence[Hide]) -> Iterator[Relaxation]:
    piece = _missing_piece(job, missing)
    if piece is None:
        return
    name = piece.name
    if isinstance(piece, Piece):
        cut = piece.find_cut(missing.layer)
        if cut is not None:
            takes = job.layer(missing.layer).takes
            known = not hides or any(hide.knows_stretch for hide in hides if takes(hide))
            yield from _piece_relaxations(missing, job, piece, cut, direction_known=known)
    else:
        yield from _strip_relaxations(missing, job, piece)
    if missing.reason == "no leather":
        kinds = sorted({hide.leather for hide in hides})
        layer = job.layer(missing.layer)
        for kind in kinds:
            if (layer.leather or layer.hides) and kind not in layer.leather:
                wider = msgspec.structs.replace(layer, leather=(*layer.leather, kind))
                yield Relaxation(
                    f"Let the layer {layer.name} be cut from {kind} too", _with_layer(job, wider)
                )
        if layer.thickness is not None:
            free = msgspec.structs.replace(layer, thickness=None)
            yield Relaxation(f"Take any thickness for the layer {layer.name}", _with_layer(job, free))
    if missing.reason == "no room" and job.gap > 0.5:
        yield Relaxation(
            f"Leave a gap of {_shown(job.gap / 2, job)} for the knife instead of {_shown(job.gap, job)}",
            msgspec.structs.replace(job, gap=job.gap / 2),
        )
    if missing.reason == "no room" and isinstance(piece, Piece) and not piece.turn_over and not piece.pair:
        yield Relaxation(
            f"Let {name} be turned over",
            with_piece(job, name, msgspec.structs.replace(piece, turn_over=True)),
        )


def _piece_relaxations(
    missing: Unplaced, job: Job, piece: Piece, cut: LayerCut, *, direction_known: bool
) -> Iterator[Relaxation]:
    name = piece.name
    if cut.stretch is not None and missing.reason in ("stretch", "no room", "too large"):
        wider = min(90.0, cut.stretch.tolerance + 15.0)
        rule = msgspec.structs.replace(cut.stretch, tolerance=wider)
        if direction_known:
            yield Relaxation(
                f"Let {name} lie up to {wider:g}° off the stretch", _with_cut(job, piece, cut, stretch=rule)
            )
        yield Relaxation(f"Let {name} lie any way to the stretch", _with_cut(job, piece, cut, stretch=None))
    if missing.reason in ("region", "no room") and (cut.regions or cut.not_regions or cut.least_firmness > 1):
        yield Relaxation(
            f"Let {name} be cut from any region",
            _with_cut(job, piece, cut, regions=(), not_regions=(), least_firmness=1),
        )
    if missing.reason == "flaws" and cut.shows != "hidden":
        yield Relaxation(
            f"Say that neither face of {name} is seen ({cut.layer})",
            _with_cut(job, piece, cut, shows="hidden"),
        )
    if missing.reason in ("flaws", "no room", "too large") and cut.overcut is not None:
        allowed = msgspec.structs.replace(job.permissions, through_flaws_in_overcut=True)
        if not job.permissions.through_flaws_in_overcut:
            yield Relaxation(
                "Let the overcut, which is cut away, lie over holes",
                msgspec.structs.replace(job, permissions=allowed),
            )
        half = cut.overcut.least / 2
        if half >= 1.0:
            slim = Overcut(least=half, wished=cut.overcut.wished)
            yield Relaxation(
                f"Be content with {_shown(half, job)} overcut round {name}",
                _with_cut(job, piece, cut, overcut=slim),
            )


def _strip_relaxations(missing: Unplaced, job: Job, strip: Strip) -> Iterator[Relaxation]:
    name, replace = strip.name, msgspec.structs.replace
    if strip.along != "any" and missing.reason in ("stretch", "no room", "too large"):
        yield Relaxation(
            f"Let {name} lie across the backbone too", with_piece(job, name, replace(strip, along="any"))
        )
    if strip.joins < 2 and strip.use == "lace":
        joined = replace(strip, joins=strip.joins + 1)
        yield Relaxation(f"Let {name} be made of {joined.joins + 1} parts", with_piece(job, name, joined))
    if missing.reason == "flaws" and not strip.over_flaws:
        words = f"Let {name} run over flaws of one face"
        yield Relaxation(words, with_piece(job, name, replace(strip, over_flaws=True)))
    if missing.reason in ("region", "no room") and (
        strip.regions or strip.not_regions or strip.least_firmness > 1
    ):
        free = replace(strip, regions=(), not_regions=(), least_firmness=1)
        yield Relaxation(f"Let {name} be cut from any region", with_piece(job, name, free))


def _shown(mm: float, job: Job) -> str:
    """A small length in the job's unit: hundredths of a millimetre, or of an inch."""
    return show_length(mm, job.units, decimals=2)


def _missing_piece(job: Job, missing: Unplaced) -> Piece | Strip | None:
    try:
        return job.piece(missing.piece) if missing.piece else job.strip(missing.strip)
    except KeyError:
        return None


def _with_cut(job: Job, piece: Piece, cut: LayerCut, **fields: object) -> Job:
    eased = msgspec.structs.replace(cut, **fields)
    cuts = tuple(eased if other is cut else other for other in piece.cuts)
    return with_piece(job, piece.name, msgspec.structs.replace(piece, cuts=cuts))


def _with_layer(job: Job, layer: Layer) -> Job:
    return msgspec.structs.replace(
        job, layers=tuple(layer if other.name == layer.name else other for other in job.layers)
    )
