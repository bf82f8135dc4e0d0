"""Sizes in a job: written out as articles, made anew when the drawing changes, kept once changed by hand."""

from __future__ import annotations

from pathlib import Path

import msgspec
import numpy as np
import pytest

from nestplan.errors import InputError, RuleError
from nestplan.model.files import read_job, write_job
from nestplan.model.job import Article, Job
from nestplan.model.piece import Mark, Piece, Strip
from nestplan.model.sizes import Edge, Growth, Measure, Seam, Size, Sizes
from nestplan.resources import demo_folder
from nestplan.tasks.article_sizes import (
    SizesWish,
    followed,
    sizes_astray,
    sizes_let_go,
    with_sizes,
    write_sizes,
)
from nestplan.tasks.job_edits import with_piece
from tests.small_jobs import laced_job

FRONT = Piece(name="front", outline=((0, 0), (110, 0), (110, 130), (0, 130)), marks=(Mark(at=(55, 60)),))
SIDE = Piece(name="side", outline=((0, 0), (140, 0), (140, 130), (0, 130)))
SEAM = Seam(first=(Edge(piece="front", side="right"),), second=(Edge(piece="side", side="left"),))
BELT = Article(
    name="belt",
    sets=2,
    pieces=(FRONT, SIDE),
    strips=(Strip(name="tie", width=20.0, length=900.0),),
    seams=(SEAM,),
)
TAKES = Measure(name="waist", pieces=(Growth(name="front"), Growth(name="side")))
SIZES = Sizes(
    others=(Size(name="L", changes={"waist": 25.0}), Size(name="S", changes={"waist": -25.0})),
    measures=(TAKES,),
)
JOB = Job(
    name="belts",
    articles=(BELT, Article(name="pouch", sets=1, pieces=(msgspec.structs.replace(SIDE, name="pouch"),))),
)
SIZED = with_sizes(
    JOB, SizesWish(article="belt", sizes=SIZES, drawn="M", sets={"L": 3}, fits={"waist": (700, 750)})
)


def test_every_size_is_an_article_beside_the_drawn_one() -> None:
    job = SIZED.job
    assert [(article.name, article.sets) for article in job.articles] == [
        ("belt M", 2),
        ("belt L", 3),
        ("belt S", 1),
        ("pouch", 1),
    ]
    assert [piece.name for piece in job.articles[1].pieces] == ["front L", "side L"]
    assert job.articles[0].sizes is not None
    assert job.articles[0].sizes.measures[0].pieces[0].name == "front M"
    assert job.articles[2].fits == {"waist": (675, 725)}
    assert SIZED.widest_seam_gap == pytest.approx(0.0, abs=1e-6)


def test_made_again_with_other_sizes_it_keeps_what_was_said_of_them_and_drops_the_rest() -> None:
    noted = msgspec.structs.replace(SIZED.job.articles[1], note="for the tall ones", sets=7)
    job = msgspec.structs.replace(SIZED.job, articles=(SIZED.job.articles[0], noted, *SIZED.job.articles[2:]))
    record = job.articles[0].sizes
    assert record is not None
    again = with_sizes(
        job, SizesWish(article="belt M", sizes=msgspec.structs.replace(record, others=record.others[:1]))
    )
    assert [article.name for article in again.job.articles] == ["belt M", "belt L", "pouch"]
    assert (again.job.articles[1].sets, again.job.articles[1].note) == (7, "for the tall ones")


def test_the_sizes_follow_a_change_of_the_drawing() -> None:
    wider = msgspec.structs.replace(
        SIZED.job.piece("front M"), outline=((0, 0), (120, 0), (120, 130), (0, 130))
    )
    after = followed(SIZED.job, with_piece(SIZED.job, "front M", wider)).job
    assert after is not None
    assert np.ptp(after.piece("front L").ring[:, 0]) == pytest.approx(120.0 + 25.0 * 120 / 260)
    assert sizes_astray(after) == ()


