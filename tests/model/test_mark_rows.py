"""Rows of marks: where each mark lies, what is refused, and how a piece tells and carries them."""

from __future__ import annotations

import json
import math
from pathlib import Path

import msgspec
import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from nestplan.errors import InputError, ShapeError
from nestplan.geometry.edge_line import line_along_edge
from nestplan.geometry.ring import make_ring
from nestplan.model.files import read_job, write_job
from nestplan.model.job import Article, Job
from nestplan.model.layer_work import work_after_trimming, work_at_table
from nestplan.model.mark_rows import Row, marks_of_row
from nestplan.model.piece import LayerCut, Piece

PANEL = ((0.0, 0.0), (120.0, 0.0), (120.0, 90.0), (0.0, 90.0))
RING = make_ring(PANEL)


def _row(**fields: object) -> Row:
    given: dict[str, object] = {"name": "side", "start": (120.0, 0.0), "end": (120.0, 90.0), "inset": 11.0}
    return Row(**(given | {"number": 4, "diameter": 5.0} | fields))  # type: ignore[arg-type]


def _places(row: Row) -> np.ndarray:
    return np.array([mark.at for mark in marks_of_row(row, RING)])


def test_a_number_of_holes_stands_from_end_to_end_of_the_row() -> None:
    places = _places(_row())
    np.testing.assert_allclose(places, [(109, 11 + 68 / 3 * n) for n in range(4)], atol=2e-4)


def test_what_a_pitch_leaves_over_is_shared_by_both_ends() -> None:
    # hand count: 90 - 2 x 11 = 68 mm of line; three steps of 20 mm leave 8 mm, 4 at each end
    places = _places(_row(number=None, pitch=20.0))
    np.testing.assert_allclose(places, [(109, 15), (109, 35), (109, 55), (109, 75)], atol=2e-4)


@pytest.mark.parametrize("rounded", [-4e-5, -1e-5, 0.0, 1e-5, 4e-5])
def test_a_row_whose_steps_come_out_even_keeps_its_holes_when_files_round_its_length(rounded: float) -> None:
    even = _places(_row(number=None, pitch=17.0 + rounded, ends=abs(rounded)))
    np.testing.assert_allclose(even, [(109, 11 + 17 * n) for n in range(5)], atol=3e-4)


def test_ends_are_kept_free() -> None:
    number = _places(_row(ends=4.0))
    np.testing.assert_allclose(number[[0, -1]], [(109, 15), (109, 75)], atol=2e-4)
    pitch = _places(_row(number=None, pitch=20.0, ends=5.0))
    np.testing.assert_allclose(pitch, [(109, 25), (109, 45), (109, 65)], atol=2e-4)


def test_clockwise_numbers_the_holes_from_the_other_side() -> None:
    there = _places(_row())
    back = _places(_row(start=(120.0, 90.0), end=(120.0, 0.0), clockwise=True))
    np.testing.assert_allclose(back, there[::-1], atol=2e-4)


def test_all_the_way_round_the_pitch_comes_out_even() -> None:
    # hand count: the line 10 mm inside is 100 + 70 + 100 + 70 = 340 mm; 22 steps of 15 fit, each 15.45 mm
    places = _places(_row(start=(0.0, 45.0), end=None, inset=10.0, number=None, pitch=15.0))
    assert len(places) == 22
    line = shapely.LineString(line_along_edge(RING, (0.0, 45.0), None, inset=10.0))
    along = sorted(line.project(shapely.Point(place)) for place in places)
    np.testing.assert_allclose(np.diff(along), 340 / 22, atol=2e-3)


def test_slits_turn_with_the_row() -> None:
    along = marks_of_row(_row(do="slit", diameter=None, length=6.0), RING)
    across = marks_of_row(_row(do="slit", diameter=None, length=6.0, angle=90.0), RING)
    assert {mark.angle for mark in along} == {90.0}
    assert {mark.angle for mark in across} == {0.0}


