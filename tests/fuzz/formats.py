"""The formats that are read: how each is mutated, how it is read, and what must hold of what was read.

A reader gives what it read, or raises an error that nestplan raises on purpose. What it read must also be fit to be
written and read again.
"""

from __future__ import annotations

import math
import os
import random
import shutil
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from nestplan.geometry import units
from nestplan.intake.drawings.layers import read_layer_table
from nestplan.intake.drawings.reader import layers_of, read_drawing
from nestplan.intake.drawings.to_model import hide_from_drawing, pieces_from_drawing
from nestplan.intake.photo.reading import read_photo
from nestplan.model import Article, Hide, Job, Plan
from nestplan.model.cut_journal import JOURNAL_NAME, MARK_NAME, read_journal, settle_rack
from nestplan.model.files import read_hide, read_job, read_plan, to_text, write_hide, write_job, write_plan
from nestplan.model.job_log import JOB_LOG_NAME, job_log_line, read_job_log, workshop_yields
from nestplan.model.rack_lock import LOCK_NAME, rack_lock
from nestplan.model.rules import zones_of
from nestplan.tasks.article_sizes import sizes_astray
from nestplan.tasks.hide_pictures import picture_file, read_picture
from nestplan.tasks.opening import open_files
from tests.fuzz.byte_mutations import damaged_bytes, disguised
from tests.fuzz.drawing_mutations import mutated_dxf, mutated_svg, mutated_table
from tests.fuzz.json_mutations import mutated_json, mutated_json_lines
from tests.fuzz.nasty_values import TEXTS
from tests.fuzz.picture_mutations import mutated_picture
from tests.fuzz.seeds import seeds_of
from tests.small_jobs import plain_hide

__all__ = ["FORMATS", "Format", "mutated"]


_DISGUISED = 0.06
"""Share of files that come in a dress that is not their format's."""


@dataclass(frozen=True)
class Format:
    """How a format is mutated and read; `read` is given the file and an empty folder of its own around it."""

    name: str
    ending: str
    mutate: Callable[[bytes, random.Random], bytes]
    read: Callable[[Path], object]
    share: int = 4
    """How many files of this format are tried, against the others."""


def mutated(form: Format, seed: int, number: int) -> bytes:
    """The `number`-th mutated file of a format; the same for the same seed on every machine."""
    chance = random.Random(f"{form.name} {seed} {number}")
    content = form.mutate(chance.choice(seeds_of(form.name)), chance)
    if chance.random() < _DISGUISED:
        content = disguised(content, chance.choice(seeds_of(chance.choice(list(FORMATS)))), chance)
    return content


def _again(path: Path, document: Hide | Job | Plan) -> None:
    """Raise AssertionError if what was read cannot be written and read again as the same."""
    read, write = {
        Hide: (read_hide, write_hide),
        Job: (read_job, write_job),
        Plan: (read_plan, write_plan),
    }[type(document)]
    copy = path.with_name("written-again.json")
    write(copy, document)  # type: ignore[operator]
    try:
        there = read(copy)
    except ValueError as error:
        raise AssertionError(f"what was read cannot be read again once written: {error}") from error
    assert to_text(there) == to_text(document), "what was written means something else"


def _hide(path: Path) -> None:
    hide = read_hide(path)
    _again(path, hide)
    assert hide.gross_area > 0.0
    # What every plan asks of a hide first.
    assert zones_of(hide)
    assert hide.backbone_angle is None or math.isfinite(hide.backbone_angle)


def _job(path: Path) -> None:
    job = read_job(path)
    _again(path, job)
    # What every plan and job sheet asks of a job first.
    for article in job.articles:
        job.worked_joins(article)
        job.worked_edges(article)
        for piece in article.pieces:
            assert piece.net_area > 0.0
            piece.warnings(job.units)
    for cut in job.cut_pieces[:50]:
        assert cut.net_area > 0.0
    assert all(strip.strip.length > 0.0 for strip in job.wanted_strips)
    sizes_astray(job)


def _plan(path: Path) -> None:
    _again(path, read_plan(path))


def _journal(path: Path) -> None:
    """A rack with a strange journal: read, put right, and nothing changed but the rack's own."""
    outside = path.parent / "outside.hide.json"
    write_hide(outside, plain_hide("outside"))
    before = outside.read_bytes()
    rack = path.parent / "rack"
    rack.mkdir()
    write_hide(rack / "barley.hide.json", plain_hide("barley"))
    shutil.copy(path, rack / JOURNAL_NAME)
    try:
        read_journal(rack)
        settle_rack(rack)
    finally:
        assert outside.read_bytes() == before, "a file outside the rack was changed"
        read_hide(rack / "barley.hide.json")


