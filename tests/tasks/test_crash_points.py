"""A rack whose process is stopped anywhere: no leather lost or doubled, every file whole, every cut done or undone."""

from __future__ import annotations

import errno
import functools
import os
import shutil
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace

import msgspec
import pytest
from PIL import Image

from nestplan.cli.app import build_app
from nestplan.errors import InputError
from nestplan.estimate.compare import HideAnswer, compare
from nestplan.estimate.grading import SizeChange
from nestplan.estimate.planner import EnginePlanner
from nestplan.geometry.pose import Pose
from nestplan.geometry.units import MM2_PER_FT2
from nestplan.model import Article, Hide, Job, Piece, Source
from nestplan.model.cut_journal import JOURNAL_NAME, MARK_NAME
from nestplan.model.files import content_hash, read_hide, read_job, read_plan, write_job, write_plan
from nestplan.model.rack_lock import LOCK_NAME, rack_lock
from nestplan.model.sizes import Growth, Measure, Size, Sizes
from nestplan.tasks import cutting
from nestplan.tasks.article_sizes import SizesWish, write_sizes
from nestplan.tasks.contents import Contents, HidePhoto
from nestplan.tasks.cutting import cut_plan, find_cut, take_back_cut
from nestplan.tasks.estimating import write_comparison
from nestplan.tasks.exporting import left_from_before, write_picture, write_sheet_folder
from nestplan.tasks.hide_pictures import keep_picture
from nestplan.tasks.importing import (
    DrawingOptions,
    PieceWishes,
    import_pieces,
    measure_hide,
    write_layer_table,
    write_traced_hide,
)
from nestplan.tasks.job_needs import grade_job_file
from nestplan.tasks.laced_work import put_laced, put_row
from nestplan.tasks.opening import open_files, open_plan
from nestplan.tasks.planning import PLAN_FILES, copy_demo, write_plan_folder
from nestplan.tasks.rack import keep_marked_area, list_rack
from nestplan.tasks.retracing import PlanAlong, write_hide_found, write_plan_along
from nestplan.tasks.saving import save_contents
from nestplan.tasks.templates import job_of_templates
from nestplan.tasks.tracing import write_photo_marks
from tests.small_jobs import laced_job, laid, one_piece_job, plain_hide, plan_of
from tests.tasks.rack_invariant import (
    every_file_is_whole,
    leather_is_counted_once,
    nothing_is_left_behind,
    plan_rye,
)
from tests.tasks.random_kills import kill_at_random
from tests.tasks.small_rack import contents_of, small_rack
from tests.tasks.stop_points import Fault, Outcome, run_with_fault, stop_points

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="processes cannot be forked here")


