"""What is to be laid where, as shapes: the engine's own statement of a job, which knows no leather.

Items with their rings, the areas that must hold them and the turns they may take; and the poses that answer.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from shapely import Polygon

from nestplan.geometry.containment import Containment
from nestplan.geometry.pose import Turns
from nestplan.geometry.ring import mirror

__all__ = ["Containment", "Item", "MateGroup", "PlacementOption", "Poses", "Problem"]

Ring = NDArray[np.float64]
Floats = NDArray[np.float64]
Singles = NDArray[np.float32]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
Bytes = NDArray[np.uint8]


@dataclass(frozen=True, eq=False)
class PlacementOption:
    """One way in which an item may lie: on one field, at some turns, if all constraints hold.

    With `flipped` the item is turned over (x -> -x) first; the constraints' rings are then given already flipped.
    `cost` is that of using the field at all, for those who choose between fields; the separation ignores it.
    """

    field: int
    turns: Turns
    constraints: tuple[Containment, ...]
    flipped: bool = False
    cost: float = 0.0


@dataclass(frozen=True, eq=False)
class Item:
    """A ring `(n, 2)`, mm, that may overlap no other item's: the cut shape grown by half the knife gap.

    Equal items share a `kind`.
    """

    ring: Ring
    kind: int
    options: tuple[PlacementOption, ...]


@dataclass(frozen=True, eq=False)
class Problem:
    """Fields (the hides or the strip), items to lay on them, and `fixed` pairs (field, ring) that never move.

    `tolerance`: mm by which outlines of many points, freed of their roughness (`nestplan.geometry.roughness`), may be
    drawn on the safe side for the search, areas smaller and rings larger, so that they have fewer; 0: all are taken as
    they are.
    """

    fields: tuple[Polygon, ...]
    items: tuple[Item, ...]
    fixed: tuple[tuple[int, Ring], ...] = field(default=())
    tolerance: float = 0.0


@dataclass(frozen=True)
class MateGroup:
    """Items of two hands that are to lie in pairs, a left near a right, whichever of those that are alike.

    By number; from the number of the problem's items on, its fixed rings in their order.
    """

    lefts: tuple[int, ...]
    rights: tuple[int, ...]


@dataclass(frozen=True, eq=False)
class Poses:
    """Where every item lies: `x, y (N,)` mm, `angle (N,)` degrees, `flipped (N,)`, `field (N,)`, -1 = not placed.

    A pose turns the item's ring (flipped first if so) by `angle` about its own origin and moves it by (x, y).
    """

    x: NDArray[np.float64]
    y: NDArray[np.float64]
    angle: NDArray[np.float64]
    flipped: NDArray[np.bool_]
    field: NDArray[np.int64]

    @classmethod
    def none(cls, count: int) -> Poses:
        """Poses of `count` items of which none is placed."""
        zeros = np.zeros(count)
        return cls(zeros, zeros.copy(), zeros.copy(), np.zeros(count, bool), np.full(count, -1, np.int64))

    def ring_of(self, item: Item, index: int) -> Ring:
        """The item's ring `(n, 2)` where the pose of that index puts it."""
        ring = mirror(item.ring) if self.flipped[index] else item.ring
        quarter, rest = divmod(float(self.angle[index]), 90.0)
        if rest == 0.0:
            cosine, sine = ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[int(quarter) % 4]
        else:
            radians = np.radians(self.angle[index])
            cosine, sine = float(np.cos(radians)), float(np.sin(radians))
        turn = np.array([[cosine, sine], [-sine, cosine]])
        moved: Ring = ring @ turn + (self.x[index], self.y[index])
        return moved
