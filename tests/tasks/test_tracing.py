from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import shapely
from PIL import Image

from nestplan.errors import Cancelled, InputError
from nestplan.intake.photo.reading import read_photo
from nestplan.tasks.tracing import (
    ClickedSheet,
    FoundSheet,
    TwoPoints,
    find_sheet,
    hide_of_photo,
    keep_straight_picture,
    require_another_file,
    suggested_flaws,
    trace_photo,
    write_photo_marks,
    write_trace_picture,
)
from tests.intake.photo_render import SHEETS, Rendered, photo_of_hide
from tests.intake.photo_scenes import ellipse, invented_outline


@pytest.fixture(scope="module")
def taken(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Rendered]:
    """A photograph of a hide with one spot and a sheet of A4, and how it was made."""
    path = tmp_path_factory.mktemp("photo") / "skin.jpg"
    outline = invented_outline("skin", 9)
    spot = ellipse(outline.mean(axis=0), 16, 12, 0.0)
    rendered = photo_of_hide(
        path, outline, [("grain", spot)], floor="grass", reference=SHEETS["A4"], width=1200, height=900
    )
    return path, rendered


def test_a_sheet_found_and_a_sheet_clicked_give_the_same_hide(taken: tuple[Path, Rendered]) -> None:
    path, rendered = taken
    steps: list[str] = []
    corners = find_sheet(path, SHEETS["A4"]).corners
    assert len(corners) == 4
    photo = read_photo(path)
    found = trace_photo(photo, FoundSheet(SHEETS["A4"]), on_step=steps.append)
    clicked = trace_photo(photo, ClickedSheet(SHEETS["A4"], corners), before=found)
    assert clicked.straight is not found.straight, "another scale: straightened anew"
    areas = [shapely.Polygon(each.outline.exterior).area for each in (found, clicked)]
    assert areas == pytest.approx([shapely.Polygon(rendered.scene.outline).area] * 2, rel=0.02)
    assert steps[0] == "drawing it as seen from above"
    assert len(steps) > 1


def test_flaws_are_suggested_and_become_the_hides_where_they_are_taken(
    taken: tuple[Path, Rendered], tmp_path: Path
) -> None:
    path, _ = taken
    traced = trace_photo(read_photo(path), FoundSheet(SHEETS["A4"]))
    flaws = suggested_flaws(traced).places
    bare = hide_of_photo(traced, name="skin", leather="goat", file="skin.jpg")
    full = hide_of_photo(traced, name="skin", leather="goat", flaws=flaws, date="2026-01-02")
    assert not [flaw for flaw in bare.flaws if flaw.spoils == "grain"]
    assert [flaw for flaw in full.flaws if flaw.spoils == "grain"]
    assert full.origin is not None
    assert full.origin.date == "2026-01-02"
    write_trace_picture(tmp_path / "trace.png", traced, flaws)
    with Image.open(tmp_path / "trace.png") as picture:
        assert picture.size[0] > 600


def test_the_straight_picture_lies_under_the_hide_and_is_kept_once(
    taken: tuple[Path, Rendered], tmp_path: Path
) -> None:
    path, _ = taken
    traced = trace_photo(read_photo(path), FoundSheet(SHEETS["A4"]))
    kept = keep_straight_picture(traced, str(path), tmp_path / "pictures")
    assert keep_straight_picture(traced, str(path), tmp_path / "pictures") == kept
    assert [each.name for each in (tmp_path / "pictures").iterdir()] == [Path(kept.file).name]
    matrix = np.reshape(kept.matrix, (3, 3))
    step = traced.straight.mm_per_pixel
    assert (matrix[0, 0], matrix[1, 1]) == (step, -step)
    # The lower left of the outline's bounds is the hide's origin.
    left, low = traced.outline.exterior.min(axis=0)
    column = (left - traced.straight.origin[0]) / step + 0.5
    row = (traced.straight.origin[1] - low) / step + 0.5
    assert matrix @ [column, row, 1.0] == pytest.approx([0.0, 0.0, 1.0], abs=1e-6)


def test_tracing_stops_when_it_is_told_to(taken: tuple[Path, Rendered]) -> None:
    with pytest.raises(Cancelled):
        trace_photo(read_photo(taken[0]), FoundSheet(SHEETS["A4"]), cancelled=lambda: True)


def test_two_points_at_one_place_give_no_scale(taken: tuple[Path, Rendered]) -> None:
    with pytest.raises(InputError, match="too close"):
        trace_photo(read_photo(taken[0]), TwoPoints((10.0, 10.0), (11.0, 10.0), 1500.0))


def test_the_marks_to_lay_round_a_hide_are_printed(tmp_path: Path) -> None:
    write_photo_marks(tmp_path / "marks.pdf", paper="A4")
    assert (tmp_path / "marks.pdf").read_bytes().startswith(b"%PDF")


def test_the_photograph_is_not_written_over(tmp_path: Path) -> None:
    photo = tmp_path / "a.jpg"
    photo.write_bytes(b"mine")
    require_another_file(photo, None)
    require_another_file(photo, tmp_path / "b.jpg")
    with pytest.raises(InputError, match="photograph itself"):
        require_another_file(photo, tmp_path / "." / "a.jpg")