def _log(path: Path) -> None:
    shutil.copy(path, path.parent / JOB_LOG_NAME)
    jobs = read_job_log(path.parent / JOB_LOG_NAME)
    for job in jobs:
        job_log_line(job)
    workshop_yields(jobs)


def _recovery(path: Path) -> None:
    # The window reads it at its start; Qt is loaded only where this is asked for.
    from nestplan.desk.document.recovery import read_recovered

    found = read_recovered(path)
    assert found is None or found.words


def _lock(path: Path) -> None:
    lock = path.parent / LOCK_NAME
    shutil.copy(path, lock)
    # One of another machine that is fresh is waited for; nobody waits for one that is old.
    os.utime(lock, (time.time() - 7200.0,) * 2)
    with rack_lock(path.parent):
        pass


def _mark(path: Path) -> None:
    write_hide(path.parent / "barley.hide.json", plain_hide("barley"))
    shutil.copy(path, path.parent / MARK_NAME)
    settle_rack(path.parent)


def _drawing(path: Path) -> None:
    """As pieces and as a hide, strictly or with repairs, at times with a unit given."""
    content = path.read_bytes()
    choice = sum(content[-40:]) % 4
    if sum(content[-40:]) % 8 == 0:
        layers_of(path)
        return
    drawing = read_drawing(path, repair=choice in (1, 3), units="mm" if choice >= 2 else None)
    if choice % 2 and len(drawing.outlines) == 1:
        _again(path, hide_from_drawing(drawing, leather="cow side", name="drawn"))
    else:
        pieces = pieces_from_drawing(drawing, repair=choice == 2)
        _again(path, Job(name="drawn", articles=(Article(name="drawn", sets=1, pieces=pieces),)))


def _photograph(path: Path) -> None:
    image: Any = read_photo(path).image
    assert image.ndim == 3
    assert image.shape[2] == 3


def _label(path: Path) -> None:
    hide_file = path.with_name("a.hide.json")
    shutil.copy(path, picture_file(hide_file))
    read_picture(hide_file)


def _figure(path: Path) -> None:
    text = path.read_bytes().decode("utf-8", "replace")
    for read in (
        units.read_length,
        units.read_area,
        units.read_thickness,
        units.read_thickness_range,
        units.read_area_mark,
    ):
        try:
            read(text)
        except ValueError as error:
            if not isinstance(error, units.UnitError | units.InputError):
                raise


def _any(path: Path) -> None:
    open_files([path])


def _other_figure(content: bytes, chance: random.Random) -> bytes:
    if chance.random() < 0.3:
        text = "".join(
            chance.choice(("1", "/", " ", "-", ".", "in", "ft", "2", "oz", "½", "²", "e", "0"))
            for _ in range(9)
        )
        return text.encode()
    if chance.random() < 0.2:
        return chance.choice(TEXTS).encode("utf-8", "surrogatepass")
    return damaged_bytes(content, chance)


def _of_any_kind(content: bytes, chance: random.Random) -> bytes:
    return mutated_json(content, chance) if content.startswith(b"{") else damaged_bytes(content, chance)


def _named(*formats: Format) -> dict[str, Format]:
    return {form.name: form for form in formats}


FORMATS = _named(
    Format("hide", "spoilt.hide.json", mutated_json, _hide, 12),
    Format("job", "spoilt.job.json", mutated_json, _job, 12),
    Format("plan", "plan.json", mutated_json, _plan, 6),
    Format("journal", "journal.json", mutated_json, _journal, 4),
    Format("log", "spoilt.jsonl", mutated_json_lines, _log, 3),
    Format("recovery", "spoilt.work", mutated_json, _recovery, 3),
    Format("lock", "lock.json", mutated_json, _lock, 1),
    Format("mark", "mark", damaged_bytes, _mark, 1),
    Format("dxf", "spoilt.dxf", mutated_dxf, _drawing, 4),
    Format("svg", "spoilt.svg", mutated_svg, _drawing, 8),
    Format("csv", "spoilt.csv", mutated_table, _drawing, 8),
    Format("geojson", "spoilt.geojson", mutated_json, _drawing, 8),
    Format("layers", "layers.csv", mutated_table, read_layer_table, 2),
    Format("photograph", "spoilt.jpg", mutated_picture, _photograph, 6),
    Format("label", "label.jpg", mutated_picture, _label, 2),
    Format("figure", "figure.txt", _other_figure, _figure, 4),
    Format("any", "spoilt.json", _of_any_kind, _any, 3),
)
"""Every format that nestplan reads, by name."""
