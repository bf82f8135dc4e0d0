"""Sizes, lace and shopping on the command line: `fit …` and `supplies`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import typer

from nestplan.cli.option_values import length_of, length_unit
from nestplan.cli.terminal import say, say_json

if TYPE_CHECKING:
    from nestplan.estimate.leather_and_tools import LeatherNeed
    from nestplan.estimate.supplies import ArticleSupplies, CostPerSet, ShoppingList, Supply
    from nestplan.sheets.unit_formatting import LengthUnit, UnitFormatter

__all__ = ["register"]

_UNITS = typer.Option("mm", "--units", help="mm or in, for what is printed; bare numbers are mm.")

_MOST = 1_000
"""Joins, panels, holes and pairs that may be asked for, beyond any belt."""

_THICKEST = 1_000.0
"""mm of leather that a lace may pass, beyond any."""


def register(app: typer.Typer) -> None:
    """Add the group `fit` and the command `supplies`."""
    fit = typer.Typer(help="From a wearer's measures to panels, belts, lace and sizes.", no_args_is_help=True)
    app.add_typer(fit, name="fit")
    _add_waists(fit)
    _add_belts_and_lace(fit)
    _add_grading(fit)

    @app.command(short_help="The shopping list of a job: leather, supplies, tools, money.")
    def supplies(
        job: Path = typer.Argument(..., help="The job file (.job.json)."),
        plan: Path | None = typer.Option(
            None, "--plan", help="A plan of the job: adds what its leather costs, in all and for each set."
        ),
        as_json: bool = typer.Option(False, "--json", help="As JSON."),
    ) -> None:
        """What a job needs: leather, hardware, thread, glue, lace, tools by size, thickness, waiting times, money."""
        from nestplan.cli.plan_words import money_in_words
        from nestplan.tasks.job_needs import needs_of_job

        needs = needs_of_job(job, plan=plan)
        if as_json:
            say_json({"supplies": needs.supplies, "costs": needs.costs})
            return
        for line in _supplies_in_words(needs.supplies, length_unit(needs.job.units)):
            say(line)
        if needs.figures is not None:
            for line in money_in_words(needs.figures):
                say(line)
        for each in needs.costs:
            for line in _cost_in_words(each, needs.currency):
                say(line)


def _add_waists(fit: typer.Typer) -> None:
    @fit.command(short_help="Panel widths that close at a waist.")
    def panels(
        waist: str = typer.Argument(..., help="The waist: 34 in, 860 mm."),
        shares: str = typer.Option(
            "1,1,1,1", "--shares", help="Widths of the panels in proportion: 1,1,1,1."
        ),
        gap: str = typer.Option("0", "--gap", help="Gap between the edges at each join."),
        joins: int | None = typer.Option(
            None, "--joins", min=0, max=_MOST, help="Joins; as many as panels by default."
        ),
        units: str = _UNITS,
    ) -> None:
        """Panel widths that close at a waist: waist = sum of the panels + joins × gap."""
        from nestplan.estimate.fit import panel_widths

        widths = panel_widths(
            length_of(waist), _numbers(shares, "--shares"), length_of(gap), joins, units=length_unit(units)
        )
        say("panels: " + ", ".join(_show(width, units) for width in widths))

    @fit.command(name="range")
    def waist_range_of(
        panels: str = typer.Argument(..., help="Widths of the panels: 8 in,8 in,8 in,8 in."),
        widest: str = typer.Option(..., "--widest", help="Gap at each join at the widest opening."),
        closed: str = typer.Option("0", "--closed", help="Gap at each join when closed."),
        joins: int | None = typer.Option(
            None, "--joins", min=0, max=_MOST, help="Joins; as many as panels by default."
        ),
        units: str = _UNITS,
    ) -> None:
        """Waists that one laced belt fits."""
        from nestplan.estimate.fit import waist_range

        widths = [length_of(width) for width in panels.split(",")]
        least, most = waist_range(
            widths, length_of(closed), length_of(widest), joins, units=length_unit(units)
        )
        say(f"fits waists from {_show(least, units)} to {_show(most, units)}")

    @fit.command()
    def sizes(
        waists: str = typer.Argument(..., help="The wearers' waists: 28 in,31 in,36 in."),
        panels: int = typer.Option(..., "--panels", min=1, max=_MOST, help="Panels, and joins, of a belt."),
        widest: str = typer.Option(..., "--widest", help="Gap at each join at the widest opening."),
        closed: str = typer.Option("0", "--closed", help="Gap at each join when closed."),
        units: str = _UNITS,
    ) -> None:
        """The fewest belt sizes that fit all wearers."""
        from nestplan.estimate.fit import sizes_for

        measured = [length_of(waist) for waist in waists.split(",")]
        for number, size in enumerate(
            sizes_for(measured, panels, length_of(closed), length_of(widest), units=length_unit(units)),
            start=1,
        ):
            say(
                f"size {number}: panels {_show(size.panels, units)} together, fits {_show(size.least, units)} to "
                f"{_show(size.most, units)}: {len(size.wearers)} of {len(measured)} wearers"
            )


def _add_belts_and_lace(fit: typer.Typer) -> None:
    @fit.command()
    def belt(
        size: str = typer.Argument(..., help="The measure: 34 in, 900 mm."),
        sized_by: str = typer.Option(
            ..., "--by", help="What was measured: waist, trousers (their size), belt (fold to worn hole)."
        ),
        width: str = typer.Option(..., "--width", help="Width of the belt."),
        holes: int = typer.Option(5, "--holes", max=_MOST, help="Holes, an odd number."),
        pitch: str = typer.Option("25 mm", "--pitch", help="Between two holes."),
        fold: str = typer.Option("3 1/2 in", "--fold", help="Fold round the buckle."),
        tail: str | None = typer.Option(None, "--tail", help="Last hole to point; 2.5 widths by default."),
        units: str = _UNITS,
    ) -> None:
        """The blank of a plain belt: length, fold, holes."""
        from nestplan.estimate.fit import belt_blank

        blank = belt_blank(
            length_of(size),
            length_of(width),
            sized_by=sized_by,  # type: ignore[arg-type]
            holes=holes,
            pitch=length_of(pitch),
            fold=length_of(fold),
            tail=None if tail is None else length_of(tail),
            units=length_unit(units),
        )
        say(f"cut {_show(blank.length, units)} × {_show(blank.width, units)}")
        say(
            f"fold at {_show(blank.fold_at, units)} from the buckle end; belt size {_show(blank.worn, units)}"
        )
        say("holes at " + ", ".join(_show(hole, units) for hole in blank.holes) + " from the buckle end")

    @fit.command()
    def lace(
        *,
        pairs: int = typer.Option(..., "--pairs", max=_MOST, help="Pairs of holes of one join."),
        pitch: str = typer.Option(..., "--pitch", help="Between two holes along the edge."),
        gap: str = typer.Option(
            ..., "--gap", help="Between the edges at the widest opening the wearer uses."
        ),
        inset: str = typer.Option(..., "--inset", help="From the edge to the holes' centres."),
        tail: str = typer.Option("6 in", "--tail", help="Left to tie at each end."),
        path: str = typer.Option(
            "criss-cross", "--path", help="criss-cross, straight bar, ladder or spiral."
        ),
        crossing: str | None = typer.Option(None, "--crossing", hidden=True),
        thickness: str = typer.Option("0", "--thickness", help="Leather the lace passes at each hole."),
        rim: str | None = typer.Option(None, "--rim", help="Grommet's outer diameter, to check the spacing."),
        units: str = _UNITS,
    ) -> None:
        """Lace for one laced join, by the path it takes."""
        from nestplan.cli.plan_words import counted
        from nestplan.errors import InputError
        from nestplan.estimate.lacing import (
            RegularJoin,
            hole_columns,
            join_length,
            spacing_warnings,
            split_lace,
        )

        if crossing is not None:
            raise InputError("'--crossing' is called '--path' now.", place="--crossing", mend="Write --path.")
        join = RegularJoin(
            pairs,
            length_of(pitch),
            length_of(gap),
            length_of(inset),
            length_of(tail),
            path,
            _thickness(thickness),
            units=length_unit(units),
        )
        length = join_length(join)
        say(
            f"lace for one laced opening: {_show(length, units)}, tails included, "
            f"opened to {_show(join.widest_gap, units)}"
        )
        pieces = split_lace(length)
        if pieces.splices:
            say(
                f"worked in {counted(pieces.count, 'piece')} of {_show(pieces.each, units)}: "
                f"{counted(pieces.splices, 'splice')}"
            )
        if rim is not None:
            holes = hole_columns(pairs, join.pitch, join.reach)[0]
            for warning in spacing_warnings(holes, length_of(rim), units=length_unit(units)):
                say(f"look at it again: {warning}")

    @fit.command(name="edge")
    def edge_lace(
        distance: str = typer.Argument(..., help="Length of the edge that is laced."),
        stitch: str = typer.Option(
            "whip", "--stitch", help="running, buck, whip, single loop, double loop …"
        ),
        pitch: str | None = typer.Option(
            None, "--pitch", help="Between two holes: running and whip are then worked out from their way."
        ),
        inset: str = typer.Option("0", "--inset", help="From the edge to the holes' centres."),
        thickness: str = typer.Option("0", "--thickness", help="Leather the lace passes at each hole."),
        units: str = _UNITS,
    ) -> None:
        """Lace for a laced edge, and in how many pieces: by a rule of thumb, or with --pitch by the stitch's way."""
        from nestplan.cli.plan_words import counted
        from nestplan.estimate.lacing import edge_lacing_length, split_lace

        length = edge_lacing_length(
            length_of(distance),
            stitch,
            pitch=None if pitch is None else length_of(pitch),
            inset=length_of(inset),
            thickness=_thickness(thickness),
            units=length_unit(units),
        )
        pieces = split_lace(length)
        say(
            f"lace {_show(length, units)}: {counted(pieces.count, 'piece')} of {_show(pieces.each, units)}, "
            f"{counted(pieces.splices, 'splice')}, {_show(pieces.total, units)} to cut"
        )


