"""The sheets' PDFs read back with PDFium (pypdfium2), which shares no code with what wrote them."""

from __future__ import annotations

import functools
import math

import numpy as np
import pytest
import shapely

from nestplan.drawing.pdf import pdf_bytes
from nestplan.estimate.supplies import shopping_list
from nestplan.model.piece import cut_ring
from nestplan.sheets.cut_sheet import cut_sheet_booklet
from nestplan.sheets.cutting_order import cutting_steps
from nestplan.sheets.full_size import FullSizeSheets, full_size_sheets
from nestplan.sheets.job_sheet import job_sheet_booklet
from nestplan.sheets.lesson_sheet import lesson_sheet_booklet
from tests.sheets.pdf_reading import ReadPage, read_pdf
from tests.sheets.sample_plans import belt_plan
from tests.sheets.test_full_size import large_job

# ISO 216:2007 for A4 and A3; 8.5 x 11 in for Letter (ANSI/ASME Y14.1). Millimetres, upright.
SIZES = {"a4": (210.0, 297.0), "a3": (297.0, 420.0), "letter": (215.9, 279.4)}


@functools.cache
def full_size(paper: str) -> tuple[FullSizeSheets, list[ReadPage]]:
    sheets = full_size_sheets(large_job(), paper=paper)
    return sheets, read_pdf(pdf_bytes(sheets.booklet))


@pytest.mark.parametrize("paper", ["a4", "letter", "a3", "roll"])
def test_the_gauges_are_true_to_a_twentieth_of_a_millimetre(paper: str) -> None:
    for page in full_size(paper)[1]:
        level = [line for line in page.lines if len(line) == 2 and abs(line[0, 1] - line[1, 1]) < 0.01]
        lengths = np.array([abs(line[1, 0] - line[0, 0]) for line in level])
        assert np.abs(lengths - 100.0).min() <= 0.05
        assert np.abs(lengths - 101.6).min() <= 0.05


@pytest.mark.parametrize("paper", ["a4", "letter", "a3"])
def test_pages_have_their_standard_size_and_ten_millimetres_stay_white(paper: str) -> None:
    plan, job, hides = belt_plan()
    booklets = [
        full_size_sheets(large_job(), paper=paper).booklet,
        cut_sheet_booklet(plan, job, hides, paper=paper),
        job_sheet_booklet(job, shopping_list(job), plan=plan, paper=paper),
        lesson_sheet_booklet(plan, job, hides, paper=paper),
    ]
    for booklet in booklets:
        for page in read_pdf(pdf_bytes(booklet)):
            assert sorted((page.width, page.height)) == pytest.approx(sorted(SIZES[paper]), abs=0.02)
            boxes = np.array(page.boxes)
            # PDFium counts a stroke's width into its box.
            assert boxes[:, :2].min() >= 10.0
            assert (page.width - boxes[:, 2]).min() >= 10.0
            assert (page.height - boxes[:, 3]).min() >= 10.0


@pytest.mark.parametrize("paper", ["a4", "letter", "a3", "roll"])
def test_outlines_equal_the_model_when_the_tiles_are_put_together_by_their_crosses(paper: str) -> None:
    sheets, pages = full_size(paper)
    job = large_job()
    templates = {(each.piece, each.layers) for each in sheets.laid}
    assert {name for name, _ in templates} == {piece.name for piece in job.articles[0].pieces}
    for name, layers in templates:
        piece = job.piece(name)
        laid = [each for each in sheets.laid if (each.piece, each.layers) == (name, layers)]
        crosses: dict[int, tuple[float, float]] = {}
        drawn: list[np.ndarray] = []
        origin = None
        for each in sorted(laid, key=lambda each: each.tile):
            page = pages[each.page - 1]
            seen = {
                cross.number: (cross.x, cross.y)
                for cross in each.crosses
                if _is_cross(page, cross.x, cross.y)
            }
            assert len(seen) == len(each.crosses)
            # The first sheet is laid down; each further one is moved until a known cross meets its like.
            shared = [number for number in seen if number in crosses]
            if origin is None:
                shift, origin = np.zeros(2), np.array((each.x, each.y))
            else:
                assert shared
                shift = np.array(crosses[shared[0]]) - np.array(seen[shared[0]])
            crosses.update(
                {n: (x + shift[0], y + shift[1]) for n, (x, y) in seen.items() if n not in crosses}
            )
            drawn.extend(line + shift for line in page.lines)
        assert origin is not None
        turn = math.radians(laid[0].turn)
        matrix = np.array(((math.cos(turn), math.sin(turn)), (-math.sin(turn), math.cos(turn))))
        union = shapely.union_all([shapely.LineString(line) for line in drawn])
        overcuts = [cut.overcut for cut in piece.cuts if cut.overcut and cut.layer in layers]
        widths = {width for overcut in overcuts for width in (overcut.least, overcut.wished)}
        rings = [piece.ring, *(cut_ring(piece.ring, overcut) for overcut in widths)]
        for ring in rings:
            wanted = shapely.LinearRing(ring @ matrix + origin)
            spots = shapely.line_interpolate_point(wanted, np.arange(0.0, wanted.length, 0.7))
            assert shapely.distance(union, spots).max() <= 0.1
            for corner in ring @ matrix + origin:
                assert union.distance(shapely.Point(corner)) <= 0.1


