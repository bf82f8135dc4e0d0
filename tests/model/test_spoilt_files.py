"""Whatever a file holds, reading it gives the record or an InputError that names the file; never anything else."""

from __future__ import annotations

import copy
import json
import os
import random
import tracemalloc
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from nestplan.errors import InputError, NestplanError
from nestplan.model.cut_journal import JOURNAL_NAME, read_journal
from nestplan.model.files import content_hash, read_hide, read_job, read_plan, to_text
from nestplan.model.job_log import JOB_LOG_NAME, job_log_text, read_job_log
from nestplan.model.rack import read_rack
from nestplan.resources import demo_folder
from tests.broken_files import good_hide, good_job
from tests.small_jobs import laced_job, laid, one_piece_job, plain_hide, plan_of
from tests.work_time import WorkTime

pytestmark = pytest.mark.security

READERS: dict[str, Callable[[Path], Any]] = {"hide": read_hide, "job": read_job, "plan": read_plan}


def written(tmp_path: Path, kind: str, content: object) -> Path:
    path = tmp_path / f"spoilt.{kind}.json"
    path.write_bytes(content if isinstance(content, bytes) else json.dumps(content).encode())
    return path


@pytest.mark.parametrize("kind", READERS)
@pytest.mark.parametrize("deep", [600, 5_000, 100_000])
@pytest.mark.parametrize("brackets", ["[]", "{}"])
def test_a_file_that_is_nested_deeply_is_refused(kind: str, deep: int, brackets: str, tmp_path: Path) -> None:
    inner = (b"[" * deep + b"]" * deep) if brackets == "[]" else (b'{"a":' * deep + b"1" + b"}" * deep)
    for content in (inner, b'{"nestplan": 1, "kind": "' + kind.encode() + b'", "name": ' + inner + b"}"):
        with pytest.raises(InputError) as caught:
            READERS[kind](written(tmp_path, kind, content))
        assert "spoilt" in caught.value.file


@pytest.mark.parametrize(
    ("where", "value"),
    [
        ("thickness", [0.00001, 0.00001]),
        ("thickness", [0.00004, 1.0]),
        ("thickness", [1.0, 1e12]),
        ("price", 1e300),
        ("stated_area", "1e9 m2"),
        ("stated_area", "1000000 m2"),
        ("stretch", 1e300),
        ("backbone", [[0, 0], [1e12, 0]]),
        ("backbone", [[0, number] for number in range(3000)]),
        ("backbone", [[5, 5], [90, 5], [5, 5.00001]]),
        ("flaws", [{"spoils": "grain", "line": {"points": [[0, 0], [9, 9]], "width": 1e12}}]),
        ("flaws", [{"spoils": "grain", "line": {"points": [[0, 0], [9, 9]], "width": 0.00001}}]),
        ("flaws", [{"spoils": "grain", "line": {"points": [[0, 0], [1e12, 9]], "width": 1.0}}]),
        ("flaws", [{"spoils": "grain", "line": {"points": [[k, k % 7] for k in range(9999)], "width": 1.0}}]),
        ("flaws", [{"spoils": "grain", "disc": {"at": [5, 5], "diameter": 1e12}}]),
        ("flaws", [{"spoils": "grain", "disc": {"at": [5, 5], "diameter": 0.00001}}]),
        ("flaws", [{"spoils": "grain", "disc": {"at": [1e12, 5], "diameter": 5.0}}]),
        ("flaws", [{"spoils": "grain", "disc": {"at": [5, 5], "diameter": 5.0}}] * 6000),
        ("outline", [[0, 0], [1e-5, 0], [0, 1e-5]]),
        ("outline", [[0, 0], [100, 0], [100, 100], [50, 0.00004], [0, 100]]),
        ("outline", [[0, 0], [1e308, 0], [0, 1e308]]),
    ],
)
def test_numbers_and_counts_beyond_any_hide_are_refused_quickly_and_in_little_memory(
    where: str, value: object, tmp_path: Path
) -> None:
    path = written(tmp_path, "hide", {**good_hide(), where: value})
    tracemalloc.start()
    start = WorkTime()
    with pytest.raises(InputError) as caught:
        read_hide(path)
    seconds, most = start.seconds, tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert where in caught.value.place or "outside" in caught.value.what or "crosses" in caught.value.what
    assert seconds < 10.0
    assert most < 64e6


