"""Tiles: they cover the drawing, overlap, and share their crosses."""

from __future__ import annotations

import shapely
from hypothesis import given
from hypothesis import strategies as st

from nestplan.drawing.tiling import OVERLAP, tiled


@given(st.floats(20, 900), st.floats(20, 900), st.floats(120, 300), st.floats(120, 400))
def test_tiles_cover_the_drawing_and_overlap(width: float, height: float, wide: float, high: float) -> None:
    tiling = tiled((0.0, 0.0, width, height), wide, high)
    union = shapely.union_all([shapely.box(*each.window) for each in tiling.tiles])
    assert union.buffer(1e-6).contains(shapely.box(0.0, 0.0, width, height))
    for one in tiling.tiles:
        for other in tiling.tiles:
            if other.row == one.row and other.column == one.column + 1:
                assert one.window[2] - other.window[0] >= OVERLAP - 1e-6
            if other.column == one.column and other.row == one.row + 1:
                assert other.window[3] - one.window[1] >= OVERLAP - 1e-6
    if len(tiling.tiles) > 1:
        assert all(len(tiling.crosses_on(each)) >= 2 for each in tiling.tiles)


@given(st.floats(300, 900), st.floats(300, 900))
def test_tiles_that_are_not_needed_are_left_out_and_the_rest_still_meet(width: float, height: float) -> None:
    angle = shapely.Polygon(((0, 0), (width, 0), (width, 40), (40, 40), (40, height), (0, height)))
    tiling = tiled(
        (0.0, 0.0, width, height), 190.0, 250.0, needed=lambda box: angle.intersects(shapely.box(*box))
    )
    whole = tiled((0.0, 0.0, width, height), 190.0, 250.0)
    assert len(tiling.tiles) <= len(whole.tiles)
    assert [each.number for each in tiling.tiles] == list(range(1, len(tiling.tiles) + 1))
    union = shapely.union_all([shapely.box(*each.window) for each in tiling.tiles])
    assert union.buffer(1e-6).contains(angle)
    for cross in tiling.crosses:
        assert sum(cross in tiling.crosses_on(each) for each in tiling.tiles) > 1
    # Laid down one by one, each further sheet has a cross in common with one that lies already.
    laid, left = [tiling.tiles[0]], list(tiling.tiles[1:])
    while left:
        known = {cross.number for each in laid for cross in tiling.crosses_on(each)}
        meeting = [each for each in left if known & {cross.number for cross in tiling.crosses_on(each)}]
        assert meeting
        laid.extend(meeting)
        left = [each for each in left if each not in meeting]