@pytest.fixture(scope="module")
def racks(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the rack as it is before a cut (`whole`), after it (`cut`), and one whose first hide lies in
    another folder than the journal (`apart`); each with a second plan, for rye (`out/rye.json`)."""
    home = tmp_path_factory.mktemp("racks")
    small_rack(home / "whole")
    plan_rye(home / "whole")
    shutil.copytree(home / "whole", home / "cut")
    cut_plan(find_cut(home / "cut" / "out" / "plan.json"))
    shutil.copytree(home / "whole", home / "apart")
    (home / "apart" / "away").mkdir()
    (home / "apart" / "barley.hide.json").rename(home / "apart" / "away" / "barley.hide.json")
    return home


def fresh(base: Path, tmp_path: Path) -> Path:
    """A copy of a rack, in place of the last one."""
    copy = tmp_path / "rack"
    shutil.rmtree(copy, ignore_errors=True)
    shutil.copytree(base, copy)
    return copy


def finish_cut(plan: Path, rack: Path | None = None, hides: tuple[Path, ...] = ()) -> None:
    """Cut the plan, unless it is cut."""
    files = find_cut(plan, rack=rack, hides=hides)
    if not any(read_hide(files.hide_files[placed.hide]).used for placed in files.plan.placements):
        cut_plan(files)


@pytest.mark.parametrize(("kind", "least"), [("stop", 30), ("half", 6)])
def test_a_cut_stopped_anywhere_is_whole_or_not_begun(
    racks: Path, tmp_path: Path, kind: str, least: int
) -> None:
    before = contents_of(racks / "whole")
    points = 0

    def work(fault: Fault) -> Outcome:
        folder = fresh(racks / "whole", tmp_path)
        return run_with_fault(lambda: cut_plan(find_cut(folder / "out" / "plan.json")), fault)

    for fault in stop_points(work, kind):  # type: ignore[arg-type]
        points += 1
        folder = tmp_path / "rack"
        every_file_is_whole(folder)
        follow_up = fault.number % 3
        if follow_up == 0:
            leather_is_counted_once(folder)
            if not read_hide(folder / "barley.hide.json").used:
                assert contents_of(folder) == before
        elif follow_up == 1:
            finish_cut(folder / "out" / "plan.json")
            assert read_hide(folder / "barley.hide.json").used
            nothing_is_left_behind(folder)
        else:
            finish_cut(folder / "out" / "rye.json")
            nothing_is_left_behind(folder)
        leather_is_counted_once(folder)
    assert points >= least


def test_an_undo_stopped_anywhere_is_finished_or_not_begun(racks: Path, tmp_path: Path) -> None:
    before = contents_of(racks / "whole")
    points = 0

    def work(fault: Fault) -> Outcome:
        files = find_cut(fresh(racks / "cut", tmp_path) / "out" / "plan.json")
        return run_with_fault(lambda: take_back_cut(files.rack, files.cut_id), fault)

    for fault in stop_points(work, "stop"):
        points += 1
        folder = tmp_path / "rack"
        every_file_is_whole(folder)
        if fault.number % 2:
            leather_is_counted_once(folder)
        files = find_cut(folder / "out" / "plan.json")
        if read_hide(folder / "barley.hide.json").used:
            take_back_cut(files.rack, files.cut_id)
        assert contents_of(folder) == before
        leather_is_counted_once(folder)
        finish_cut(folder / "out" / "plan.json")
        nothing_is_left_behind(folder)
    assert points > 20


def test_an_offcut_cut_after_a_cut_that_broke_off_does_not_stand_on_two_racks(
    racks: Path, tmp_path: Path
) -> None:
    """The journal's last word is missing: the hide is whole again, so an offcut of it can no longer be cut."""
    folder = fresh(racks / "cut", tmp_path)
    journal = folder / JOURNAL_NAME
    journal.write_text(journal.read_text().replace('"done"', '"begun"'))
    offcut = read_hide(folder / "barley-offcut-1.hide.json")
    job = read_job(folder / "small.job.json")
    place = laid(job, job.articles[0].pieces[0], Pose(300, 300), hide=offcut.name)
    sources = (Source(name=offcut.name, file="../barley-offcut-1.hide.json", hash=content_hash(offcut)),)
    job_source = Source(name=job.name, file="../small.job.json", hash=content_hash(job))
    plan = msgspec.structs.replace(plan_of(job, [offcut], [place]), hides=sources, job=job_source)
    write_plan(folder / "out" / "offcut.json", plan)
    with pytest.raises(InputError):
        cut_plan(find_cut(folder / "out" / "offcut.json"))
    leather_is_counted_once(folder)
    assert not read_hide(folder / "barley.hide.json").used


def test_a_cut_over_two_folders_stopped_anywhere_is_put_right_from_either(
    racks: Path, tmp_path: Path
) -> None:
    before = contents_of(racks / "apart")
    points = 0

    def cut(folder: Path) -> None:
        away = folder / "away" / "barley.hide.json"
        cut_plan(find_cut(folder / "out" / "plan.json", hides=[away], rack=folder / "out"))

    def work(fault: Fault) -> Outcome:
        folder = fresh(racks / "apart", tmp_path)
        return run_with_fault(lambda: cut(folder), fault)

    for fault in stop_points(work, "stop"):
        points += 1
        folder = tmp_path / "rack"
        every_file_is_whole(folder)
        # From the folder of the hide alone, from that of the journal alone.
        list_rack(folder / "away" if fault.number % 2 else folder / "out")
        if not read_hide(folder / "away" / "barley.hide.json").used:
            assert contents_of(folder) == before
        leather_is_counted_once(folder)
        finish_cut(folder / "out" / "plan.json", folder / "out", (folder / "away" / "barley.hide.json",))
        assert read_hide(folder / "away" / "barley.hide.json").used
        nothing_is_left_behind(folder)
    assert points > 30


@pytest.mark.parametrize(
    ("number", "lasting", "step"),
    [(errno.ENOSPC, True, 1), (errno.EACCES, False, 1), (errno.EIO, False, 3), (errno.EINTR, False, 3)],
)
def test_a_cut_whose_disk_fails_anywhere_says_so_and_leaves_the_rack_right(
    racks: Path, tmp_path: Path, number: int, lasting: bool, step: int
) -> None:
    refused = 0
    for place in range(1, 40, step):
        folder = fresh(racks / "whole", tmp_path)
        plan = folder / "out" / "plan.json"
        ended = run_with_fault(lambda plan=plan: cut_plan(find_cut(plan)), Fault(place, number, lasting))  # type: ignore[misc]
        assert ended != "stopped"
        refused += ended == "refused"
        every_file_is_whole(folder)
        leather_is_counted_once(folder)
        if ended == "done":
            assert read_hide(folder / "barley.hide.json").used
        finish_cut(plan)
        leather_is_counted_once(folder)
        nothing_is_left_behind(folder)
    assert refused > 20 // step


@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EACCES])
def test_an_undo_whose_disk_fails_anywhere_says_so_and_leaves_the_rack_right(
    racks: Path, tmp_path: Path, number: int
) -> None:
    before = contents_of(racks / "whole")
    refused = 0
    for place in range(1, 45):
        folder = fresh(racks / "cut", tmp_path)
        files = find_cut(folder / "out" / "plan.json")
        ended = run_with_fault(
            lambda files=files: take_back_cut(files.rack, files.cut_id),  # type: ignore[misc]
            Fault(place, number),
        )
        refused += ended == "refused"
        every_file_is_whole(folder)
        leather_is_counted_once(folder)
        used = read_hide(folder / "barley.hide.json").used
        if ended == "done":
            assert contents_of(folder) == before
        if used:
            take_back_cut(files.rack, files.cut_id)
        assert contents_of(folder) == before
    assert refused > 15


