"""The drawing of a lace: every run where it lies, seen or behind, with the numbers of its holes."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from nestplan.drawing.primitives import Circle, Outline, Picture, Text
from nestplan.model.laced_joins import LacedRow, WorkedEdge, WorkedJoin
from nestplan.model.lacing import LACE_PATHS, lace_runs
from nestplan.sheets.lacing_diagram import draw_edge, draw_join, route_words
from tests.small_jobs import laced_job


def _join(**fields: object) -> WorkedJoin:
    job = laced_job(**fields)  # type: ignore[arg-type]
    return job.worked_joins(job.articles[0])[0]


def _edge(**fields: object) -> WorkedEdge:
    import msgspec

    job = laced_job()
    article = job.articles[0]
    edges = tuple(msgspec.structs.replace(edge, **fields) for edge in article.laced_edges)
    return job.worked_edges(msgspec.structs.replace(article, laced_edges=edges))[0]


def _words(picture: Picture) -> list[str]:
    return [item.words for item in picture.on("numbers") if isinstance(item, Text)]


def _dashed(picture: Picture) -> int:
    return sum(
        isinstance(item, Outline) and bool(item.stroke and item.stroke.dash) for item in picture.on("lace")
    )


@pytest.mark.parametrize("path", LACE_PATHS.names)
def test_every_run_of_the_lace_is_drawn_to_one_scale(path: str) -> None:
    worked = _join(path=path)
    picture = draw_join(worked, 84.0, 82.0)
    runs = lace_runs(LACE_PATHS[path], *worked.columns(worked.join.gap))
    wanted = [end - start for points, _ in runs for start, end in pairwise(points)]
    drawn = [
        item.rings[0][1] - item.rings[0][0]
        for item in picture.on("lace")
        if isinstance(item, Outline) and item.stroke is not None and item.stroke.color == "#000000"
    ]
    scale = np.hypot(*drawn[0]) / np.hypot(*wanted[0])
    np.testing.assert_allclose(np.array(drawn), np.array(wanted) * scale, atol=1e-6)
    assert _dashed(picture) == sum(hidden for _, behind in runs for hidden in behind)
    xmin, ymin, xmax, ymax = picture.bounds()
    assert xmax - xmin <= 84.5
    assert ymax - ymin <= 82.5


def test_holes_carry_their_numbers_and_the_ends_their_words() -> None:
    words = _words(draw_join(_join(), 84.0, 82.0))
    assert [words.count(str(number)) for number in range(1, 7)] == [2] * 6
    assert words[-3:] == ["middle of the lace", "first end", "second end"]
    assert _words(draw_join(_join(path="spiral"), 84.0, 82.0))[-2:] == ["start", "end"]


def test_skipped_holes_are_drawn_without_a_number() -> None:
    rows = (LacedRow(piece="front", row="front edge", skip=(3,)),)
    picture = draw_join(_join(rows=rows), 84.0, 82.0)
    assert "3" not in _words(picture)
    assert len([item for item in picture.on("holes") if isinstance(item, Circle)]) == 12


def test_the_way_is_told_hole_by_hole_by_the_numbers_of_the_row() -> None:
    rows = (LacedRow(piece="front", row="front edge", skip=(2, 4, 5, 6)),)
    assert route_words(_join(rows=rows)) == [
        "first end: left 1, right 1, left 3",
        "second end: left 1, right 3",
    ]
    assert route_words(_join(rows=rows, path="spiral")) == ["left 1, right 1, left 3, right 3"]


def test_an_edge_is_drawn_with_its_first_holes_and_how_many_there_are() -> None:
    whip = draw_edge(_edge(), 160.0)
    assert whip is not None
    assert _words(whip)[-2:] == ["14", "… to 25"]
    running = draw_edge(_edge(stitch="running"), 160.0)
    assert running is not None
    assert (_dashed(whip), _dashed(running)) == (13, 6)
    assert draw_edge(_edge(stitch="double loop"), 160.0) is None


def test_of_a_pair_the_hand_that_has_its_row_at_the_gap_lies_on_that_side() -> None:
    def names(row: str) -> list[str]:
        picture = draw_join(_join(rows=(LacedRow(piece="front", row=row),)), 84.0, 82.0)
        return [item.words for item in picture.on("names") if isinstance(item, Text)]

    assert names("front edge") == ["front, left", "front, right"]
    assert names("side edge") == ["front, right", "front, left"]
