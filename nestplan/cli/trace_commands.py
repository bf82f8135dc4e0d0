"""Getting a hide in: `trace`, from a photograph or a drawing file, and `marks`, the sheets to lay round a hide.

What is found is told; flaws are written only when asked.
"""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from nestplan.cli.option_words import with_options
from nestplan.cli.photo_options import (
    APART,
    CORNERS,
    FLOOR_AT,
    HIDE_AT,
    MARKS,
    REFERENCE,
    TWO_POINTS,
    ScaleOptions,
    places_of,
    scale_of,
)
from nestplan.cli.terminal import say

if TYPE_CHECKING:
    from nestplan.intake.photo.flaws import FlawSuggestion
    from nestplan.model import Hide
    from nestplan.tasks.importing import DrawingOptions
    from nestplan.tasks.tracing import TracedPhoto

__all__ = ["register", "tell_warnings"]

_MOST_PLACES = 6


def register(app: typer.Typer) -> None:
    """Add `trace` and `marks`."""
    app.command(short_help="Make a hide file from a photograph or a drawing.")(trace)
    app.command(short_help="Make marks to lay round a hide before photographing it.")(marks)


def trace(
    source: Path = typer.Argument(
        ..., help="A photo (JPEG, PNG, TIFF, WebP, BMP) or a drawing (DXF, SVG, CSV …)."
    ),
    *,
    out: Path = typer.Option(..., "--out", help="The hide file to write (.hide.json)."),
    reference: str | None = REFERENCE,
    corners: str | None = CORNERS,
    marks: bool = MARKS,
    two_points: str | None = TWO_POINTS,
    apart: str | None = APART,
    lens: bool = typer.Option(
        False, "--lens", help="Not needed any more: the lens is straightened wherever the picture shows how."
    ),
    accept: bool = typer.Option(False, "--accept", help="Write the hide although its outline is warned of."),
    hide_at: list[str] | None = HIDE_AT,
    floor_at: list[str] | None = FLOOR_AT,
    tolerance: str | None = typer.Option(
        None, "--tolerance", help="How far the outline may stray, such as 3 mm."
    ),
    flaws: str = typer.Option("none", "--flaws", help="Suggestions to take: none, all, or numbers '1,3,4'."),
    picture: Path | None = typer.Option(
        None, "--picture", help="Write what was found over the photo (.png, .jpg)."
    ),
    name: str = typer.Option("", "--name", help="What the hide is called."),
    leather: str = typer.Option(
        "leather", "--leather", help="What its kind of leather is called in your jobs."
    ),
    thickness: str | None = typer.Option(None, "--thickness", help="Such as 3-4 oz or 1.2-1.6 mm."),
    area: str | None = typer.Option(None, "--area", help="The seller's area: 22 3/4, 22.75 ft2, 210 dm2."),
    area_reads: str | None = typer.Option(
        None, "--area-reads", help="tenths or quarters, for a mark such as 22.3."
    ),
    price: float | None = typer.Option(None, "--price", min=0.0, help="For the whole piece."),
    currency: str = typer.Option("", "--currency", help="Of the price."),
    units: str | None = typer.Option(
        None, "--units", help="A drawing's unit, if it does not say: mm, cm, in …"
    ),
    layers: Path | None = typer.Option(
        None, "--layers", help="A drawing's layers as a table (CSV); see `layers`."
    ),
    ignore_layer: list[str] | None = typer.Option(
        None,
        "--ignore-layer",
        help="A drawing's layer to leave out; '(frame)' for rectangles round all else; repeat.",
    ),
    join: str = typer.Option("0.1 mm", "--join", help="Ends in a drawing up to this far apart are joined."),
    repair: bool = typer.Option(
        False, "--repair", help="Make larger repairs to a drawing too, and list them."
    ),
    replace: bool = typer.Option(False, "--replace", help="Write over a hide file that is there."),
) -> None:
    """Make a hide file from a photograph with a reference of known size in it, or from a drawing.

    A CSV file of points has the columns x and y, and a third with the name of the ring where there are several (the
    outline, then its holes); a head such as x_mm,y_mm or x_in,y_in says the unit.
    """
    from nestplan.cli.option_values import area_of_mark, require_new_file
    from nestplan.geometry.units import read_length, read_thickness_range
    from nestplan.tasks.importing import DrawingOptions, write_traced_hide
    from nestplan.tasks.tracing import require_accepted, require_another_file

    require_new_file(out, replace)
    require_another_file(source, picture)
    called = name or out.name.split(".")[0] or source.stem
    if source.suffix.lower() in _drawing_suffixes():
        options = DrawingOptions(
            units=units,
            layers=layers,
            ignored=tuple(ignore_layer or ()),
            join=read_length(join),
            repair=repair,
        )
        hide = _from_drawing(source, called, leather, options)
    else:
        traced = _traced(
            source,
            ScaleOptions(reference, corners, marks, two_points, apart),
            hide_at or [],
            floor_at or [],
            tolerance,
        )
        hide = _from_photo(traced, called, leather, flaws, picture)
        require_accepted(traced, accept)
    hide = write_traced_hide(
        out,
        hide,
        thickness=read_thickness_range(thickness) if thickness else None,
        stated_area=area_of_mark(area, area_reads) if area else None,
        price=price,
        currency=currency,
    )
    _tell_hide(hide)
    say(f"Written: {out}")


