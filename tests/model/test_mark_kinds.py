"""Each kind of mark means one thing wherever marks are checked, counted, listed and drawn."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from nestplan.errors import InputError
from nestplan.estimate.supplies import shopping_list
from nestplan.geometry.pose import Pose
from nestplan.model import Mark, Piece
from nestplan.model.mark_kinds import MARK_KINDS, MarkKind, register_mark_kind, unregister_mark_kind
from tests.small_jobs import SQUARE, one_piece_job

ROSETTE = MarkKind(
    name="rosette",
    measure="diameter",
    needs_measure="A rosette needs a diameter.",
    has_direction=False,
    cuts=True,
    goes_through=True,
    takes_hardware=True,
    symbol="circle",
    choice="rosette to punch",
    template_words="punch a rosette {size} across",
    job_words="rosette {size}",
    layer="rosette",
)


@pytest.fixture
def rosette() -> Iterator[MarkKind]:
    register_mark_kind(ROSETTE)
    yield ROSETTE
    unregister_mark_kind(ROSETTE.name)


def test_a_mark_is_as_large_as_its_kind_is_measured() -> None:
    assert Mark(at=(0.0, 0.0), do="punch", diameter=4.0).size == 4.0
    assert Mark(at=(0.0, 0.0), do="slit", length=20.0).size == 20.0
    assert Mark(at=(0.0, 0.0), length=20.0).size is None


@pytest.mark.parametrize(
    ("do", "place", "what"),
    [("punch", "diameter", "A punched hole needs a diameter."), ("slit", "length", "A slit needs a length.")],
)
def test_a_mark_without_its_measure_is_refused(do: str, place: str, what: str) -> None:
    with pytest.raises(InputError) as caught:
        Mark(at=(0.0, 0.0), do=do)
    assert (caught.value.place, caught.value.what) == (place, what)


def test_a_kind_nobody_registered_is_refused() -> None:
    with pytest.raises(InputError, match="'rosette' is none of the words allowed here"):
        Mark(at=(0.0, 0.0), do="rosette", diameter=8.0)


def test_a_slit_lies_along_its_angle_with_its_point_in_the_middle() -> None:
    for angle in (0.0, 30.0, 90.0, 200.0):
        slit = Mark(at=(10.0, 20.0), do="slit", length=8.0, angle=angle)
        assert slit.ends.mean(axis=0) == pytest.approx((10.0, 20.0))
        assert slit.ends[1] == pytest.approx(Pose(10.0, 20.0, angle).apply([(4.0, 0.0)])[0])


def test_a_registered_kind_is_checked_warned_of_and_bought(rosette: MarkKind) -> None:
    with pytest.raises(InputError, match="A rosette needs a diameter"):
        Mark(at=(50.0, 50.0), do="rosette")
    near_the_edge = Mark(at=(2.0, 50.0), do="rosette", diameter=8.0, what="rosette rivet")
    piece = Piece(name="square", outline=SQUARE, marks=(near_the_edge,))
    assert "at least 13.3 mm is usual" in piece.warnings()[0]
    (bought,) = [each for each in shopping_list(one_piece_job(piece)).totals if not each.cut]
    assert bought.what == "rosette rivet"


def test_a_registered_kind_is_on_the_sheets_and_in_the_list_to_choose_from(rosette: MarkKind) -> None:
    from nestplan.sheets.drawing_files import piece_lines

    mark = Mark(at=(50.0, 50.0), do="rosette", diameter=8.0)
    piece = Piece(name="square", outline=SQUARE, marks=(mark,))
    assert piece_lines(one_piece_job(piece)).on("rosette")
    assert "rosette to punch" in [kind.choice for kind in MARK_KINDS]