def test_a_job_of_more_copies_than_can_be_planned_is_refused(tmp_path: Path) -> None:
    job = good_job()
    job["articles"][0]["sets"] = 100_000
    job["articles"][0]["pieces"][0]["count"] = 1000
    with pytest.raises(InputError, match="cut shapes and strips"):
        read_job(written(tmp_path, "job", job))


def test_a_long_ring_that_crosses_itself_everywhere_is_refused_quickly(tmp_path: Path) -> None:
    rng = np.random.default_rng(5)
    hide = {**good_hide(), "outline": rng.uniform(0, 2000, (20_000, 2)).round(2).tolist()}
    path = written(tmp_path, "hide", hide)
    start = WorkTime()
    with pytest.raises(InputError, match="crosses or touches itself"):
        read_hide(path)
    assert start.seconds < 10.0


def test_points_within_a_micrometre_of_each_other_are_one(tmp_path: Path) -> None:
    # A point every 0.4 µm along one side: all of them but one in three are joined, and the side stays.
    side = [[100.0, 0.0004 * number] for number in range(5)]
    hide = {**good_hide(), "outline": [[0, 0], *side, [100, 100], [0, 100], [0, 0.0006]], "flaws": [],
            "regions": [], "backbone": None, "holes": []}  # fmt: skip
    found = read_hide(written(tmp_path, "hide", hide))
    assert found.gross_area == pytest.approx(10_000.0, abs=0.2)
    steps = np.hypot(*(found.ring - np.roll(found.ring, 1, axis=0)).T)
    assert steps.min() > 1e-3


@pytest.mark.parametrize("kind", READERS)
def test_what_is_no_regular_file_is_refused_at_once(kind: str, tmp_path: Path) -> None:
    pipe = tmp_path / f"pipe.{kind}.json"
    os.mkfifo(pipe)
    linked = tmp_path / f"linked.{kind}.json"
    linked.symlink_to(pipe)
    for path in (pipe, linked, Path("/dev/zero"), Path("/dev/stdin"), tmp_path):
        with pytest.raises(InputError, match=r"regular file|folder|cannot be read|JSON|breaks off"):
            READERS[kind](path)
    with pytest.raises(InputError, match="NUL"):
        READERS[kind](Path("a\0b"))


def test_a_file_longer_than_any_is_refused_before_it_is_read(tmp_path: Path) -> None:
    path = tmp_path / "long.hide.json"
    with path.open("wb") as stream:
        stream.truncate(10 * 1024**3)
    with pytest.raises(InputError, match="nestplan reads up to"):
        read_hide(path)


@pytest.mark.parametrize("content", [b"\xff\xfe", b'{"id": "\xff"}', b"[" * 100_000, b"\x00", b"{}\n[]"])
def test_a_spoilt_log_and_journal_are_refused_with_their_file(content: bytes, tmp_path: Path) -> None:
    log, journal = tmp_path / JOB_LOG_NAME, tmp_path / JOURNAL_NAME
    log.write_bytes(content)
    journal.write_bytes(content)
    for read in (lambda: read_job_log(log), lambda: job_log_text(log, ()), lambda: read_journal(tmp_path)):
        with pytest.raises(InputError) as caught:
            read()
        assert caught.value.file


def test_a_spoilt_hide_does_not_stop_the_rack(tmp_path: Path) -> None:
    (tmp_path / "good.hide.json").write_text(json.dumps({**good_hide(), "name": "good"}))
    (tmp_path / "deep.hide.json").write_bytes(b"[" * 100_000)
    (tmp_path / "thin.hide.json").write_text(json.dumps({**good_hide(), "thickness": [1e-5, 1e-5]}))
    (tmp_path / "latin.hide.json").write_bytes(b'{"name": "\xe9"}')
    os.mkfifo(tmp_path / "pipe.hide.json")
    rack = read_rack(tmp_path)
    assert [entry.hide.name for entry in rack.hides] == ["good"]
    assert len(rack.faults) == 3


