"""Patterns and hides from drawings, photographs of templates and measures: `pieces`, `layers` and `measure`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import typer

from nestplan.cli.option_words import with_options
from nestplan.cli.photo_options import APART, ScaleOptions
from nestplan.cli.piece_words import piece_in_words
from nestplan.cli.terminal import say

if TYPE_CHECKING:
    from nestplan.intake.drawings.reader import Drawing
    from nestplan.model import Layer

__all__ = ["register", "tell_drawing"]

_MOST_TOLD = 40
"""Repairs of a drawing that are told one by one."""


def register(app: typer.Typer) -> None:
    """Add `pieces`, `layers` and `measure`."""
    app.command(short_help="Make a job of the pieces in a drawing or a photograph.")(pieces)
    app.command(short_help="List a drawing's layers, as a table to edit.")(layers)
    app.command(short_help="Make a hide from tape figures and the shape of its kind.")(measure)


def pieces(
    source: Path = typer.Argument(
        ...,
        help="A drawing (DXF, SVG, CSV or JSON rings), or a photo of templates on a plain ground (JPEG, PNG …).",
        metavar="DRAWING_OR_PHOTO",
    ),
    *,
    out: Path = typer.Option(..., "--out", help="The job file to write (.job.json)."),
    units: str | None = typer.Option(
        None, "--units", help="The drawing's unit, if it does not say: mm, cm, in …"
    ),
    layers: Path | None = typer.Option(
        None, "--layers", help="A table (CSV) of layers and what they are; see `layers`."
    ),
    tolerance: str = typer.Option("0.05 mm", "--tolerance", help="How far chords may stray from curves."),
    join: str = typer.Option("0.1 mm", "--join", help="Ends up to this far apart are joined."),
    ignore_layer: list[str] | None = typer.Option(
        None,
        "--ignore-layer",
        help="A drawing's layer to leave out; '(frame)' for rectangles round all else; repeat.",
    ),
    repair: bool = typer.Option(False, "--repair", help="Make larger repairs too, and list them."),
    sets: int = typer.Option(1, "--sets", min=1, help="How many sets are wanted."),
    overcut: str | None = typer.Option(None, "--overcut", help="The least overcut of every piece."),
    wish: str | None = typer.Option(
        None, "--overcut-wish", help="The overcut wished for where there is room."
    ),
    pairs: bool = typer.Option(False, "--pairs", help="Every piece is wanted left and right."),
    layer: list[str] | None = typer.Option(
        None,
        "--layer",
        help="A layer every piece is cut from, and its leather: 'outer = cow side, 5 oz'. Repeat it for a lining, cut "
        "as the mirror image.",
    ),
    reference: str | None = typer.Option(
        None,
        "--reference",
        help="Photo: the sheet or board beside the templates: A4, A3, letter, '600 x 400 mm'.",
    ),
    corners: str | None = typer.Option(
        None, "--corners", help="Photo: its four corners in pixels of the upright photo: 'x,y x,y x,y x,y'."
    ),
    printed_marks: bool = typer.Option(
        False, "--marks", help="Photo: printed marks (see `marks`) lie round the templates."
    ),
    two_points: str | None = typer.Option(
        None, "--two-points", help="Photo from straight above: two points in pixels, 'x,y x,y'; with --apart."
    ),
    apart: str | None = APART,
    punch: list[str] | None = typer.Option(
        None,
        "--punch",
        help="Photo: drawn marks that mean punch here: 'red rings', 'blue dots = 4 mm'; repeat.",
    ),
    mark: list[str] | None = typer.Option(
        None, "--mark", help="Photo: drawn marks that mean mark here: 'blue dots'; repeat."
    ),
    ignore: list[str] | None = typer.Option(
        None, "--ignore", help="Photo: drawn marks that mean nothing: 'black dots', or arrows; repeat."
    ),
    names: str = typer.Option("", "--names", help="Photo: what the templates are called: 'A=front, B=back'."),
    leave_out: str = typer.Option("", "--leave-out", help="Photo: things that are no templates: 'C, D'."),
    join_pairs: bool = typer.Option(
        False,
        "--join-pairs",
        help="Photo: of templates that mirror each other make one piece, left and right.",
    ),
    symmetric: str = typer.Option(
        "", "--symmetric", help="Photo: templates to make exactly symmetric: 'A, C', or all that are offered."
    ),
    picture: Path | None = typer.Option(
        None, "--picture", help="Photo: write what was found over it (.png, .jpg)."
    ),
    accept: bool = typer.Option(
        False, "--accept", help="Photo: write the job although something is warned of."
    ),
    replace: bool = typer.Option(False, "--replace", help="Write over a job file that is there."),
) -> None:
    """Make a job of the pieces in a drawing, or of templates in a photograph, with their holes and marks.

    A CSV file of points has the columns x and y, and a third with the name of the ring where there are several; a
    head such as x_mm,y_mm or x_in,y_in says the unit. Columns are parted by commas, semicolons or tabs; beside
    semicolons and tabs a decimal may have a comma.
    """
    from nestplan.cli.option_values import require_new_file
    from nestplan.cli.template_pieces import TemplateOptions, is_photo, pieces_of_photo
    from nestplan.tasks.importing import DrawingOptions, PieceWishes, import_pieces

    require_new_file(out, replace)
    said = TemplateOptions(
        scale=ScaleOptions(reference, corners, printed_marks, two_points, apart),
        punch=punch or [],
        mark=mark or [],
        ignore=ignore or [],
        names=names,
        leave_out=leave_out,
        join_pairs=join_pairs,
        symmetric=symmetric,
        picture=picture,
        accept=accept,
    )
    photo = is_photo(source)
    if not photo:
        said.refuse_for_drawing()
    options = DrawingOptions(
        units=units,
        layers=layers,
        ignored=tuple(ignore_layer or ()),
        tolerance=_mm(tolerance),
        join=_mm(join),
        repair=repair,
    )
    wishes = PieceWishes(
        sets=sets,
        overcut=None if overcut is None else _mm(overcut),
        overcut_wish=None if wish is None else _mm(wish),
        pairs=pairs,
        layers=tuple(_layer(text) for text in layer or ()),
    )
    if photo:
        found = pieces_of_photo(source, out, said, wishes)
    else:
        made = import_pieces(source, out, options, wishes)
        tell_drawing(made.drawing)
        found = made.pieces
    for piece in found:
        say(piece_in_words(piece))
        for warning in piece.warnings():
            say(f"  {warning}")
    say(f"Written: {out} ({len(found)} piece{'s' * (len(found) != 1)})")


def _layer(text: str) -> Layer:
    from nestplan.errors import InputError
    from nestplan.tasks.job_layers import read_layer

    try:
        return read_layer(text)
    except InputError as error:
        raise error.within("--layer") from None


def layers(
    drawing: Path = typer.Argument(..., help="The drawing."),
    *,
    out: Path | None = typer.Option(None, "--out", help="Write the table here instead of showing it."),
    replace: bool = typer.Option(False, "--replace", help="Write over a table that is there."),
) -> None:
    """List a drawing's layers and what they would be read as: a table to edit and give to --layers."""
    from nestplan.cli.option_values import require_new_file
    from nestplan.tasks.importing import layer_table, write_layer_table

    table, count = layer_table(drawing)
    if out is None:
        say(table, nl=False, lines=True)
        return
    require_new_file(out, replace)
    write_layer_table(out, table)
    say(f"Written: {out} ({count} layer{'s' * (count != 1)})")