def marks(
    *,
    out: Path = typer.Option(..., "--out", help="The PDF to write (.pdf)."),
    paper: str = typer.Option("A4", "--paper", help="A4 or letter."),
    replace: bool = typer.Option(False, "--replace", help="Write over a file that is there."),
) -> None:
    """Print four marks to lay round a hide before it is photographed; give `trace` the option --marks then."""
    from nestplan.cli.option_values import require_new_file
    from nestplan.tasks.tracing import write_photo_marks

    require_new_file(out, replace, endings=(".pdf",))
    write_photo_marks(out, paper=paper)
    say(f"Written: {out}. Print at 100 %, check the rule on each sheet, lay them flat round the hide.")


def _drawing_suffixes() -> tuple[str, ...]:
    from nestplan.tasks.opening import DRAWING_SUFFIXES

    return (*DRAWING_SUFFIXES, ".json")


def _from_drawing(source: Path, name: str, leather: str, options: DrawingOptions) -> Hide:
    from nestplan.cli.drawing_commands import tell_drawing
    from nestplan.tasks.importing import hide_from_file, read_drawing_file

    drawing = read_drawing_file(source, options)
    tell_drawing(drawing)
    return hide_from_file(drawing, source, name=name, leather=leather).hide


def _traced(
    source: Path, scale: ScaleOptions, hide_at: list[str], floor_at: list[str], tolerance: str | None
) -> TracedPhoto:
    """The outline in the photograph, at true scale by whichever reference was given."""
    from nestplan.geometry.units import read_length
    from nestplan.intake.photo.reading import read_photo
    from nestplan.tasks.tracing import trace_photo

    photo = read_photo(source)
    return trace_photo(
        photo,
        scale_of(scale, photo.name),
        on_hide=[places_of(text, 1)[0] for text in hide_at],
        on_floor=[places_of(text, 1)[0] for text in floor_at],
        tolerance=None if tolerance is None else read_length(tolerance),
    )


def _from_photo(traced: TracedPhoto, name: str, leather: str, flaws: str, picture: Path | None) -> Hide:
    from nestplan.tasks.tracing import PATTERN_WORDS, hide_of_photo, suggested_flaws, write_trace_picture

    outline = traced.outline
    suggested = suggested_flaws(traced)
    found = suggested.places
    taken = _chosen(flaws, found)
    shift = outline.exterior.min(axis=0)
    for number, flaw in enumerate(found, start=1):
        x, y = flaw.ring.mean(axis=0) - shift
        kept = "taken" if flaw in taken or flaw.appearance == "hole" else "not taken"
        say(
            f"Suggestion {number}: {flaw.appearance}, {flaw.size:.0f} mm, at ({x:.0f}, {y:.0f}) mm, "
            f"strength {flaw.strength:.2f}: {kept}"
        )
    if found and not taken and any(flaw.appearance != "hole" for flaw in found):
        say("Look at them (--picture) and take the true ones with --flaws all or --flaws 1,3.")
    if suggested.patterned:
        say(PATTERN_WORDS)
    tell_warnings(traced)
    if picture is not None:
        write_trace_picture(picture, traced, found)
        say(f"Written: {picture}")
    return hide_of_photo(
        traced,
        name=name,
        leather=leather,
        flaws=taken,
        date=date.today().isoformat(),
        file=traced.photo.name,
    )


def tell_warnings(traced: TracedPhoto) -> None:
    """What may be wrong with the outline, where in the photo, and what mends it."""
    from nestplan.tasks.tracing import place_in_photo

    for warning in traced.outline.warnings:
        places = [place_in_photo(traced, ring) for ring in warning.places[:_MOST_PLACES]]
        where = " ".join(f"{x:.0f},{y:.0f}" for x, y in places)
        say(f"May be wrong: {warning.what}" + (f" At pixel {where}." if where else ""), err=True)
        say(f"  {with_options(warning.mend)}", err=True)


def _chosen(flaws: str, found: tuple[FlawSuggestion, ...]) -> list[FlawSuggestion]:
    from nestplan.errors import InputError

    if flaws.strip().lower() in ("", "none"):
        return []
    if flaws.strip().lower() == "all":
        return list(found)
    try:
        numbers = [int(text) for text in re.split(r"[,\s]+", flaws.strip())]
        if min(numbers) < 1:
            raise IndexError
        return [found[number - 1] for number in numbers]
    except (ValueError, IndexError):
        raise InputError(
            f"'{flaws}' does not pick among {len(found)} suggestions.",
            mend="Say none, all, or their numbers: 1,3,4.",
            place="--flaws",
        ) from None


def _tell_hide(hide: Hide) -> None:
    from nestplan.cli.plan_words import counted
    from nestplan.geometry.ring import bounds
    from nestplan.geometry.units import show_area, show_length

    left, low, right, high = bounds(hide.ring)
    through = sum(flaw.kind.goes_through for flaw in hide.flaws)
    openings = through + len(hide.holes)
    say(
        f"{hide.name}: {show_length(right - left)} × {show_length(high - low)}, "
        f"{show_area(hide.gross_area)} ({show_area(hide.gross_area, 'ft2')}), "
        f"{counted(openings, 'opening')}, {counted(len(hide.flaws) - through, 'other flaw')}"
    )
    origin = hide.origin
    if origin is not None and origin.scale_error is not None:
        say(
            f"Lengths are good to about {origin.scale_error:.1%}; "
            f"the outline lies at most about {origin.tolerance or 0:.1f} mm outside the true edge."
        )