def _add_grading(fit: typer.Typer) -> None:
    @fit.command(short_help="Make a piece larger or smaller; its seams are kept.")
    def grade(
        job: Path = typer.Argument(..., help="The job file with the piece."),
        piece: str = typer.Argument(..., help="The name of the piece."),
        free: list[str] = typer.Option(
            ..., "--free", help="Band that may stretch, from:to on the axis; may be repeated."
        ),
        change: str = typer.Option(..., "--change", help="Growth in all: 20 mm, -1/2 in."),
        axis: str = typer.Option("x", "--axis", help="x or y of the piece's drawing."),
        out: Path = typer.Option(..., "--out", help="Job file to write, with the graded piece in it."),
        replace: bool = typer.Option(False, "--replace", help="Write over a job file that is there."),
    ) -> None:
        """Make one piece larger or smaller between control lines; what lies outside them is kept exactly as it is.

        Edges bend at the lines, and an opening between them stretches. For whole articles in the sizes of their
        wearers, with straight edges kept straight and edges that meet kept equal, see 'nestplan sizes'. Bare numbers
        are in the job's unit.
        """
        from nestplan.cli.option_values import length_in, require_new_file
        from nestplan.errors import InputError
        from nestplan.estimate.grading import SizeChange
        from nestplan.model.files import read_job
        from nestplan.tasks.job_needs import grade_job_file

        if axis not in ("x", "y"):
            raise InputError(f"There is no axis '{axis}'.", place="--axis", mend="Take x or y.")
        require_new_file(out, replace)
        own = read_job(job).units
        bands = tuple(_band(each, own) for each in free)
        stretch = SizeChange(axis, bands, float(length_in(change, own)), own)  # type: ignore[arg-type]
        graded = grade_job_file(job, out, piece=piece, stretch=stretch)
        say(f"{piece} graded by {_show(stretch.change, graded.units)} along {axis}, written to {out}")