def test_a_size_changed_by_hand_follows_no_longer() -> None:
    own = msgspec.structs.replace(SIZED.job.piece("front L"), note="longer dart")
    found = followed(SIZED.job, with_piece(SIZED.job, "front L", own))
    by_hand = found.job
    assert by_hand is not None
    assert found.told == ("belt L was changed by hand and follows belt M no longer.",)
    assert sizes_let_go(SIZED.job, by_hand) == found.told
    assert by_hand.articles[1].graded_from == ""
    wider = msgspec.structs.replace(
        by_hand.piece("front M"), outline=((0, 0), (120, 0), (120, 130), (0, 130))
    )
    after = followed(by_hand, with_piece(by_hand, "front M", wider)).job
    assert after is not None
    assert after.piece("front L") == own
    assert after.piece("front S") != by_hand.piece("front S")


def test_a_piece_and_an_article_may_be_called_otherwise() -> None:
    renamed = msgspec.structs.replace(SIZED.job.piece("side M"), name="flank M")
    found = followed(SIZED.job, with_piece(SIZED.job, "side M", renamed))
    job = found.job
    assert job is not None
    assert [(old, piece.name) for old, piece in found.renamed] == [
        ("side L", "flank L"),
        ("side S", "flank S"),
    ]
    assert [piece.name for piece in job.articles[1].pieces] == ["front L", "flank L"]
    other = msgspec.structs.replace(job.articles[0], name="corset M")
    after = followed(job, msgspec.structs.replace(job, articles=(other, *job.articles[1:]))).job
    assert after is not None
    assert {article.graded_from for article in after.articles[1:3]} == {"corset M"}


def test_a_job_whose_drawing_was_changed_in_the_file_is_told() -> None:
    wider = msgspec.structs.replace(
        SIZED.job.piece("front M"), outline=((0, 0), (120, 0), (120, 130), (0, 130))
    )
    told = sizes_astray(with_piece(SIZED.job, "front M", wider))
    assert len(told) == 2
    assert told[0].startswith("belt L is not what belt M gives in size L")


def test_a_change_that_no_size_can_follow_leaves_the_sizes_and_says_why() -> None:
    shorter = msgspec.structs.replace(
        SIZED.job.piece("front M"), outline=((0, 0), (110, 0), (110, 100), (0, 100)), marks=()
    )
    found = followed(SIZED.job, with_piece(SIZED.job, "front M", shorter))
    assert found.job is not None
    assert found.job.piece("front L") == SIZED.job.piece("front L")
    assert "In the drawn size the edges of a seam differ" in found.told[0]


def test_other_jobs_are_left_as_they_are() -> None:
    assert followed(None, JOB).job is JOB
    assert followed(JOB, JOB).job is JOB
    assert sizes_astray(JOB) == ()


@pytest.mark.parametrize(
    ("wish", "words"),
    [
        (SizesWish(article="bag", sizes=SIZES), "No article is called 'bag'"),
        (SizesWish(article="", sizes=SIZES), "not said which article"),
        (SizesWish(article="belt", sizes=SIZES, drawn="L"), "is the size that is drawn"),
    ],
)
def test_what_cannot_be_meant_is_refused(wish: SizesWish, words: str) -> None:
    with pytest.raises(InputError, match=words):
        with_sizes(JOB, wish)


def test_a_size_of_a_size_is_refused() -> None:
    with pytest.raises(InputError, match="itself a size of 'belt M'"):
        with_sizes(SIZED.job, SizesWish(article="belt L", sizes=Sizes(others=(Size(name="XL"),))))


