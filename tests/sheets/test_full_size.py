from __future__ import annotations

import math

import msgspec
import numpy as np
import pytest
import shapely

from nestplan.drawing.primitives import Circle, Outline, Text
from nestplan.drawing.tiling import OVERLAP
from nestplan.geometry.pose import Pose
from nestplan.model import Article, Job, Opening, Part, Piece
from nestplan.model.layer_work import layers_of
from nestplan.model.piece import cut_ring
from nestplan.sheets.full_size import PieceOnPage, full_size_sheets
from nestplan.sheets.piece_layers import piece_layers
from nestplan.sheets.piece_template import draw_template
from nestplan.sheets.unit_formatting import UnitFormatter
from tests.sheets.looking import beyond, overprinted, words_of
from tests.sheets.sample_plans import belt_job, front, layered_plan, points, rowed_plan


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
    sheets = full_size_sheets(large_job())
    for layer in ("outer", "lining"):
        _crosses_meet([each for each in sheets.laid if (each.piece, each.layers) == ("back panel", (layer,))])


def _crosses_meet(laid: list[PieceOnPage]) -> None:
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


def diagonal(length: float, width: float) -> Piece:
    """A straight band at 52 degrees: no turn by 90 degrees fits it on a small sheet."""
    along, across = np.array((math.cos(0.9), math.sin(0.9))), np.array((-math.sin(0.9), math.cos(0.9)))
    corners = [n * length * along + k * width * across for n, k in ((0, 0), (1, 0), (1, 1), (0, 1))]
    return Piece(name="band", outline=points(np.array(corners)), note="Cut with a rule.")


def job_of(*pieces: Piece) -> Job:
    return Job(name="j", articles=(Article(name="a", sets=1, pieces=pieces),))


def test_a_long_band_is_turned_onto_the_fewest_sheets() -> None:
    assert len({each.page for each in full_size_sheets(job_of(diagonal(270.0, 30.0))).laid}) == 1
    # 470 mm lie on two sheets of 253 mm, which share 10 mm, only along them; the diagonal would take four.
    assert len({each.page for each in full_size_sheets(job_of(diagonal(470.0, 30.0))).laid}) == 2


def test_sheets_that_nothing_is_drawn_on_are_left_out() -> None:
    corner = ((0, 0), (500, 0), (500, 60), (60, 60), (60, 500), (0, 500))
    sheets = full_size_sheets(job_of(Piece(name="corner", outline=corner)))
    # A square of 500 mm takes nine sheets; an angle of it no more than six.
    assert 0 < len(sheets.laid) <= 6
    numbers = [each.tile for each in sheets.laid]
    assert numbers == list(range(1, len(numbers) + 1))
    assert all(len(each.crosses) >= 2 for each in sheets.laid)


@pytest.mark.parametrize("paper", ["a4", "letter", "a3"])
def test_the_caption_of_a_tiled_piece_takes_no_sheet_and_stands_once(paper: str) -> None:
    sheets = full_size_sheets(large_job(), paper=paper)
    words = [words_of(page.picture) for page in sheets.booklet.pages]
    for layer in ("outer", "lining"):
        mine = {each.page for each in sheets.laid if (each.piece, each.layers) == ("back panel", (layer,))}
        told = [
            number
            for number, told in enumerate(words, 1)
            if any(f"back panel, {layer}: 560" in w for w in told)
        ]
        assert len(told) == 1
        assert set(told) <= mine
    window = {"a4": (189.0, 253.5), "letter": (194.9, 235.9), "a3": (276.0, 376.5)}[paper]
    panel = large_job().piece("back panel").ring
    size = np.ptp(panel, axis=0) + 1.0

    def count(side: float, room: float) -> int:
        return max(1, math.ceil((side - OVERLAP) / (room - OVERLAP)))

    fewest = min(count(size[0], wide) * count(size[1], high) for wide, high in (window, window[::-1]))
    outer = [each for each in sheets.laid if (each.piece, each.layers) == ("back panel", ("outer",))]
    assert len(outer) <= fewest


def test_layers_that_are_treated_alike_share_a_template_and_others_have_their_own() -> None:
    _, job, _ = layered_plan()
    laid = {(each.piece, each.layers) for each in full_size_sheets(job).laid}
    assert {("front", ("outer",)), ("front", ("lining",))} <= laid
    plain = msgspec.structs.replace(job.piece("front"), holes=(), marks=())
    article = msgspec.structs.replace(job.articles[0], pieces=(plain,))
    shared = full_size_sheets(msgspec.structs.replace(job, articles=(article,))).laid
    assert [each.layers for each in shared] == [("outer", "lining")]


