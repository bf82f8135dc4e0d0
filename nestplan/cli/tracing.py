"""Getting a hide in: `trace`, from a photograph or a drawing file, and `marks`, the sheets to lay round a hide.

Not here: how a photograph or a drawing is read (intake). What is found is told; flaws are written only when asked.
"""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import typer

if TYPE_CHECKING:
    from nestplan.intake.photo.flaws import FlawSuggestion
    from nestplan.intake.photo.outline import Outline
    from nestplan.intake.photo.reading import Photo
    from nestplan.intake.photo.rectification import RectifiedPhoto
    from nestplan.model import Hide

__all__ = ["register"]

_DRAWINGS = (".dxf", ".svg", ".csv", ".json", ".geojson")


def register(app: typer.Typer) -> None:
    """Add `trace` and `marks`."""

    @app.command(short_help="Make a hide file from a photograph or a drawing.")
    def trace(
        source: Path = typer.Argument(
            ..., help="A photo (JPEG, PNG, TIFF, WebP, BMP) or a drawing (DXF, SVG, CSV …)."
        ),
        out: Path = typer.Option(..., "--out", help="The hide file to write (.hide.json)."),
        reference: str | None = typer.Option(
            None,
            "--reference",
            help="The sheet or board beside the hide: A4, A3, letter, '600 x 400 mm', '24 x 16 in'.",
        ),
        corners: str | None = typer.Option(
            None, "--corners", help="Its four corners in pixels of the upright photo: 'x,y x,y x,y x,y'."
        ),
        marks: bool = typer.Option(False, "--marks", help="Printed marks (see `marks`) lie round the hide."),
        two_points: str | None = typer.Option(
            None,
            "--two-points",
            help="For a photo from straight above: two points in pixels, 'x,y x,y'; with --apart.",
        ),
        apart: str | None = typer.Option(
            None, "--apart", help="How far the two points are apart, such as 1.5 m."
        ),
        lens: bool = typer.Option(
            False, "--lens", help="Straighten the lens's bowing, read from the reference."
        ),
        hide_at: list[str] | None = typer.Option(
            None, "--hide-at", help="A pixel 'x,y' on the hide; repeat."
        ),
        floor_at: list[str] | None = typer.Option(
            None, "--floor-at", help="A pixel 'x,y' on the floor; repeat."
        ),
        tolerance: str | None = typer.Option(
            None, "--tolerance", help="How far the outline may stray, such as 3 mm."
        ),
        flaws: str = typer.Option(
            "none", "--flaws", help="Suggestions to take: none, all, or numbers '1,3,4'."
        ),
        picture: Path | None = typer.Option(
            None, "--picture", help="Write what was found over the photo (.png, .jpg)."
        ),
        name: str = typer.Option("", "--name", help="What the hide is called."),
        leather: str = typer.Option(
            "leather", "--leather", help="What its kind of leather is called in your jobs."
        ),
        thickness: str | None = typer.Option(None, "--thickness", help="Such as 3-4 oz or 1.2-1.6 mm."),
        area: str | None = typer.Option(
            None, "--area", help="The seller's area: 22 3/4, 22.75 ft2, 210 dm2."
        ),
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
        repair: bool = typer.Option(
            False, "--repair", help="Make larger repairs to a drawing too, and list them."
        ),
        replace: bool = typer.Option(False, "--replace", help="Write over a hide file that is there."),
    ) -> None:
        """Make a hide file from a photograph with a reference of known size in it, or from a drawing."""
        import msgspec

        from nestplan.cli.arguments import refuse_existing
        from nestplan.cli.asking import area_of_mark
        from nestplan.geometry.units import read_thickness_range
        from nestplan.model.files import write_hide

        refuse_existing(out, replace)
        _spare_photo(source, picture)
        called = name or out.name.split(".")[0] or source.stem
        if source.suffix.lower() in _DRAWINGS:
            hide = _from_drawing(source, called, leather, units, layers, repair)
        else:
            photo, straight, outline = _read(
                source,
                reference,
                corners,
                marks,
                two_points,
                apart,
                lens,
                hide_at or (),
                floor_at or (),
                tolerance,
            )
            hide = _from_photo(photo, straight, outline, called, leather, flaws, picture)
        extra: dict[str, object] = {}
        if thickness:
            extra["thickness"] = read_thickness_range(thickness)
        if area:
            extra["stated_area"] = area_of_mark(area, area_reads)
        if price is not None:
            extra.update(price=price, currency=currency)
        hide = msgspec.structs.replace(hide, **extra) if extra else hide
        write_hide(out, hide)
        _tell_hide(hide)
        typer.echo(f"Written: {out}")

    @app.command(short_help="Make marks to lay round a hide before photographing it.")
    def marks(
        out: Path = typer.Option(..., "--out", help="The PDF to write (.pdf)."),
        paper: str = typer.Option("A4", "--paper", help="A4 or letter."),
        replace: bool = typer.Option(False, "--replace", help="Write over a file that is there."),
    ) -> None:
        """Print four marks to lay round a hide before it is photographed; give `trace` the option --marks then."""
        from nestplan.cli.arguments import refuse_existing
        from nestplan.intake.photo.markers import MARKERS_WANTED, marker_rings
        from nestplan.sheets.photo_sheet import write_photo_marks

        refuse_existing(out, replace, endings=(".pdf",))
        write_photo_marks(out, marker_rings(), count=MARKERS_WANTED, paper=paper)
        typer.echo(
            f"Written: {out}. Print at 100 %, check the rule on each sheet, lay them flat round the hide."
        )


