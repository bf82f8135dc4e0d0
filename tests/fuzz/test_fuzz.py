"""Mutated files of every format are read well or refused in our own words; files that once were not stay so."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.fuzz.formats import FORMATS, mutated
from tests.fuzz.run import Report, Server, fuzz
from tests.fuzz.seeds import seeds_of
from tests.fuzz.toys import TOYS

pytestmark = [
    pytest.mark.security,
    pytest.mark.skipif(not sys.platform.startswith("linux"), reason="limits are those of Linux"),
]

CORPUS = sorted((Path(__file__).parent / "corpus").iterdir())
"""Files that once led to something else than an error of ours, named by format and by what was wrong."""

FILES = 340
ALLOWED = {"read", "refused"}


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    made = Server(tmp_path_factory.mktemp("fuzz"), seconds=10.0, megabytes=1024.0)
    yield made
    made.close()


@pytest.mark.parametrize("path", CORPUS, ids=lambda path: path.name)
def test_a_file_that_once_did_harm_does_none(server: Server, path: Path) -> None:
    verdict = server.judge(path.name.split("-", 1)[0], str(path), None)
    assert verdict.outcome in ALLOWED, verdict


def test_mutated_files_of_every_format_are_read_or_refused() -> None:
    report = Report()
    for name, number, verdict in fuzz(FILES, 11, seconds=10.0, megabytes=1024.0):
        report.add(name, 11, number, verdict)
    assert report.files == FILES
    assert report.findings == []
    for name in FORMATS:
        # Mutations are neither so wild that nothing is read, nor so tame that all is.
        assert report.read[name] + report.refused[name] > 3, report.table()
    assert report.read.total() > FILES // 8
    assert report.refused.total() > FILES // 4


@pytest.mark.parametrize("name", FORMATS)
def test_good_files_are_read_or_refused_and_mutations_come_out_the_same_again(
    server: Server, name: str, tmp_path: Path
) -> None:
    outcomes = set()
    for number, content in enumerate(seeds_of(name)[:4]):
        path = tmp_path / str(number)
        path.write_bytes(content)
        outcomes.add(server.judge(name, str(path), None).outcome)
    assert outcomes <= ALLOWED
    assert "read" in outcomes
    form = FORMATS[name]
    made = [mutated(form, 5, number) for number in range(12)]
    assert made == [mutated(form, 5, number) for number in range(12)]
    assert len(set(made)) > 6


@pytest.mark.parametrize("outcome", TOYS)
def test_the_harness_notices_what_no_reader_may_do(outcome: str, tmp_path: Path) -> None:
    patience = 1.0 if outcome == "hung" else 10.0
    # On a busy machine only what is meant to be slow may be found so.
    seconds = 0.5 if outcome in ("slow", "hung") else 8.0
    server = Server(tmp_path / "fuzz", seconds=seconds, megabytes=200.0, loading=False, patience=patience)
    file = tmp_path / "file"
    file.write_bytes(b"x")
    try:
        found = server.judge(outcome, str(file), None).outcome
        assert found == ("memory" if outcome == "all memory" else outcome)
    finally:
        server.close()