def _supplies_in_words(needs: ShoppingList, units: LengthUnit) -> list[str]:
    """The shopping list of all sets, what a set takes of it, and what to look at."""
    from nestplan.sheets.unit_formatting import UnitFormatter

    formatter = UnitFormatter(units)
    lines = ["Leather cut in all, before any waste ('nestplan buy' says how many hides to buy):"]
    lines += [f"  {_leather_in_words(each, formatter)}" for each in needs.leather]
    lines.append("Supplies for all sets:")
    lines += [f"  {_amount(each, formatter)}" for each in needs.totals] or ["  nothing"]
    if needs.cost:
        lines.append(f"  supplies and labour {needs.cost:.2f}")
    if needs.unpriced:
        lines.append(f"  without a price in the job, and so in no cost: {', '.join(needs.unpriced)}")
    lines.append("Tools for one bench:")
    lines += [f"  {each.number} × {each.tool}: {each.what_for}" for each in needs.tools] or ["  only a knife"]
    for article in needs.articles:
        lines += _article_in_words(article, formatter)
    glued: dict[str, list[str]] = {}
    for each in needs.stacks:
        if len(each.stack.layers) > 1:
            glued.setdefault(each.stack.in_words(units), []).append(each.piece)
    lines += [f"Glued together {words}: {', '.join(pieces)}" for words, pieces in glued.items()]
    lines += [f"Look at it again: {warning}" for warning in needs.warnings]
    lines += list(needs.waits)
    return lines


