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