def test_a_cut_or_an_undo_interrupted_anywhere_is_done_or_taken_back(racks: Path, tmp_path: Path) -> None:
    points = 0
    for base, used in (("whole", False), ("cut", True)):

        def work(fault: Fault, base: str = base, used: bool = used) -> Outcome:
            files = find_cut(fresh(racks / base, tmp_path) / "out" / "plan.json")
            if used:
                return run_with_fault(lambda: take_back_cut(files.rack, files.cut_id), fault)
            return run_with_fault(lambda: cut_plan(files), fault)

        for _ in stop_points(work, "interrupt"):
            points += 1
            folder = tmp_path / "rack"
            every_file_is_whole(folder)
            leather_is_counted_once(folder)
            finish_cut(folder / "out" / "plan.json")
            leather_is_counted_once(folder)
            nothing_is_left_behind(folder)
    assert points > 50


@pytest.mark.security
def test_two_racks_that_share_a_folder_of_hides_cannot_cut_one_hide_at_once(
    racks: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each has its journal elsewhere, so that the lock of the journal's folder alone would not keep them apart."""
    monkeypatch.setattr(cutting, "LOCK_PATIENCE", 0.0)
    folder = fresh(racks / "apart", tmp_path)
    away = folder / "away" / "barley.hide.json"
    files = find_cut(folder / "out" / "plan.json", hides=[away], rack=folder / "out")
    with rack_lock(folder / "away"), pytest.raises(InputError, match="Another nestplan is changing"):
        cut_plan(files)
    assert not read_hide(away).used
    cut_plan(files)
    with rack_lock(folder / "away"), pytest.raises(InputError, match="Another nestplan is changing"):
        take_back_cut(files.rack, files.cut_id, hide_files=[away])
    take_back_cut(files.rack, files.cut_id, hide_files=[away])
    assert not read_hide(away).used


def small_writes() -> list[tuple[str, Callable[[Path], object]]]:
    def keep_a_picture(folder: Path) -> object:
        """What `trace` leaves beside a hide."""
        photo = folder.parent / "photo.png"
        Image.new("RGB", (40, 30), "brown").save(photo)
        write_traced_hide(folder / "oats.hide.json", plain_hide("oats"))
        return keep_picture(
            folder / "oats.hide.json", HidePhoto(str(photo), (1.0, 0, 0, 0, 1.0, 0, 0, 0, 1.0))
        )

    def save(folder: Path) -> object:
        opened = open_files([folder / "out" / "plan.json"])
        saved = Contents(tuple(opened.hides), opened.job, opened.plan)
        dearer = tuple(msgspec.structs.replace(hide, price=7.0) for hide in saved.hides)
        return save_contents(Contents(dearer, saved.job, saved.plan), saved, opened.files, folder)

    return [
        ("mark-area", lambda folder: keep_marked_area(folder / "rye.hide.json", 8 * MM2_PER_FT2)),
        ("save", save),
        ("measure", lambda folder: measure_hide("side", folder / "oats.hide.json")),
        ("traced", lambda folder: write_traced_hide(folder / "oats.hide.json", plain_hide("oats"))),
        ("picture", keep_a_picture),
    ]


@pytest.mark.parametrize(("name", "write"), small_writes())
def test_hides_written_by_a_command_or_the_window_are_old_or_new(
    racks: Path, tmp_path: Path, name: str, write: Callable[[Path], object]
) -> None:
    before = contents_of(racks / "cut")
    points = 0

    def work(fault: Fault) -> Outcome:
        folder = fresh(racks / "cut", tmp_path)
        return run_with_fault(lambda: write(folder), fault)

    for _ in stop_points(work, "stop", "half"):
        points += 1
        folder = tmp_path / "rack"
        every_file_is_whole(folder)
        leather_is_counted_once(folder)
        write(folder)
        after = contents_of(folder)
        assert {file for file in after if not file.startswith("oats.")} == set(before)
        assert read_hide(folder / "barley.hide.json").used == "small"
        nothing_is_left_behind(folder)
    assert points > 5


_BELT = Job(
    name="belts",
    articles=(
        Article(
            name="belt",
            sets=2,
            pieces=(
                Piece(name="front", outline=((0, 0), (110, 0), (110, 130), (0, 130))),
                Piece(name="side", outline=((0, 0), (140, 0), (140, 130), (0, 130))),
            ),
        ),
    ),
)
_SIZES = SizesWish(
    article="belt",
    drawn="M",
    sizes=Sizes(
        others=(Size(name="L", changes={"waist": 25.0}),),
        measures=(Measure(name="waist", pieces=(Growth(name="front"),)),),
    ),
)


@functools.cache
def _compared() -> tuple[Job, list[Hide], tuple[HideAnswer, ...]]:
    """A job, two hides, and what each gives of it; worked out once, for the time it took stands in the files."""
    job, hides = one_piece_job(sets=2), [plain_hide("barley"), plain_hide("rye")]
    return job, hides, compare(job, hides, planner=EnginePlanner())


def other_writes() -> dict[str, Callable[[Path], object]]:
    """What each command does last that writes something else than hides, plans' folders and sheets, by its name."""

    def sizes(folder: Path) -> object:
        write_job(folder / "belt.job.json", _BELT)
        return write_sizes(folder / "belt.job.json", folder / "belt.job.json", _SIZES)

    def row(folder: Path) -> object:
        return put_row(folder / "laced.job.json", "front", "front edge", {"inset": 11.0})

    def lacing(folder: Path) -> object:
        return put_laced(folder / "laced.job.json", "before", {"gap": 25.0})

    def fit(folder: Path) -> object:
        change = SizeChange(axis="x", free=((10.0, 90.0),), change=6.0)
        return grade_job_file(
            folder / "small.job.json", folder / "small.job.json", piece="square", stretch=change
        )

    def pieces(folder: Path) -> object:
        (folder / "a.csv").write_text("x_mm,y_mm\n0,0\n100,0\n100,50\n")
        return import_pieces(folder / "a.csv", folder / "laced.job.json", DrawingOptions(), PieceWishes())

    def templates(folder: Path) -> object:
        return job_of_templates(folder / "laced.job.json", _BELT.articles[0].pieces, PieceWishes(sets=3))

    def retrace(folder: Path) -> object:
        opened = open_plan(folder / "out" / "plan.json", hides=[folder / "barley.hide.json"])
        turned = msgspec.structs.replace(opened.hides[0], outline=((0, 0), (1001, 0), (1001, 800), (0, 800)))
        write_hide_found(folder / "barley-now.hide.json", SimpleNamespace(hide=turned))  # type: ignore[arg-type]
        along = PlanAlong(msgspec.structs.replace(opened.plan, seed=7), (), (), stretched=False)
        return write_plan_along(
            folder / "out" / "now.json",
            along,
            plan_file=folder / "out" / "plan.json",
            hide_name="barley",
            hide_file=folder / "barley-now.hide.json",
        )

    def picture(folder: Path) -> object:
        opened = open_plan(folder / "out" / "plan.json")
        write_picture(opened, folder / "out" / "plan.svg", look="dark", units="mm")
        return write_picture(opened, folder / "out" / "plan.png", look="paper", units="mm")

    def compare_hides(folder: Path) -> object:
        return write_comparison(folder / "out", *_compared(), None, by="sets", units="mm")

    return {
        "sizes": sizes,
        "row": row,
        "lacing": lacing,
        "fit": fit,
        "pieces": pieces,
        "pieces of a photograph": templates,
        "layers": lambda folder: write_layer_table(folder / "laced.job.json", "layer,reads\n0,outline\n"),
        "retrace": retrace,
        "picture": picture,
        "marks": lambda folder: write_photo_marks(folder / "out" / "marks.pdf", paper="a4"),
        "compare": compare_hides,
        "demo": lambda folder: copy_demo(folder / "demo"),
    }


TESTED_ELSEWHERE_HERE = {"plan", "sheet", "cut", "rack", "mark-area", "measure", "trace"}
"""Commands whose writing has a test of its own in this file; `rack` puts right what a cut left behind."""
WRITES_NOTHING = {"check", "count", "supplies"}
WRITES_AS_ANOTHER = {"desk": "save", "buy": "compare"}
"""Commands that write by what is tested under another name."""


def test_every_command_is_stopped_where_it_writes_or_writes_nothing() -> None:
    app = build_app()
    names = {
        each.name or each.callback.__name__.replace("_", "-")
        for each in app.registered_commands
        if each.callback is not None
    }
    names |= {group.name for group in app.registered_groups if isinstance(group.name, str)}
    listed = {*other_writes(), *TESTED_ELSEWHERE_HERE, *WRITES_NOTHING, *WRITES_AS_ANOTHER}
    assert names == listed - {"pieces of a photograph"}


@pytest.mark.parametrize("name", other_writes())
def test_a_command_stopped_anywhere_leaves_every_file_old_or_new(
    racks: Path, tmp_path: Path, name: str
) -> None:
    write = other_writes()[name]
    base = tmp_path / "base"
    shutil.copytree(racks / "whole", base)
    write_job(base / "laced.job.json", laced_job())
    if name == "sizes":
        write_job(base / "belt.job.json", _BELT)
    before = contents_of(base)
    write(fresh(base, tmp_path))
    after = contents_of(tmp_path / "rack")
    changed = {file for file, content in after.items() if before.get(file) != content}
    assert changed

    def work(fault: Fault) -> Outcome:
        folder = fresh(base, tmp_path)
        return run_with_fault(lambda: write(folder), fault)

    points = 0
    for fault in stop_points(work, "stop", "half"):
        points += 1
        there = contents_of(tmp_path / "rack")
        assert set(before) <= set(there)
        for file, content in there.items():
            if file.endswith(".pdf"):
                # It says when it was made.
                assert content.rstrip().endswith(b"%%EOF"), fault
            else:
                assert content in (before.get(file), after.get(file)), (fault, file)
        if fault.number % 3 == 0:
            write(tmp_path / "rack")
            assert set(contents_of(tmp_path / "rack")) == set(after)
            nothing_is_left_behind(tmp_path / "rack")
    assert points > 5


def test_a_plan_folder_stopped_anywhere_never_mixes_two_plans(racks: Path, tmp_path: Path) -> None:
    opened = open_plan(racks / "whole" / "out" / "plan.json")
    other = open_plan(racks / "whole" / "out" / "rye.json")
    old = tmp_path / "old"
    write_plan_folder(opened.plan, opened.job, opened.hides, old)
    write_plan_folder(other.plan, other.job, other.hides, tmp_path / "new")
    points = 0
    # Until all files are made beside their places one point is like another; a few of those are enough.
    for number in (1, 5, 9, 14, *range(18, 100)):
        folder = fresh(old, tmp_path)
        ended = run_with_fault(
            lambda folder=folder: write_plan_folder(other.plan, other.job, other.hides, folder),  # type: ignore[misc]
            Fault(number, "stop"),
        )
        if ended == "done":
            break
        points += 1
        plan = read_plan(folder / "plan.json")
        made_from = old if plan == opened.plan else tmp_path / "new"
        for name in PLAN_FILES[1:3]:
            if (folder / name).exists():
                assert (folder / name).read_bytes() == (made_from / name).read_bytes()
        if (folder / PLAN_FILES[3]).exists():
            # A PDF says when it was made; the two plans' sheets differ in length.
            assert (folder / PLAN_FILES[3]).stat().st_size == (made_from / PLAN_FILES[3]).stat().st_size
        if number % 4 == 1:
            write_plan_folder(other.plan, other.job, other.hides, folder)
            assert sorted(path.name for path in folder.iterdir()) == sorted(PLAN_FILES)
    assert points > 15


def test_a_folder_of_sheets_stopped_anywhere_never_mixes_two_plans(racks: Path, tmp_path: Path) -> None:
    old, new = tmp_path / "old", tmp_path / "new"
    opened = [open_plan(racks / "whole" / "out" / name) for name in ("plan.json", "rye.json")]

    def write(which: int, folder: Path) -> list[Path]:
        return write_sheet_folder(opened[which], folder, paper="a4", roll_width=None, units="mm")

    write(0, old)
    write(1, new)
    points = 0
    # Making the sheets beside their places has a thousand points, each like another; putting them there is at the end.
    for number in (1, 40, *range(60, 400, 7)):
        folder = fresh(old, tmp_path)
        ended = run_with_fault(lambda folder=folder: write(1, folder), Fault(number, "stop"))  # type: ignore[misc]
        points += ended == "stopped"
        # Pictures have no time in them; those that are there are all of one plan.
        there = [
            name for name in ("plan-light.svg", "plan-dark.svg", "plan-light.png") if (folder / name).exists()
        ]
        made_from = {
            base.name
            for base in (old, new)
            for name in there
            if (folder / name).read_bytes() == (base / name).read_bytes()
        }
        assert len(made_from) <= 1
        if ended == "done":
            break
    assert points > 10
    left = left_from_before(tmp_path / "rack", write(1, tmp_path / "rack"))
    nothing_is_left_behind(tmp_path / "rack")
    assert {path.name for path in left} == {
        f"barley.{kind}.{ending}" for kind in ("plan", "hide") for ending in ("dxf", "svg")
    }


def test_marks_and_locks_have_the_names_the_checks_look_for() -> None:
    assert {name[0] for name in (JOURNAL_NAME, MARK_NAME, LOCK_NAME)} == {"."}


def test_a_rack_survives_kills_at_random_moments(tmp_path: Path) -> None:
    assert kill_at_random(60, 20, tmp_path) > 20
