from __future__ import annotations

import msgspec
import numpy as np
import pytest
import shapely

from nestplan.drawing.primitives import Outline
from nestplan.model import Article, Job, Part, Piece
from nestplan.sheets.full_size import full_size_sheets
from tests.sheets.looking import beyond, overprinted
from tests.sheets.sample_plans import belt_job, front


def large_job() -> Job:
    """The belts with a back panel of 560 × 330 mm, which no A4 sheet holds."""
    job = belt_job()
    panel = msgspec.structs.replace(
        front(560.0, 330.0),
        name="back panel",
        note="Skive the upper edge.",
        parts=(Part(outline=((20, 40), (200, 40), (200, 200), (20, 200)), name="part that shows"),),
    )
    article = msgspec.structs.replace(job.articles[0], pieces=(*job.articles[0].pieces, panel))
    return msgspec.structs.replace(job, articles=(article,))


@pytest.mark.parametrize("paper", ["a4", "letter", "a3", "roll"])
def test_nothing_is_cut_off_or_printed_over(paper: str) -> None:
    for page in full_size_sheets(large_job(), paper=paper).booklet.pages:
        assert beyond(page) == []
        assert overprinted(page.picture) == []


def test_every_piece_of_the_job_is_there_at_true_size() -> None:
    job = large_job()
    sheets = full_size_sheets(job, paper="a3")
    for piece in job.articles[0].pieces:
        laid = [each for each in sheets.laid if each.piece == piece.name]
        assert laid
        if laid[0].tile:
            continue
        page = sheets.booklet.pages[laid[0].page - 1]
        lines = [item for item in page.picture.on("finished line") if isinstance(item, Outline)]
        turn = np.radians(laid[0].turn)
        matrix = np.array(((np.cos(turn), np.sin(turn)), (-np.sin(turn), np.cos(turn))))
        wanted = shapely.LinearRing(piece.ring @ matrix + (laid[0].x, laid[0].y))
        assert (
            min(shapely.hausdorff_distance(wanted, shapely.LinearRing(item.rings[0])) for item in lines)
            < 1e-6
        )


def test_neighbouring_sheets_carry_the_same_crosses_at_the_same_place() -> None:
    laid = [each for each in full_size_sheets(large_job()).laid if each.piece == "back panel"]
    assert len(laid) > 2
    places: dict[int, list[tuple[float, float]]] = {}
    for each in laid:
        for cross in each.crosses:
            places.setdefault(cross.number, []).append((cross.x - each.x, cross.y - each.y))
    for found in places.values():
        assert len(found) >= 2
        assert np.ptp(np.array(found), axis=0) == pytest.approx((0.0, 0.0), abs=1e-9)
    assert all(len(each.crosses) >= 2 for each in laid)


def test_a_piece_is_laid_so_that_it_needs_the_fewest_sheets() -> None:
    strap = Piece(name="strap", outline=((0, 0), (240, 0), (240, 100), (0, 100)))
    job = Job(name="j", articles=(Article(name="a", sets=1, pieces=(strap,)),))
    sheets = full_size_sheets(job)
    assert len(sheets.booklet.pages) == 2
    assert sheets.laid[0].turn == 90.0
