"""Packed arrays of a problem and of a search, and every compiled kernel that works on them.

Kernels take records (named tuples of arrays, all in `records`) under one set of names and in one order:

    shapes, areas, options, state       what a problem is made of, and the state of a search on it
    shapes, areas, options, occupancy   the same for laying one shape after another on a field
    rows                                turned shapes, one a row: of a state, of an occupancy, of a workspace
    tables                              tables of pairs of turned shapes

then what they are about: item or body, field, option, row, and a pose or x, y, angle (mm, degrees counter-clockwise).
An *item* is something to be laid; a *body* is an item or a fixed ring. An *option* is one way in which an item may
lie: on which field, which side up, at which turns, within which areas. A *shape* is a ring about the middle of its
smallest enclosing circle, and a pose in a kernel says where that middle lies.
"""

from __future__ import annotations

__all__: list[str] = []
