"""In which region a placed piece lies: one answer on every sheet."""

from __future__ import annotations

import shapely

from nestplan.model.rules import Zone
from nestplan.sheets.piece_region import region_of
from tests.yields.test_mates import at

BACK = Zone("back", 5, None, shapely.box(0, 0, 40, 60))
BELLY = Zone("belly", 1, None, shapely.box(40, 0, 200, 60))


def test_a_piece_over_a_border_lies_where_most_of_it_lies() -> None:
    assert region_of((BACK, BELLY), at(0.0, 1)) is BELLY
    assert region_of((BELLY, BACK), at(-70.0, 1)) is BACK
    assert region_of((), at(0.0, 1)) is None