def test_a_row_on_a_line_needs_no_edge() -> None:
    row = Row(name="darts", along="line", start=(20.0, 20.0), end=(60.0, 50.0), number=3, do="mark")
    np.testing.assert_allclose(_places(row), [(20, 20), (40, 35), (60, 50)])


@pytest.mark.parametrize(
    ("fields", "place", "words"),
    [
        ({"pitch": 12.0}, "pitch", "both a pitch and a number"),
        ({"number": None}, "pitch", "neither a pitch nor a number"),
        ({"number": 1}, "number", "from 2 to 1,000"),
        ({"diameter": None}, "diameter", "needs a diameter"),
        ({"end": None, "ends": 5.0}, "ends", "no ends"),
        ({"along": "line"}, "inset", "no edge to keep off"),
        ({"along": "line", "inset": 0.0, "end": None}, "end", "has no end"),
        ({"do": "stitch"}, "do", "none of the words"),
        ({"pitch": 0.0, "number": None}, "pitch", "between 0.01"),
    ],
)
def test_a_row_that_says_too_much_or_too_little_is_refused(
    fields: dict[str, object], place: str, words: str
) -> None:
    with pytest.raises(InputError, match=words) as raised:
        _row(**fields)
    assert raised.value.place == place
    assert raised.value.mend


@pytest.mark.parametrize(
    ("fields", "place", "words"),
    [
        ({"number": None, "pitch": 90.0}, "pitch", "no room for two"),
        ({"ends": 40.0}, "end", "no room for two"),
        ({"inset": 60.0}, "inset", "nowhere wide enough"),
        ({"start": (60.0, 45.0)}, "start", "45 mm from it"),
        ({"number": None, "pitch": 0.05}, "pitch", "makes up to 1,000"),
    ],
)
def test_a_row_without_a_place_on_its_piece_is_refused(
    fields: dict[str, object], place: str, words: str
) -> None:
    with pytest.raises(InputError, match=words) as raised:
        Piece(name="front", outline=PANEL, rows=(_row(**fields),))
    assert raised.value.place == f"rows[0].{place}"
    assert raised.value.mend


def test_a_row_that_leaves_the_piece_is_refused_with_its_first_mark_outside() -> None:
    row = Row(name="hem", along="line", start=(100.0, 45.0), end=(140.0, 45.0), number=5, do="mark")
    with pytest.raises(
        ShapeError, match=r"leaves the piece: its mark 4 would be at \(130.0, 45.0\)"
    ) as raised:
        Piece(name="front", outline=PANEL, rows=(row,))
    assert raised.value.place == "rows[0]"


def test_two_rows_of_one_name_and_layers_that_are_not_there_are_refused() -> None:
    with pytest.raises(InputError, match="stands twice"):
        Piece(name="front", outline=PANEL, rows=(_row(), _row()))
    with pytest.raises(InputError, match="no layer 'felt'") as raised:
        Piece(name="front", outline=PANEL, rows=(_row(layers=("felt",)),))
    assert raised.value.place == "rows[0].layers"


def test_a_piece_warns_of_a_row_once() -> None:
    near = Piece(name="front", outline=PANEL, rows=(_row(inset=6.0, number=5),))
    assert near.warnings() == (
        "front, row 'side': 5 of 5 holes of 5.0 mm have their centre nearer to the edge than is usual, down to 6.0 mm; "
        "at least 8.3 mm is usual.",
    )
    close = Piece(name="front", outline=PANEL, rows=(_row(number=None, pitch=6.0),))
    assert close.warnings() == (
        "front, row 'side': only 1.0 mm of leather is left between two holes of 5.0 mm; half a hole is usual at least.",
    )
    touching = Piece(name="front", outline=PANEL, rows=(_row(number=None, pitch=4.0),))
    assert touching.warnings() == ("front, row 'side': the holes run into each other.",)
    slits = _row(do="slit", diameter=None, length=30.0, angle=90.0, number=3)
    assert Piece(name="front", outline=PANEL, rows=(slits,)).warnings() == (
        "front, row 'side': 3 of 3 slits of 30.0 mm run through the edge.",
    )
    assert Piece(name="front", outline=PANEL, rows=(_row(),)).warnings() == ()