def _is_cross(page: ReadPage, x: float, y: float) -> bool:
    """Whether two short lines, one level and one upright, are centred there."""
    centred = [
        line
        for line in page.lines
        if len(line) == 2
        and np.abs(line.mean(axis=0) - (x, y)).max() < 0.05
        and 7.5 < np.hypot(*(line[1] - line[0])) < 8.5
    ]
    return any(abs(line[0, 0] - line[1, 0]) < 0.01 for line in centred) and any(
        abs(line[0, 1] - line[1, 1]) < 0.01 for line in centred
    )


def test_punched_holes_are_drawn_at_their_true_diameter() -> None:
    sheets, pages = full_size("a3")
    (laid,) = (each for each in sheets.laid if each.piece == "front" and "outer" in each.layers)
    lines = pages[laid.page - 1].lines
    # A circle comes back as the end points of its four arcs, each on the circle.
    rounds = [line for line in lines if len(line) in (13, 14) and np.ptp(line[:, 0]) < 8.0]
    widths = [float(np.ptp(line[:, 0])) for line in rounds]
    assert sum(abs(width - 5.0) < 0.05 for width in widths) == 4


def test_text_is_text_and_its_fonts_are_inside() -> None:
    plan, job, hides = belt_plan()
    pages = read_pdf(pdf_bytes(cut_sheet_booklet(plan, job, hides)))
    words = " ".join(page.words for page in pages)
    for needed in ("Cow side A", "front, outer, left", "waist strap 1100 × 40 mm", "backbone", "324.4°"):
        assert needed in words
    for page in (*pages, *full_size("a4")[1]):
        assert page.fonts
        assert all(page.fonts.values())


def test_the_scale_drawing_shows_each_piece_at_its_scale() -> None:
    plan, job, hides = belt_plan()
    pages = read_pdf(pdf_bytes(cut_sheet_booklet(plan, job, hides)))
    page = next(page for page in pages if "grain side up, drawn 1" in page.words)
    edges = [shapely.Polygon(line) for line in page.lines if len(line) > 30]
    hide = max(edges, key=lambda shape: shape.area)
    ratio = math.sqrt(shapely.Polygon(hides[0].ring).area / hide.area)
    assert f"drawn 1 : {ratio:.1f}" in page.words
    shapes = [shapely.Polygon(line) for line in page.lines if len(line) > 3]
    for cut in cutting_steps(plan, job, hides[0]):
        for member in cut.members:
            wanted = shapely.Polygon(plan.placements[member].cut_ring).area / ratio**2
            assert min(abs(shape.area - wanted) for shape in shapes) <= 0.002 * wanted


def test_a_plan_of_five_hundred_pieces_is_printed_whole() -> None:
    from tests.sheets.sample_plans import many_plan

    plan, job, hides = many_plan(500)
    words = " ".join(page.words for page in read_pdf(pdf_bytes(cut_sheet_booklet(plan, job, hides))))
    for hide in hides:
        assert hide.name in words
    for number in range(1, 126):
        assert words.split().count(str(number)) >= 8