def _spare_photo(source: Path, picture: Path | None) -> None:
    """Refuse to write what was found over the photograph itself."""
    from nestplan.errors import InputError

    if picture is not None and source.exists() and picture.exists() and picture.samefile(source):
        raise InputError(
            "This is the photograph itself.",
            file=str(picture),
            place="--picture",
            mend="Choose another name.",
        )


def _from_drawing(
    source: Path, name: str, leather: str, units: str | None, layers: Path | None, repair: bool
) -> Hide:
    from nestplan.cli.drawing import tell_drawing
    from nestplan.errors import NestplanError
    from nestplan.intake.drawings.layers import read_layer_table
    from nestplan.intake.drawings.reader import read_drawing
    from nestplan.intake.drawings.to_model import hide_from_drawing

    table = read_layer_table(layers) if layers else None
    drawing = read_drawing(source, units=units, layers=table, repair=repair)
    tell_drawing(drawing)
    try:
        return hide_from_drawing(drawing, leather=leather, name=name)
    except NestplanError as error:
        raise error.within(file=str(source)) from error.__cause__


def _read(
    source: Path,
    reference: str | None,
    corners: str | None,
    marks: bool,
    two_points: str | None,
    apart: str | None,
    lens: bool,
    hide_at: list[str] | tuple[str, ...],
    floor_at: list[str] | tuple[str, ...],
    tolerance: str | None,
) -> tuple[Photo, RectifiedPhoto, Outline]:
    """The photo, the floor at true scale by whichever reference was given, and the outline on it."""
    from nestplan.geometry.units import read_length
    from nestplan.intake.photo.outline import find_outline
    from nestplan.intake.photo.reading import read_photo

    photo = read_photo(source)
    straight = _straightened(photo, reference, corners, marks, two_points, apart, lens)
    dabs = [
        [tuple(map(float, point)) for point in straight.floor_points([_points(text, 1)[0] for text in texts])]
        if texts
        else []
        for texts in (_scaled(hide_at, photo), _scaled(floor_at, photo))
    ]
    outline = find_outline(
        straight,
        hide_seeds=[(x, y) for x, y in dabs[0]],
        floor_seeds=[(x, y) for x, y in dabs[1]],
        tolerance=None if tolerance is None else read_length(tolerance),
    )
    return photo, straight, outline


def _straightened(
    photo: Photo,
    reference: str | None,
    corners: str | None,
    marks: bool,
    two_points: str | None,
    apart: str | None,
    lens: bool,
) -> RectifiedPhoto:
    from nestplan.errors import InputError
    from nestplan.geometry.units import read_length
    from nestplan.intake.photo.rectification import corners_from_two_points, rectify
    from nestplan.intake.photo.reference import corners_from_clicks, estimate_distortion, find_reference

    if marks:
        from nestplan.intake.photo.markers import rectify_by_markers

        return rectify_by_markers(photo)
    if two_points is not None:
        if apart is None:
            raise InputError("Two points need their distance.", mend="Add --apart, such as --apart '1.5 m'.")
        start, end = (_shrunk(point, photo) for point in _points(two_points, 2))
        return rectify(photo, corners_from_two_points(start, end, read_length(apart), photo), upright=True)
    if reference is None:
        raise InputError(
            "The photo's scale is not known.",
            mend="Say what lies beside the hide with --reference (A4, A3, letter, '600 x 400 mm'), "
            "or use --marks, or --two-points with --apart.",
            file=photo.name,
        )
    size = _size_of(reference)
    if corners is None:
        seated = find_reference(photo, size)
    else:
        seated = corners_from_clicks(photo, [_shrunk(point, photo) for point in _points(corners, 4)], size)
    return rectify(photo, seated, lens=estimate_distortion(photo, seated) if lens else None)


