"""Kernels of the broad phase: which bodies may come near a box, by a grid of bit sets.

Each cell of a field's grid holds one bit for each body whose box touches the cell; the bodies near a box are the union
of its cells' bits, 64 bodies at a time. Cells beyond the field are taken for the nearest at its rim, so that what lies
outside is found as well. Boxes are (left, bottom, right, top), ranges of cells likewise, the last included.
"""

from __future__ import annotations

import numpy as np

from nestplan.nesting.arrays.compile_options import FLAT
from nestplan.nesting.arrays.kernel_cache import kernel
from nestplan.nesting.arrays.records import SearchState

MOST_CELLS = 32
"""Cells along a side of a grid at the most."""

_DE_BRUIJN = np.uint64(0x03F79D71B4CB0A89)
"""A de Bruijn sequence of 64 bits: times a single bit, its six highest bits tell which bit that is."""
_BIT_OF = np.zeros(64, np.int64)
for _bit in range(64):
    _BIT_OF[((int(_DE_BRUIJN) << _bit) & 0xFFFFFFFFFFFFFFFF) >> 58] = _bit


@kernel(**FLAT, forceinline=True)
def lowest_bit(word: int) -> int:
    """Which is the lowest bit set in a word (uint64) that is not zero."""
    return _BIT_OF[((word & (~word + np.uint64(1))) * _DE_BRUIJN) >> np.uint64(58)]


@kernel(**FLAT, forceinline=True)
def cell_at(value: float, low: float, cells_per_mm: float, count: int) -> int:
    """The cell, 0 to count - 1, that a coordinate falls in or is nearest to."""
    return min(max(int((value - low) * cells_per_mm), 0), count - 1)


@kernel(**FLAT, forceinline=True)
def cells_touched(
    state: SearchState, field: int, box: tuple[float, float, float, float]
) -> tuple[int, int, int, int]:
    """The range of cells of a field's grid that a box touches."""
    left, bottom, right, top = box
    columns = state.cell_bodies.shape[2]
    rows = state.cell_bodies.shape[1]
    return (
        cell_at(left, state.grid[field, 0], state.grid[field, 2], columns),
        cell_at(bottom, state.grid[field, 1], state.grid[field, 3], rows),
        cell_at(right, state.grid[field, 0], state.grid[field, 2], columns),
        cell_at(top, state.grid[field, 1], state.grid[field, 3], rows),
    )


@kernel(**FLAT)
def mark_cells(state: SearchState, body: int, field: int, set_bits: bool) -> None:
    """Set or clear a body's bit in the cells that its box touches."""
    box = state.body_box[body]
    i0, j0, i1, j1 = cells_touched(state, field, (box[0], box[1], box[2], box[3]))
    word = body >> 6
    bit = np.uint64(1) << np.uint64(body & 63)
    for j in range(j0, j1 + 1):
        for i in range(i0, i1 + 1):
            if set_bits:
                state.cell_bodies[field, j, i, word] |= bit
            else:
                state.cell_bodies[field, j, i, word] &= ~bit


@kernel(**FLAT, forceinline=True)
def bodies_near(state: SearchState, field: int, word: int, cells: tuple[int, int, int, int]) -> np.uint64:
    """The bodies numbered 64 · word and on that have a box in a range of cells of a field, as bits."""
    i0, j0, i1, j1 = cells
    bits = np.uint64(0)
    for j in range(j0, j1 + 1):
        for i in range(i0, i1 + 1):
            bits |= state.cell_bodies[field, j, i, word]
    return bits


@kernel(**FLAT, forceinline=True)
def touches_body(state: SearchState, body: int, box: tuple[float, float, float, float]) -> bool:
    """Whether the box of a body and another box have more than an edge in common."""
    left, bottom, right, top = box
    return (
        state.body_box[body, 0] < right
        and state.body_box[body, 2] > left
        and state.body_box[body, 1] < top
        and state.body_box[body, 3] > bottom
    )