def test_the_lining_s_template_shows_no_work_of_the_outer() -> None:
    plan, job, _ = layered_plan()
    sheets = full_size_sheets(job, plan)
    (lining,) = (each for each in sheets.laid if each.layers == ("lining",))
    page = sheets.booklet.pages[lining.page - 1].picture
    turn = Pose(lining.x, lining.y, lining.turn)
    piece = job.piece("front")
    drawn = [
        np.array((item.x, item.y)) if isinstance(item, Circle) else item.rings[0].mean(axis=0)
        for layer in ("openings", "marks")
        for item in page.on(layer)
        if not isinstance(item, Text)
    ]
    assert drawn
    for item in (*piece.openings, *piece.marks):
        at = np.mean(item.outline, axis=0) if isinstance(item, Opening) else np.array(item.at)
        spot = turn.apply(at.reshape(1, 2))[0]
        near = any(np.hypot(*(spot - other)) < 1.0 for other in drawn)
        assert near == ("lining" in item.layers)
    told = " ".join(words for words, _ in _caption_of(job, "lining"))
    assert "label" in told
    assert not any(word in told for word in ("eyelet", "strap slit", "badge"))


def test_the_lining_s_template_shows_no_row_of_the_outer() -> None:
    plan, job, _ = rowed_plan()
    sheets = full_size_sheets(job, plan)
    piece = job.piece("front")
    for layer in ("outer", "lining"):
        (laid,) = (each for each in sheets.laid if each.piece == "front" and each.layers == (layer,))
        page = sheets.booklet.pages[laid.page - 1].picture
        drawn = [
            np.array((item.x, item.y)) if isinstance(item, Circle) else item.rings[0].mean(axis=0)
            for item in page.on("marks")
            if not isinstance(item, Text)
        ]
        for mark in piece.all_marks:
            spot = Pose(laid.x, laid.y, laid.turn).apply(np.array((mark.at,)))[0]
            near = any(np.hypot(*(spot - other)) < 1.0 for other in drawn)
            assert near == (layers_of(piece, mark)[0] == layer)
    told = " ".join(words for words, _ in _caption_of(job, "lining"))
    assert "label" in told
    assert not any(word in told for word in ("eyelet", "thong slit", "stud"))


def _caption_of(job: Job, layer: str) -> list[tuple[str, bool]]:
    article = job.articles[0]
    subject = next(each for each in piece_layers(article, job.piece("front")) if each.cuts[0].layer == layer)
    return draw_template(job, subject, UnitFormatter()).caption


def test_with_a_plan_the_widest_overcut_drawn_is_the_one_that_was_planned() -> None:
    plan, job, _ = layered_plan()
    wide = tuple(
        msgspec.structs.replace(placed, overcut=8.0) if placed.layer == "lining" else placed
        for placed in plan.placements
    )
    planned = msgspec.structs.replace(plan, placements=wide)
    ring = job.piece("front").ring
    for given, width in ((None, 10.0), (planned, 8.0)):
        sheets = full_size_sheets(job, given)
        (lining,) = (each for each in sheets.laid if each.layers == ("lining",))
        (widest,) = sheets.booklet.pages[lining.page - 1].picture.on("widest cut line")
        assert isinstance(widest, Outline)
        assert shapely.Polygon(widest.rings[0]).area == pytest.approx(
            shapely.Polygon(cut_ring(ring, width)).area
        )
    # The plan as it is gave the least everywhere: then no second line is drawn.
    least = full_size_sheets(job, plan)
    assert all(page.picture.on("widest cut line") == [] for page in least.booklet.pages)


def test_templates_share_the_first_page_and_hold_their_captions_where_that_saves_sheets() -> None:
    """Two panels of 120 x 100 mm, each in two templates: a legend page and a sheet for each would be five."""
    job = belt_job()
    panels = [
        msgspec.structs.replace(front(120.0, 100.0), name=name, parts=(), note="") for name in ("one", "two")
    ]
    article = msgspec.structs.replace(job.articles[0], pieces=tuple(panels), strips=())
    sheets = full_size_sheets(msgspec.structs.replace(job, articles=(article,)))
    assert len(sheets.laid) == 4
    assert [each.page for each in sheets.laid].count(1) == 1
    assert len(sheets.booklet.pages) <= 3
    for page in sheets.booklet.pages:
        assert beyond(page) == []
        assert overprinted(page.picture) == []
    told = [words for page in sheets.booklet.pages for words in words_of(page.picture)]
    assert sum("120" in words and "finished" in words for words in told) == 4