SPOILT: list[Any] = [
    None, True, 0, -1, 0.0, -0.0, 1e-5, 4.9e-5, 5.1e-5, 1e-300, 1e9, 1e12, 1e308, -1e308, 10**30, 2**64, "", "x",
    "1 in", "0.00001 mm", "1000000000000 km", "nan", "1e400 mm", [], {}, [[]], [[0, 0]], [0, 0], [1e12, 1e12],
    [[0, 0], [1, 0], [0, 1]], [[0, 0], [1e-5, 0], [0, 1e-5]], [[0, 0], [100, 0], [100, 1e-5], [0, 1e-5]],
    [[0, 0]] * 5, [[0, 0], [1e-7, 0], [50, 0], [50, 50]], "\x00", "\u202e", "A" * 300, "2-3 oz", [1e-5, 1e-5],
]  # fmt: skip
KEYS = (
    "thickness",
    "holes",
    "flaws",
    "line",
    "disc",
    "margin",
    "backbone",
    "price",
    "stated_area",
    "stretch",
)
KEYS += (
    "parts",
    "marks",
    "overcut",
    "strips",
    "gap",
    "machine_limit",
    "supplies",
    "seams",
    "figures",
    "length",
)


def nodes(value: object, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    yield path
    if isinstance(value, dict):
        for key in value:
            yield from nodes(value[key], (*path, key))
    elif isinstance(value, list):
        for number in range(min(len(value), 6)):
            yield from nodes(value[number], (*path, number))


def spoil(document: dict[str, Any], chance: random.Random) -> None:
    """Change one place of a document: another value, nothing, twice, a little off, or a key more."""
    path = chance.choice([path for path in nodes(document) if path])
    holder: Any = document
    for step in path[:-1]:
        holder = holder[step]
    last, what = path[-1], chance.random()
    if what < 0.6:
        holder[last] = copy.deepcopy(chance.choice(SPOILT))
    elif what < 0.7:
        del holder[last]
    elif what < 0.8 and isinstance(holder, list):
        holder.insert(last, copy.deepcopy(holder[last]))
    elif what < 0.9 and type(holder[last]) in (int, float):
        holder[last] = holder[last] * chance.choice([-1, 1e-6, 1e3, 1e-9, 2]) + chance.choice([0, 1e-5, 1e-7])
    elif isinstance(holder, dict):
        holder[chance.choice(KEYS)] = copy.deepcopy(chance.choice(SPOILT))


def sound_documents() -> list[tuple[str, dict[str, Any]]]:
    found = []
    for path in sorted(demo_folder().glob("*.json")):
        kind = path.name.split(".")[-2]
        if kind in READERS:
            found.append((kind, json.loads(path.read_text())))
    job, hide = one_piece_job(), plain_hide()
    from nestplan.geometry.pose import Pose

    plan = plan_of(job, (hide,), [laid(job, job.articles[0].pieces[0], Pose(10, 10))])
    return [*found, ("plan", json.loads(to_text(plan)))]


@pytest.mark.parametrize("seed", range(6))
def test_spoilt_documents_are_read_or_refused_and_what_is_read_can_be_written_and_read_again(
    seed: int, tmp_path: Path
) -> None:
    chance = random.Random(seed)
    sound = sound_documents()
    for _ in range(120):
        kind, document = chance.choice(sound)
        document = copy.deepcopy(document)
        for _ in range(chance.choice([1, 1, 2, 3])):
            spoil(document, chance)
        path = written(tmp_path, kind, document)
        start = WorkTime()
        try:
            found = READERS[kind](path)
        except NestplanError as error:
            found, named = None, error.file
        else:
            named = str(path)
        assert named.endswith(path.name)
        assert start.seconds < 5.0
        if found is not None:
            again = READERS[kind](written(tmp_path, kind, to_text(found).encode()))
            assert content_hash(again) == content_hash(found)


def test_thousands_of_laced_articles_are_refused_before_any_is_looked_into(tmp_path: Path) -> None:
    job = json.loads(to_text(laced_job()))
    job["articles"] *= 3000
    took = WorkTime()
    with pytest.raises(InputError, match="articles"):
        read_job(written(tmp_path, "job", job))
    assert took.seconds < 3.0