def _article_in_words(article: ArticleSupplies, formatter: UnitFormatter) -> list[str]:
    lines = [f"{article.article}, for one set ({article.sets} wanted):"]
    lines += [f"  {_amount(each, formatter)}" for each in article.per_set] or ["  nothing besides leather"]
    if article.seam:
        lines.append(f"  seam {formatter.long(article.seam)}")
    if article.glued:
        lines.append(f"  glued joint {formatter.area(article.glued)}")
    if article.cost:
        lines.append(f"  supplies and labour {article.cost:.2f}")
    return lines


def _leather_in_words(need: LeatherNeed, formatter: UnitFormatter) -> str:
    wanted = [*need.leather, *([formatter.thickness(*need.thickness)] if need.thickness else [])]
    of = f" of {', '.join(wanted)}" if wanted else ""
    finished = formatter.area(need.net)
    return f"{need.layer}: {formatter.area(need.cut)}{of} in cut shapes and strips ({finished} finished)"


def _amount(supply: Supply, formatter: UnitFormatter) -> str:
    number = formatter.amount(supply.amount, supply.unit)
    joined = f"{number} ×" if supply.unit == "each" else f"{number} of"
    cut = " (from the job's own leather)" if supply.cut else ""
    money = "" if supply.cost is None else f", {supply.cost:.2f}"
    return f"{joined} {supply.what}{cut}{money}"


def _cost_in_words(cost: CostPerSet, currency: str) -> list[str]:
    """What one set costs, with whole hides and with the leather used."""
    rest = f"supplies {cost.supplies:.2f}, labour {cost.labour:.2f}"
    lines = [f"{cost.article}, one set: {rest} {currency}".rstrip()]
    if cost.hides is not None:
        lines.append(
            f"  whole hides bought {cost.hides:.2f}, together {cost.with_hides:.2f} {currency}".rstrip()
        )
    if cost.leather is not None:
        lines.append(
            f"  leather used, its waste with it but not the offcuts to keep, {cost.leather:.2f}, together "
            f"{cost.with_leather:.2f} {currency}".rstrip()
        )
    return lines


def _thickness(text: str) -> float:
    from nestplan.errors import InputError
    from nestplan.geometry.units import read_thickness

    try:
        thickness = read_thickness(float(text))
    except ValueError:
        thickness = read_thickness(text)
    if thickness > _THICKEST:
        raise InputError(f"'{text[:40]}' is thicker than {_THICKEST:.0f} mm.", mend="Check its unit.")
    return thickness


def _band(text: str, units: LengthUnit) -> tuple[float, float]:
    from nestplan.cli.option_values import length_in
    from nestplan.errors import InputError

    parts = text.split(":")
    if len(parts) != 2:
        raise InputError(f"'{text}' is no band.", place="--free", mend="Give from:to, such as 40:160.")
    low, high = (float(length_in(part, units)) for part in parts)
    return low, high


def _numbers(text: str, place: str) -> list[float]:
    from nestplan.errors import InputError

    try:
        return [float(part) for part in text.replace(":", ",").split(",")]
    except ValueError:
        raise InputError(
            f"'{text}' is no list of numbers.", place=place, mend="Give such as 1,1,2."
        ) from None


def _show(mm: float, units: str) -> str:
    from nestplan.geometry.units import show_length

    return show_length(mm, length_unit(units))
