"""A rack of two hides with a job and a plan on the first of them, as files in a folder."""

from __future__ import annotations

from pathlib import Path

import msgspec

from nestplan.geometry.pose import Pose
from nestplan.model import Piece, Source
from nestplan.model.files import content_hash, write_hide, write_job, write_plan
from tests.small_jobs import SQUARE, laid, one_piece_job, plain_hide, plan_of


def small_rack(folder: Path) -> Path:
    """Write `small.job.json`, `barley.hide.json`, `rye.hide.json` and `out/plan.json`, which lays two squares of
    100 × 100 mm on barley (1000 × 800 mm); the plan's path."""
    job = one_piece_job(Piece(name="square", outline=SQUARE), sets=2)
    barley, rye = plain_hide("barley"), plain_hide("rye")
    (folder / "out").mkdir(parents=True)
    write_job(folder / "small.job.json", job)
    for hide in (barley, rye):
        write_hide(folder / f"{hide.name}.hide.json", hide)
    piece = job.articles[0].pieces[0]
    placements = [
        laid(job, piece, Pose(0, 0), hide="barley"),
        laid(job, piece, Pose(120, 0), hide="barley", copy=2, set=2),
    ]
    sources = tuple(
        Source(name=hide.name, file=f"../{hide.name}.hide.json", hash=content_hash(hide))
        for hide in (barley, rye)
    )
    source = Source(name=job.name, file="../small.job.json", hash=content_hash(job))
    plan = msgspec.structs.replace(plan_of(job, [barley, rye], placements), job=source, hides=sources)
    write_plan(folder / "out" / "plan.json", plan)
    return folder / "out" / "plan.json"


def contents_of(folder: Path) -> dict[str, bytes]:
    """The files of a folder and those in it, but for hidden ones such as the journal, by their path from it."""
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file() and not path.name.startswith(".")
    }