def test_marks_of_a_row_are_done_to_the_layers_and_at_the_time_that_single_marks_would_be() -> None:
    cuts = (LayerCut(layer="outer"), LayerCut(layer="lining"))
    spots = Row(name="studs", along="line", start=(20.0, 20.0), end=(90.0, 20.0), number=3, do="mark")
    piece = Piece(name="front", outline=PANEL, cuts=cuts, rows=(_row(), spots))
    assert len(work_after_trimming(piece).marks) == 4
    assert [mark.do for mark in work_at_table(piece, "outer").marks] == ["mark"] * 3
    assert not work_at_table(piece, "lining")


def test_a_row_is_written_as_a_row_and_read_again(tmp_path: Path) -> None:
    piece = Piece(name="front", outline=PANEL, rows=(_row(number=None, pitch=12.7),))
    job = Job(name="rows", articles=(Article(name="belt", sets=1, pieces=(piece,)),))
    path = tmp_path / "rows.job.json"
    write_job(path, job)
    assert read_job(path) == job
    assert len(msgspec.json.decode(path.read_bytes())["articles"][0]["pieces"][0]["rows"]) == 1
    assert "marks" not in path.read_text()


def test_lengths_of_a_row_may_have_units(tmp_path: Path) -> None:
    path = tmp_path / "rows.job.json"
    row = {"name": "side", "start": [120, 0], "end": [120, 90]}
    row |= {"inset": "7/16 in", "pitch": "5/8 in", "diameter": "3/16 in"}
    piece = {"name": "p", "outline": PANEL, "rows": [row]}
    job = {"nestplan": 1, "kind": "job", "name": "rows"}
    path.write_text(json.dumps(job | {"articles": [{"name": "belt", "sets": 1, "pieces": [piece]}]}))
    read = read_job(path).piece("p").row("side")
    assert (read.inset, read.pitch, read.diameter) == pytest.approx((11.1125, 15.875, 4.7625))


@st.composite
def _outlines(draw: st.DrawFn) -> np.ndarray:
    count = draw(st.integers(4, 14))
    reaches = draw(st.lists(st.floats(70.0, 150.0), min_size=count, max_size=count))
    angles = np.arange(count) * 2 * math.pi / count
    return make_ring(np.column_stack((np.cos(angles), np.sin(angles))) * np.array(reaches)[:, None])


@given(_outlines(), st.floats(0.0, 25.0), st.floats(8.0, 60.0), st.floats(0.0, 10.0), st.booleans())
def test_marks_stand_a_pitch_apart_along_the_inset_line_with_equal_ends(
    ring: np.ndarray, inset: float, pitch: float, ends: float, clockwise: bool
) -> None:
    start, end = tuple(map(float, ring[0])), tuple(map(float, ring[len(ring) // 2]))
    row = Row(
        name="r", start=start, end=end, inset=inset, pitch=pitch, ends=ends, clockwise=clockwise, do="mark"
    )
    line = shapely.LineString(line_along_edge(ring, start, end, inset=inset, clockwise=clockwise))
    if line.length - 2 * ends + 0.01 < pitch:
        with pytest.raises(InputError, match="no room"):
            marks_of_row(row, ring)
        return
    marks = marks_of_row(row, ring)
    # By shapely: each mark lies on the line, at an arc length of its own.
    first = (line.length - (len(marks) - 1) * pitch) / 2
    # Half a hundredth of a millimetre less is no reason for a mark less.
    assert ends - 0.005 - 1e-6 <= first < ends + pitch / 2 + 1e-6
    for number, mark in enumerate(marks):
        expected = line.interpolate(first + number * pitch)
        assert expected.distance(shapely.Point(mark.at)) <= 2e-4
