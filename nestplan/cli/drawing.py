"""Patterns and hides from drawings and measures: `pieces`, `layers` and `measure`.

Not here: photographs and hides traced from drawings (`trace`, in tracing), how drawings are read (intake).
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import typer

if TYPE_CHECKING:
    from nestplan.intake.drawings.reader import Drawing
    from nestplan.model import Piece

__all__ = ["register", "tell_drawing"]

_MOST_TOLD = 40


def register(app: typer.Typer) -> None:
    """Add `pieces`, `layers` and `measure`."""

    @app.command(short_help="Make a job of the pieces in a drawing.")
    def pieces(
        drawing: Path = typer.Argument(
            ..., help="DXF, SVG, CSV or JSON rings (.dxf .svg .csv .json .geojson)."
        ),
        out: Path = typer.Option(..., "--out", help="The job file to write (.job.json)."),
        units: str | None = typer.Option(
            None, "--units", help="The drawing's unit, if it does not say: mm, cm, in …"
        ),
        layers: Path | None = typer.Option(
            None, "--layers", help="A table (CSV) of layers and what they are; see `layers`."
        ),
        tolerance: str = typer.Option("0.05 mm", "--tolerance", help="How far chords may stray from curves."),
        join: str = typer.Option("0.1 mm", "--join", help="Ends up to this far apart are joined."),
        repair: bool = typer.Option(False, "--repair", help="Make larger repairs too, and list them."),
        sets: int = typer.Option(1, "--sets", min=1, help="How many sets are wanted."),
        overcut: str | None = typer.Option(None, "--overcut", help="The least overcut of every piece."),
        wish: str | None = typer.Option(
            None, "--overcut-wish", help="The overcut wished for where there is room."
        ),
        pairs: bool = typer.Option(False, "--pairs", help="Every piece is wanted left and right."),
        replace: bool = typer.Option(False, "--replace", help="Write over a job file that is there."),
    ) -> None:
        """Make a job of the pieces in a drawing, with their holes and marks."""
        from nestplan.cli.arguments import refuse_existing
        from nestplan.errors import NestplanError
        from nestplan.intake.drawings.layers import read_layer_table
        from nestplan.intake.drawings.reader import read_drawing
        from nestplan.intake.drawings.to_model import pieces_from_drawing
        from nestplan.model import Article, Job
        from nestplan.model.files import write_job

        refuse_existing(out, replace)
        table = read_layer_table(layers) if layers else None
        read = read_drawing(
            drawing, units=units, layers=table, tolerance=_mm(tolerance), join=_mm(join), repair=repair
        )
        try:
            found = pieces_from_drawing(read, stem=_stem(drawing), repair=repair)
        except NestplanError as error:
            raise error.within(file=str(drawing)) from error.__cause__
        made = tuple(_as_wanted(piece, overcut, wish, pairs) for piece in found)
        name = _stem(out)
        write_job(out, Job(name=name, articles=(Article(name=name, sets=sets, pieces=made),)))
        tell_drawing(read)
        for piece in made:
            typer.echo(_piece_in_words(piece))
            for warning in piece.warnings():
                typer.echo(f"  {warning}")
        typer.echo(f"Written: {out} ({len(made)} piece{'s' * (len(made) != 1)})")

    @app.command(short_help="List a drawing's layers, as a table to edit.")
    def layers(
        drawing: Path = typer.Argument(..., help="The drawing."),
        out: Path | None = typer.Option(None, "--out", help="Write the table here instead of showing it."),
        replace: bool = typer.Option(False, "--replace", help="Write over a table that is there."),
    ) -> None:
        """List a drawing's layers and what they would be read as: a table to edit and give to --layers."""
        from nestplan.cli.arguments import refuse_existing
        from nestplan.intake.drawings.layers import layer_table_text
        from nestplan.intake.drawings.reader import layers_of
        from nestplan.storage import write_atomically

        found = layers_of(drawing)
        text = layer_table_text(name for name, _ in found)
        if out is None:
            typer.echo(text, nl=False)
            return
        refuse_existing(out, replace)
        write_atomically(out, text.encode())
        typer.echo(f"Written: {out} ({len(found)} layer{'s' * (len(found) != 1)})")

    @app.command(short_help="Make a hide from tape figures and the shape of its kind.")
    def measure(
        kind: str = typer.Argument(..., help="side, double-shoulder, bend, belly, calf, sheep, goat, deer …"),
        out: Path = typer.Option(..., "--out", help="The hide file to write (.hide.json)."),
        name: str = typer.Option("", "--name", help="What the hide is called."),
        length: str | None = typer.Option(None, "--length", help="Along the backbone, such as 2.4 m."),
        width: list[str] | None = typer.Option(
            None, "--width", help="Distance from the rear and full width there: '60 cm: 1.05 m'; repeat."
        ),
        area: str | None = typer.Option(
            None, "--area", help="The seller's area: 22 3/4, 22.75 ft2, 210 dm2."
        ),
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
        from nestplan.cli.arguments import refuse_existing
        from nestplan.cli.asking import area_of_mark
        from nestplan.geometry.units import read_thickness_range, show_area
        from nestplan.intake.measured import measured_hide
        from nestplan.model.files import write_hide

        refuse_existing(out, replace)
        hide = measured_hide(
            kind,
            name=name or _stem(out),
            length=_mm(length) if length else None,
            widths=[_width(text) for text in width or ()],
            area=area_of_mark(area, area_reads) if area else None,
            leather=leather,
            thickness=read_thickness_range(thickness) if thickness else None,
            price=price,
            currency=currency,
        )
        write_hide(out, hide)
        note = hide.origin.note if hide.origin else ""
        typer.echo(
            f"{hide.name}: {show_area(hide.gross_area, 'ft2')} ({show_area(hide.gross_area)}); {note}."
        )
        typer.echo(f"Written: {out}")


def tell_drawing(drawing: Drawing) -> None:
    """What a drawing was read as, its repairs and what was left unread, on standard error."""
    from nestplan.intake.drawings.units import unit_scale

    typer.echo(
        f"{drawing.file}: one unit of it is {unit_scale(drawing.units):.6g} mm ({drawing.units}).", err=True
    )
    for repair in drawing.repairs[:_MOST_TOLD]:
        typer.echo(f"Repaired, {repair}", err=True)
    if len(drawing.repairs) > _MOST_TOLD:
        typer.echo(f"… and {len(drawing.repairs) - _MOST_TOLD} more repairs.", err=True)
    for what in drawing.skipped:
        typer.echo(f"Left unread: {what}", err=True)


def _piece_in_words(piece: Piece) -> str:
    from nestplan.cli.wording import counted
    from nestplan.geometry.ring import bounds
    from nestplan.geometry.units import show_area, show_length

    left, low, right, high = bounds(piece.ring)
    holes = f", {counted(len(piece.holes), 'opening')}" if piece.holes else ""
    marks = f", {counted(len(piece.marks), 'mark')}" if piece.marks else ""
    size = f"{show_length(right - left)} × {show_length(high - low)}"
    return f"{piece.name}: {size}, {show_area(piece.net_area)}{holes}{marks}"


def _as_wanted(piece: Piece, overcut: str | None, wish: str | None, pairs: bool) -> Piece:
    import msgspec

    from nestplan.model import Overcut

    cuts = piece.cuts
    if overcut is not None or wish is not None:
        least = _mm(overcut) if overcut is not None else 0.0
        wanted = Overcut(least=least, wished=_mm(wish) if wish is not None else least)
        cuts = tuple(msgspec.structs.replace(cut, overcut=wanted) for cut in cuts)
    return msgspec.structs.replace(piece, cuts=cuts, pair=pairs)


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


def _stem(path: Path) -> str:
    return path.name.split(".")[0] or "drawing"