def _from_photo(
    photo: Photo,
    straight: RectifiedPhoto,
    outline: Outline,
    name: str,
    leather: str,
    flaws: str,
    picture: Path | None,
) -> Hide:
    from nestplan.intake.photo.flaws import suggest_flaws
    from nestplan.intake.photo.preview import write_trace_picture
    from nestplan.intake.photo.to_model import hide_from_photo

    found = suggest_flaws(straight, outline)
    taken = _chosen(flaws, found)
    shift = outline.exterior.min(axis=0)
    for number, flaw in enumerate(found, start=1):
        x, y = flaw.ring.mean(axis=0) - shift
        kept = "taken" if flaw in taken or flaw.appearance == "hole" else "not taken"
        typer.echo(
            f"Suggestion {number}: {flaw.appearance}, {flaw.size:.0f} mm, at ({x:.0f}, {y:.0f}) mm, "
            f"strength {flaw.strength:.2f}: {kept}"
        )
    if found and not taken and any(flaw.appearance != "hole" for flaw in found):
        typer.echo("Look at them (--picture) and take the true ones with --flaws all or --flaws 1,3.")
    if outline.border_share > 0.02:
        typer.echo(
            f"{outline.border_share:.0%} of the outline runs along the picture's border: there the hide goes on.",
            err=True,
        )
    if picture is not None:
        write_trace_picture(picture, straight, outline, found)
        typer.echo(f"Written: {picture}")
    return hide_from_photo(
        straight,
        outline,
        name=name,
        leather=leather,
        flaws=taken,
        date=date.today().isoformat(),
        file=photo.name,
    )


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
    from nestplan.cli.wording import counted
    from nestplan.geometry.ring import bounds
    from nestplan.geometry.units import show_area, show_length

    left, low, right, high = bounds(hide.ring)
    through = sum(flaw.spoils == "through" for flaw in hide.flaws)
    typer.echo(
        f"{hide.name}: {show_length(right - left)} × {show_length(high - low)}, "
        f"{show_area(hide.gross_area)} ({show_area(hide.gross_area, 'ft2')}), "
        f"{counted(through, 'opening')}, {counted(len(hide.flaws) - through, 'other flaw')}"
    )
    origin = hide.origin
    if origin is not None and origin.scale_error is not None:
        typer.echo(
            f"Lengths are good to about {origin.scale_error:.1%}; "
            f"the outline lies at most about {origin.tolerance or 0:.1f} mm outside the true edge."
        )


def _size_of(text: str) -> tuple[float, float]:
    """Width and height in mm of a reference: a paper's name, or two lengths with an x between them."""
    from nestplan.errors import InputError
    from nestplan.geometry.units import read_length
    from nestplan.intake.photo.reference import PAPER_SIZES

    for name, size in PAPER_SIZES.items():
        if text.strip().lower() == name.lower():
            return size
    parts = re.split(r"\s*[x×*]\s*", text.strip().lower())
    if len(parts) == 2:
        unit = re.search(r"[a-z\"']+\s*$", parts[1])
        if unit and re.fullmatch(r"[\d\s./]+", parts[0]):
            parts[0] += " " + unit.group()
        return read_length(_number(parts[0])), read_length(_number(parts[1]))
    raise InputError(
        f"The reference '{text}' is not known.",
        mend=f"Say one of {', '.join(PAPER_SIZES)}, or its sides such as '600 x 400 mm' or '24 x 16 in'.",
        place="--reference",
    )


def _number(text: str) -> float | str:
    try:
        return float(text)
    except ValueError:
        return text


def _points(text: str, count: int) -> list[tuple[float, float]]:
    from nestplan.errors import InputError

    numbers = re.findall(r"-?\d+(?:\.\d+)?", text)
    if len(numbers) != 2 * count:
        raise InputError(
            f"'{text}' is not {count} point{'s' * (count != 1)}.",
            mend="Write each as x,y in pixels, from the upper left: " + " ".join(["812,344"] * count),
        )
    values = [float(number) for number in numbers]
    return list(zip(values[0::2], values[1::2], strict=True))


def _shrunk(point: tuple[float, float], photo: Photo) -> tuple[float, float]:
    return point[0] / photo.reduction, point[1] / photo.reduction


def _scaled(texts: list[str] | tuple[str, ...], photo: Photo) -> list[str]:
    return ["{},{}".format(*_shrunk(_points(text, 1)[0], photo)) for text in texts]
