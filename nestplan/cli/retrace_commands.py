"""A hide found again on the day of cutting: `retrace`."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import typer

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
from nestplan.cli.terminal import say, say_repair
from nestplan.cli.trace_commands import tell_warnings

if TYPE_CHECKING:
    from nestplan.tasks.retracing import FoundHide, PlanAlong

__all__ = ["register"]

_MOST_TOLD = 12


def register(app: typer.Typer) -> None:
    """Add `retrace`."""
    app.command(short_help="Find a hide again in a photograph of today; its plan goes along.")(retrace)


def retrace(
    hide: Path = typer.Argument(..., help="The hide file it was taken in as."),
    photo: Path = typer.Argument(
        ..., help="A photo of the hide as it lies now (JPEG, PNG, TIFF, WebP, BMP)."
    ),
    *,
    out: Path = typer.Option(
        ..., "--out", help="The hide file to write (.hide.json): the hide as it lies now."
    ),
    plan: Path | None = typer.Option(None, "--plan", help="A plan on this hide, to take along (plan.json)."),
    out_plan: Path | None = typer.Option(None, "--out-plan", help="The plan file to write."),
    job: Path | None = typer.Option(None, "--job", help="The plan's job file, if it has moved."),
    reference: str | None = REFERENCE,
    corners: str | None = CORNERS,
    marks: bool = MARKS,
    two_points: str | None = TWO_POINTS,
    apart: str | None = APART,
    hide_at: list[str] | None = HIDE_AT,
    floor_at: list[str] | None = FLOOR_AT,
    picture: Path | None = typer.Option(
        None, "--picture", help="Write old and new outline, changes and plan over the photo (.png, .jpg)."
    ),
    accept: bool = typer.Option(False, "--accept", help="Write although something is warned of."),
    replace: bool = typer.Option(False, "--replace", help="Write over files that are there."),
) -> None:
    """Find a hide again in a photograph of today: how it lies, what has changed; its plan goes along, checked anew."""
    from nestplan.cli.option_values import require_new_file
    from nestplan.errors import InputError
    from nestplan.intake.photo.reading import read_photo
    from nestplan.model.files import read_hide
    from nestplan.tasks import retracing
    from nestplan.tasks.opening import open_plan
    from nestplan.tasks.tracing import require_accepted, require_another_file, trace_photo

    require_new_file(out, replace)
    if (plan is None) != (out_plan is None):
        raise InputError(
            "A plan is read and written.", place="--plan", mend="Give both --plan and --out-plan."
        )
    if out_plan is not None:
        require_new_file(out_plan, replace)
        retracing.require_old_hide_kept(hide, out)
    require_another_file(photo, picture)
    before = read_hide(hide)
    opened = None if plan is None else open_plan(plan, job=job, hides=[hide], on_repair=say_repair)
    shot = read_photo(photo)
    scale = scale_of(ScaleOptions(reference, corners, marks, two_points, apart), shot.name)
    traced = trace_photo(
        shot,
        scale,
        on_hide=[places_of(text, 1)[0] for text in hide_at or ()],
        on_floor=[places_of(text, 1)[0] for text in floor_at or ()],
    )
    tell_warnings(traced)
    found = retracing.find_hide_again(
        before, retracing.hide_now(traced, before, date=date.today().isoformat())
    )
    _tell_found(found)
    along = None
    if opened is not None:
        along = retracing.plan_along(opened.plan, opened.job, opened.hides, found)
    if picture is not None:
        placed = (
            [] if along is None else [each for each in along.plan.placements if each.hide == found.hide.name]
        )
        retracing.write_retrace_picture(picture, traced, found, before, placed)
        say(f"Written: {picture}")
    require_accepted(traced, accept)
    retracing.require_one_way(found, accept)
    retracing.write_hide_found(out, found)
    say(f"Written: {out}")
    if along is not None and plan is not None and out_plan is not None:
        retracing.write_plan_along(out_plan, along, plan_file=plan, hide_name=found.hide.name, hide_file=out)
        _tell_plan(along, out_plan)
        if along.faults:
            raise typer.Exit(3)


def _tell_found(found: FoundHide) -> None:
    from nestplan.geometry.units import show_area

    most, least = found.motion.stretch
    say(
        f"{found.hide.name} lies turned by {found.motion.turn:.1f} degrees; {found.same:.0%} of its edge is as it was, "
        f"to {found.residual:.1f} mm; stretched by {most - 1:+.1%} and {least - 1:+.1%}."
    )
    words = {"gone": "leather is gone", "more": "there is more leather", "opening": "a new opening"}
    for change in found.changes[:_MOST_TOLD]:
        x, y = change.ring.mean(axis=0)
        how = "across" if change.kind == "opening" else "deep"
        say(
            f"Changed: {words[change.kind]} near ({x:.0f}, {y:.0f}) mm, {show_area(change.area)}, "
            f"{change.deep:.0f} mm {how}."
        )
    if len(found.changes) > _MOST_TOLD:
        say(f"… and {len(found.changes) - _MOST_TOLD} smaller changes.")
    if not found.changes:
        say("Nothing else has changed.")


def _tell_plan(along: PlanAlong, out: Path) -> None:
    from nestplan.cli.plan_words import counted

    for touched in along.touched[:_MOST_TOLD]:
        placement = touched.placement
        words = "looks cut already" if touched.looks_cut else "lies where leather has changed"
        say(f"{placement.name} {placement.copy} ({placement.layer}) {words}.")
    for fault in along.faults[:_MOST_TOLD]:
        say(f"{out}: {fault}")
    if along.faults:
        say(
            f"Written: {out}. {counted(len(along.faults), 'fault')} on the hide as it lies now: lock what is right "
            "and plan the rest again."
        )
    else:
        say(f"Written: {out}. Right: the plan keeps every rule on the hide as it lies now.")
