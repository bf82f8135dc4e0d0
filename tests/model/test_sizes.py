"""The record of an article's sizes, as it is written and read."""

from __future__ import annotations

from pathlib import Path

import pytest

from nestplan.errors import InputError
from nestplan.model.files import content_hash, read_job, write_job
from nestplan.model.job import Article, Job
from nestplan.model.piece import Piece
from nestplan.model.sizes import Edge, Growth, Measure, Seam, Size, Sizes, edge_line, measure_named

TRIANGLE = Piece(name="gusset", outline=((0, 0), (100, 0), (50, 80)))

JOB = """{"nestplan": 1, "kind": "job", "name": "belts", "articles": [{"name": "belt M", "sets": 1, "size": "M",
 "pieces": [{"name": "front M", "outline": [[0, 0], [110, 0], [110, 130], [0, 130]]}],
 "strips": [{"name": "lace M", "width": "3/16 in", "length": "1 1/2 yd"}],
 "fits": {"waist": ["28 in", "31 in"]},
 "sizes": {"others": [{"name": "L", "changes": {"waist": "1 1/2 in", "length": -5}}]}}]}"""


def test_sizes_and_what_they_fit_are_read_and_written_as_they_were(tmp_path: Path) -> None:
    (tmp_path / "belts.job.json").write_text(JOB)
    job = read_job(tmp_path / "belts.job.json")
    article = job.articles[0]
    assert article.fits["waist"] == pytest.approx((711.2, 787.4))
    assert article.sizes is not None
    assert article.sizes.others[0].changes == pytest.approx({"waist": 38.1, "length": -5.0})
    write_job(tmp_path / "again.job.json", job)
    written = (tmp_path / "again.job.json").read_text()
    for text in ('"3/16 in"', '"1 1/2 yd"', '"28 in"', '"1 1/2 in"'):
        assert text in written
    assert read_job(tmp_path / "again.job.json") == job


def test_a_length_as_text_and_as_number_are_the_same_job(tmp_path: Path) -> None:
    (tmp_path / "text.job.json").write_text(JOB)
    (tmp_path / "number.job.json").write_text(JOB.replace('"3/16 in"', "4.7625").replace('"28 in"', "711.2"))
    assert content_hash(read_job(tmp_path / "text.job.json")) == content_hash(
        read_job(tmp_path / "number.job.json")
    )


def test_a_measure_runs_round_unless_its_name_says_otherwise() -> None:
    assert measure_named("waist").along == "width"
    assert measure_named("back length").along == "length"
    sizes = Sizes(others=(Size(name="L"),), measures=(Measure(name="torso", along="length"),))
    assert sizes.measure("torso").along == "length"
    assert sizes.measure("hip").along == "width"


def test_an_edge_is_a_side_from_corner_to_corner() -> None:
    piece = Piece(name="front", outline=((0, 0), (110, 0), (120, 130), (0, 130)))
    assert edge_line(piece, Edge(piece="front", side="right")).tolist() == [[110, 0], [120, 130]]
    part = Edge(piece="front", start=(110.0, 30.0), end=(60.0, 130.0))
    assert edge_line(piece, part)[1:-1].tolist() == [[120, 130]]
    assert part.words == "front, edge from (110, 30) to (60, 130) mm"
    with pytest.raises(InputError, match="no top edge"):
        edge_line(TRIANGLE, Edge(piece="gusset", side="top"))


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: Sizes(others=()), "no other sizes"),
        (lambda: Sizes(others=(Size(name="L"), Size(name="L"))), "stands twice"),
        (lambda: Size(name="L", changes={"waist": 5000.0}), "between"),
        (lambda: Edge(piece="a"), "one of the sides"),
        (lambda: Edge(piece="a", side="left", start=(0.0, 0.0)), "one of the sides"),
        (lambda: Growth(name="a", lines=(0.7, 0.3)), "the lesser first"),
        (lambda: Seam(first=(), second=(Edge(piece="a", side="left"),)), "joins edges"),
        (
            lambda: Article(name="a", sets=1, pieces=(TRIANGLE,), fits={"waist": (800.0, 700.0)}),
            "least ≤ most",
        ),
    ],
)
def test_records_that_say_nothing_sensible_are_refused(make: object, words: str) -> None:
    with pytest.raises(InputError, match=words):
        make()  # type: ignore[operator]


def test_a_job_without_sizes_says_nothing_of_them(tmp_path: Path) -> None:
    job = Job(name="j", articles=(Article(name="a", sets=1, pieces=(TRIANGLE,)),))
    write_job(tmp_path / "j.job.json", job)
    assert not any(
        word in (tmp_path / "j.job.json").read_text() for word in ("size", "seams", "graded", "fits")
    )