def test_a_file_is_written_with_all_sizes_and_errors_name_it(tmp_path: Path) -> None:
    write_job(tmp_path / "belts.job.json", JOB)
    write_sizes(
        tmp_path / "belts.job.json", tmp_path / "sized.job.json", SizesWish(article="belt", sizes=SIZES)
    )
    job = read_job(tmp_path / "sized.job.json")
    assert [article.name for article in job.articles] == ["belt", "belt L", "belt S", "pouch"]
    assert sizes_astray(job) == ()
    too_small = Sizes(others=(Size(name="XS", changes={"waist": -400.0}),))
    with pytest.raises(RuleError, match=r"belts\.job\.json.*size XS, front"):
        write_sizes(
            tmp_path / "belts.job.json", tmp_path / "no.job.json", SizesWish(article="belt", sizes=too_small)
        )
    assert not (tmp_path / "no.job.json").exists()


@pytest.mark.parametrize("rows", ["as drawn", "pitch", "number"])
def test_a_laced_belt_keeps_its_joins_and_its_range_grows_with_the_waist(rows: str) -> None:
    sizes = Sizes(others=(Size(name="L", changes={"waist": 48.0, "length": 15.0}),), rows=rows)  # type: ignore[arg-type]
    job = with_sizes(laced_job(), SizesWish(article="belt", sizes=sizes, drawn="M")).job
    drawn, larger = job.articles
    assert drawn.wearer_range is not None
    assert larger.wearer_range is not None
    assert larger.wearer_range.worn - drawn.wearer_range.worn == pytest.approx(48.0, abs=0.01)
    assert {row.piece for join in larger.laced_joins for row in join.rows} == {"front L", "back L"}
    holes = [len(job.worked_joins(article)[0].along[0]) for article in job.articles]
    assert holes[1] == holes[0] + (1 if rows == "pitch" else 0)
    assert job.strip("lace L").length > job.strip("lace M").length
    assert sizes_astray(job) == ()


def test_a_job_with_points_in_inches_is_not_astray_once_written_and_read(tmp_path: Path) -> None:
    sizes = Sizes(others=(Size(name="L", changes={"around": 48.0, "length": 15.0}),))
    job = msgspec.structs.replace(laced_job(), points="in", units="in")
    sized = with_sizes(job, SizesWish(article="belt", sizes=sizes, fits={"around": (700.0, 760.0)})).job
    write_job(tmp_path / "belt.job.json", sized)
    read = read_job(tmp_path / "belt.job.json")
    assert read.articles[1].fits == {"around": (748.0, 808.0)}
    assert sizes_astray(read) == ()


def test_a_size_changed_by_hand_stays_when_the_sizes_are_made_again() -> None:
    own = msgspec.structs.replace(SIZED.job.piece("front L"), note="longer dart")
    job = followed(SIZED.job, with_piece(SIZED.job, "front L", own)).job
    assert job is not None
    record = job.articles[0].sizes
    assert record is not None
    more = msgspec.structs.replace(record, others=(*record.others, Size(name="XL", changes={"waist": 50.0})))
    again = with_sizes(job, SizesWish(article="belt M", sizes=more))
    assert again.by_hand == ("belt L",)
    assert again.job.piece("front L") == own
    assert {article.name for article in again.job.articles} == {
        "belt M",
        "belt L",
        "belt S",
        "belt XL",
        "pouch",
    }


def test_sizes_of_a_drawing_that_is_taken_out_follow_nothing() -> None:
    left = msgspec.structs.replace(SIZED.job, articles=SIZED.job.articles[1:])
    job = followed(SIZED.job, left).job
    assert job is not None
    assert {article.graded_from for article in job.articles} == {""}


def test_the_sizes_of_the_demo_are_what_its_drawn_belt_gives() -> None:
    job = read_job(demo_folder() / "quillmere.job.json")
    assert [(article.size, article.graded_from) for article in job.articles[:3]] == [
        ("small", "waist belt, middle"),
        ("middle", ""),
        ("large", "waist belt, middle"),
    ]
    assert sizes_astray(job) == ()
    # hand count: six panels take a sixth each of the 72 mm that the waist grows by
    fronts = [float(np.ptp(job.piece(f"front {size}").ring[:, 0])) for size in ("small", "middle", "large")]
    assert fronts == pytest.approx([108.0, 120.0, 132.0], abs=1e-3)