def measure(
    kind: str = typer.Argument(..., help="side, double-shoulder, bend, belly, calf, sheep, goat, deer …"),
    *,
    out: Path = typer.Option(..., "--out", help="The hide file to write (.hide.json)."),
    name: str = typer.Option("", "--name", help="What the hide is called."),
    length: str | None = typer.Option(None, "--length", help="Along the backbone, such as 2.4 m."),
    width: list[str] | None = typer.Option(
        None, "--width", help="Distance from the rear and full width there: '60 cm: 1.05 m'; repeat."
    ),
    area: str | None = typer.Option(None, "--area", help="The seller's area: 22 3/4, 22.75 ft2, 210 dm2."),
    area_reads: str | None = typer.Option(
        None, "--area-reads", help="tenths or quarters, for a mark such as 22.3."
    ),
    leather: str = typer.Option("", "--leather", help="What its kind of leather is called in your jobs."),
    thickness: str | None = typer.Option(None, "--thickness", help="Such as 3-4 oz or 1.2-1.6 mm."),
    price: float | None = typer.Option(None, "--price", min=0.0, help="For the whole piece."),
    currency: str = typer.Option("", "--currency", help="Of the price."),
    replace: bool = typer.Option(False, "--replace", help="Write over a hide file that is there."),
) -> None:
    """Make a hide from tape figures and the usual shape of its kind, for planning before buying."""
    from nestplan.cli.option_values import area_of_mark, require_new_file
    from nestplan.geometry.units import read_thickness_range, show_area
    from nestplan.tasks.importing import measure_hide

    require_new_file(out, replace)
    hide = measure_hide(
        kind,
        out,
        name=name,
        length=_mm(length) if length else None,
        widths=[_width(text) for text in width or ()],
        area=area_of_mark(area, area_reads) if area else None,
        leather=leather,
        thickness=read_thickness_range(thickness) if thickness else None,
        price=price,
        currency=currency,
    )
    note = hide.origin.note if hide.origin else ""
    say(f"{hide.name}: {show_area(hide.gross_area, 'ft2')} ({show_area(hide.gross_area)}); {note}.")
    say(f"Written: {out}")


def tell_drawing(drawing: Drawing) -> None:
    """What a drawing was read as, its repairs and what was left unread, on standard error."""
    from nestplan.intake.drawings.units import unit_scale

    say(f"{drawing.file}: one unit of it is {unit_scale(drawing.units):.6g} mm ({drawing.units}).", err=True)
    if drawing.piece_texts:
        say(
            "Read as a pattern of the apparel standard (numbered layers): the stretch lies square to the grain line.",
            err=True,
        )
    for repair in drawing.repairs[:_MOST_TOLD]:
        say(f"Repaired, {repair}", err=True)
    if len(drawing.repairs) > _MOST_TOLD:
        say(f"… and {len(drawing.repairs) - _MOST_TOLD} more repairs.", err=True)
    for what in drawing.skipped:
        say(f"Left unread: {with_options(what)}", err=True)


def _width(text: str) -> tuple[float, float]:
    from nestplan.errors import InputError

    ends = text.split(":")
    if len(ends) != 2:
        raise InputError(
            f"The width '{text}' cannot be read.",
            mend="Say the distance from the rear, a colon and the width: '60 cm: 1.05 m'.",
            place="--width",
        )
    return _mm(ends[0]), _mm(ends[1])


def _mm(text: str) -> float:
    from nestplan.geometry.units import read_length

    return read_length(text.strip())
