"""Patterns and hides from drawings and measures, written as jobs and hides."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import msgspec

from nestplan.errors import NestplanError
from nestplan.model.files import write_hide, write_job
from nestplan.model.hide import Hide
from nestplan.model.job import Article, Job, Layer
from nestplan.model.piece import Overcut, Piece
from nestplan.storage import write_atomically

if TYPE_CHECKING:
    from nestplan.intake.drawings.layers import LayerTable
    from nestplan.intake.drawings.reader import Drawing

__all__ = [
    "DrawingOptions",
    "ImportedHide",
    "ImportedPieces",
    "PieceWishes",
    "hide_from_file",
    "import_pieces",
    "job_of_pieces",
    "layer_table",
    "measure_hide",
    "read_drawing_file",
    "stem_of",
    "write_layer_table",
    "write_traced_hide",
]


@dataclass(frozen=True)
class DrawingOptions:
    """How a drawing is read: its unit, a table of its layers, layers that are `ignored`, how far chords stray from
    curves and ends from each other (mm), and whether larger repairs are made."""

    units: str | None = None
    layers: Path | None = None
    ignored: tuple[str, ...] = ()
    tolerance: float = 0.05
    join: float = 0.1
    repair: bool = False


@dataclass(frozen=True)
class PieceWishes:
    """How the pieces of a drawing are wanted: in how many sets, with which overcut (mm), left and right or not.

    Each is cut from all `layers` (none: from one called leather): the first is seen, the others line it, mirrored, and
    are hidden.
    """

    sets: int = 1
    overcut: float | None = None
    overcut_wish: float | None = None
    pairs: bool = False
    layers: tuple[Layer, ...] = ()


@dataclass(frozen=True)
class ImportedPieces:
    """The job made of a drawing, and the drawing as it was read."""

    drawing: Drawing
    job: Job

    @property
    def pieces(self) -> tuple[Piece, ...]:
        """The pieces of the job."""
        return self.job.articles[0].pieces


@dataclass(frozen=True)
class ImportedHide:
    """The hide made of a drawing, and the drawing as it was read."""

    drawing: Drawing
    hide: Hide


def import_pieces(file: Path, out: Path, options: DrawingOptions, wishes: PieceWishes) -> ImportedPieces:
    """Make a job of the pieces in a drawing and write it to `out`, named after that file.

    Raises InputError, UnitError or ShapeError if the drawing cannot be read, and writes nothing then.
    """
    from nestplan.intake.drawings.to_model import pieces_from_drawing

    drawing = read_drawing_file(file, options)
    try:
        found = pieces_from_drawing(
            drawing,
            stem=stem_of(file),
            repair=options.repair,
            cut_from=[layer.name for layer in wishes.layers],
        )
    except NestplanError as error:
        raise error.within(file=str(file)) from error.__cause__
    name = stem_of(out)
    job = job_of_pieces(name, found, wishes)
    write_job(out, job)
    return ImportedPieces(drawing, job)


def hide_from_file(drawing: Drawing, file: Path, *, name: str, leather: str) -> ImportedHide:
    """The hide of a drawing that was read from `file`.

    Raises InputError or ShapeError if it holds no hide.
    """
    from nestplan.intake.drawings.to_model import hide_from_drawing

    try:
        return ImportedHide(drawing, hide_from_drawing(drawing, leather=leather, name=name))
    except NestplanError as error:
        raise error.within(file=str(file)) from error.__cause__


def read_drawing_file(file: Path, options: DrawingOptions) -> Drawing:
    """The shapes, lines and marks of a drawing.

    Raises InputError or UnitError if it, or the table of its layers, cannot be read.
    """
    from nestplan.intake.drawings.layers import read_layer_table
    from nestplan.intake.drawings.reader import read_drawing

    table: LayerTable | None = read_layer_table(options.layers) if options.layers else None
    if options.ignored:
        table = {**dict.fromkeys(options.ignored, "ignore"), **(table or {})}
    return read_drawing(
        file,
        units=options.units,
        layers=table,
        tolerance=options.tolerance,
        join=options.join,
        repair=options.repair,
    )


def layer_table(file: Path) -> tuple[str, int]:
    """A drawing's layers and what they would be read as, as a table (CSV) to edit; and how many they are.

    Raises InputError if the drawing cannot be read.
    """
    from nestplan.intake.drawings.layers import layer_table_text
    from nestplan.intake.drawings.reader import layers_of

    found = layers_of(file)
    return layer_table_text(name for name, _ in found), len(found)


def write_layer_table(out: Path, table: str) -> None:
    """Write a table of layers.

    Raises InputError if the file cannot be written.
    """
    write_atomically(out, table.encode())


def measure_hide(
    kind: str,
    out: Path,
    *,
    name: str = "",
    length: float | None = None,
    widths: Sequence[tuple[float, float]] = (),
    area: float | None = None,
    leather: str = "",
    thickness: tuple[float, float] | None = None,
    price: float | None = None,
    currency: str = "",
) -> Hide:
    """Make a hide of the usual shape of its kind from tape figures (mm, mm²) and write it to `out`.

    `widths` are (distance from the rear, full width). Without a `name` it is named after the file.

    Raises InputError if the kind is not known, the figures do not fit, or the file cannot be written.
    """
    from nestplan.intake.measured import measured_hide

    hide = measured_hide(
        kind,
        name=name or stem_of(out),
        length=length,
        widths=list(widths),
        area=area,
        leather=leather,
        thickness=thickness,
        price=price,
        currency=currency,
    )
    write_hide(out, hide)
    return hide


def write_traced_hide(
    out: Path,
    hide: Hide,
    *,
    thickness: tuple[float, float] | None = None,
    stated_area: float | None = None,
    price: float | None = None,
    currency: str = "",
) -> Hide:
    """Write a hide that was traced, with what its seller says of it: thickness (mm), area (mm²), price; gives it.

    Raises InputError if it cannot be written.
    """
    said: dict[str, object] = {}
    if thickness is not None:
        said["thickness"] = thickness
    if stated_area is not None:
        said["stated_area"] = stated_area
    if price is not None:
        said.update(price=price, currency=currency)
    told = msgspec.structs.replace(hide, **said) if said else hide
    write_hide(out, told)
    return told


def stem_of(path: Path) -> str:
    """What comes before the first full stop of a file's name."""
    return path.name.split(".")[0] or "drawing"


def job_of_pieces(name: str, pieces: Sequence[Piece], wishes: PieceWishes) -> Job:
    """The job of one article made of these pieces, as they are wanted."""
    wanted = tuple(_as_wished(piece, wishes) for piece in pieces)
    layers = wishes.layers or (Layer(name="leather"),)
    return Job(name=name, articles=(Article(name=name, sets=wishes.sets, pieces=wanted),), layers=layers)


def _as_wished(piece: Piece, wishes: PieceWishes) -> Piece:
    cuts = piece.cuts
    if wishes.overcut is not None or wishes.overcut_wish is not None:
        least = wishes.overcut or 0.0
        overcut = Overcut(least=least, wished=least if wishes.overcut_wish is None else wishes.overcut_wish)
        cuts = tuple(msgspec.structs.replace(cut, overcut=overcut) for cut in cuts)
    return msgspec.structs.replace(piece, cuts=cuts, pair=piece.pair or wishes.pairs)
