"""Kernels of the broad phase: which bodies may come near a box, by a grid of bit sets.

What lives here: the grid of a field kept up to date, and asking it. What does not: any test of shapes.

Each cell of a field's grid holds one bit for each body whose box touches the cell; the bodies near a box are the union
of its cells' bits, 64 bodies at a time. Cells beyond the field are taken for the nearest at its rim, so that what lies
outside is found as well.
"""

from __future__ import annotations

import numpy as np
from numba import njit

from nestplan.nesting.arrays.collision_kernels import INNER

MOST_CELLS = 32
"""Cells along a side of a grid at the most."""

_MIX = np.uint64(0x03F79D71B4CB0A89)
"""A de Bruijn sequence of 64 bits: times a single bit, its six highest bits tell which bit that is."""
_WHICH = np.zeros(64, np.int64)
for _bit in range(64):
    _WHICH[((int(_MIX) << _bit) & 0xFFFFFFFFFFFFFFFF) >> 58] = _bit


@njit(**INNER, forceinline=True)
def lowest_bit(word):
    """Which is the lowest bit set in a word (uint64) that is not zero."""
    return _WHICH[((word & (~word + np.uint64(1))) * _MIX) >> np.uint64(58)]


@njit(**INNER, forceinline=True)
def cell_at(value, low, per, count):
    """The cell, 0 to count - 1, that a coordinate falls in or is nearest to."""
    return min(max(int((value - low) * per), 0), count - 1)


@njit(**INNER)
def mark_cells(T, body, field, set_bits):
    """Set or clear a body's bit in the cells that its box touches."""
    x0 = cell_at(T.world[body, 0], T.grid[field, 0], T.grid[field, 2], T.cells.shape[2])
    x1 = cell_at(T.world[body, 2], T.grid[field, 0], T.grid[field, 2], T.cells.shape[2])
    y0 = cell_at(T.world[body, 1], T.grid[field, 1], T.grid[field, 3], T.cells.shape[1])
    y1 = cell_at(T.world[body, 3], T.grid[field, 1], T.grid[field, 3], T.cells.shape[1])
    word = body >> 6
    bit = np.uint64(1) << np.uint64(body & 63)
    for j in range(y0, y1 + 1):
        for i in range(x0, x1 + 1):
            if set_bits:
                T.cells[field, j, i, word] |= bit
            else:
                T.cells[field, j, i, word] &= ~bit


@njit(**INNER, forceinline=True)
def bits_near(T, field, word, x0, y0, x1, y1):
    """The bodies numbered 64 · word and on that have a box in the cells x0…x1, y0…y1 of a field, as bits."""
    bits = np.uint64(0)
    for j in range(y0, y1 + 1):
        for i in range(x0, x1 + 1):
            bits |= T.cells[field, j, i, word]
    return bits
