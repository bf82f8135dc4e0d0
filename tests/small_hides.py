"""Small hand-built shapes by name, used by every test that needs one. Lengths in mm, rings counter-clockwise.

`RINGS` holds all the sound rings, so that a test can run over each; `BROKEN_RINGS` the unsound ones with what is
wrong with them.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Ring = npt.NDArray[np.float64]


def _ring(*points: tuple[float, float]) -> Ring:
    return np.array(points, dtype=np.float64)


SQUARE_100 = _ring((0, 0), (100, 0), (100, 100), (0, 100))

THIN_STRIP = _ring((0, 0), (1000, 0), (1000, 20), (0, 20))

RIGHT_TRIANGLE = _ring((0, 0), (30, 0), (0, 40))

L_SHAPE = _ring((0, 0), (200, 0), (200, 60), (60, 60), (60, 150), (0, 150))

# Four teeth of 20 mm with slots of 10 mm between them: growing by 5 mm or more closes the slots.
COMB = _ring(
    (0, 0),
    (110, 0),
    (110, 80),
    (90, 80),
    (90, 20),
    (80, 20),
    (80, 80),
    (60, 80),
    (60, 20),
    (50, 20),
    (50, 80),
    (30, 80),
    (30, 20),
    (20, 20),
    (20, 80),
    (0, 80),
)

# A pocket 60 mm wide behind a mouth of 8 mm.
BOTTLE_NECK = _ring(
    (0, 0),
    (100, 0),
    (100, 100),
    (54, 100),
    (54, 80),
    (80, 80),
    (80, 20),
    (20, 20),
    (20, 80),
    (46, 80),
    (46, 100),
    (0, 100),
)

# Two rooms of 60 mm joined by a passage of 10 mm: shrinking by 6 mm parts them.
TWO_ROOMS = _ring(
    (0, 0),
    (60, 0),
    (60, 25),
    (140, 25),
    (140, 0),
    (200, 0),
    (200, 60),
    (140, 60),
    (140, 35),
    (60, 35),
    (60, 60),
    (0, 60),
)

STAR = np.array(
    [
        (round(radius * np.cos(turn), 3), round(radius * np.sin(turn), 3))
        for turn, radius in zip(np.radians(np.arange(90, 450, 36)), (100, 40) * 5, strict=True)
    ]
)

# A small side: neck to the left, backbone along the top edge, shanks sticking out below.
HIDE_LIKE = _ring(
    (0, 420),
    (30, 330),
    (120, 300),
    (160, 180),
    (140, 60),
    (200, 40),
    (250, 170),
    (400, 140),
    (620, 120),
    (800, 150),
    (860, 30),
    (930, 50),
    (910, 190),
    (980, 300),
    (1000, 440),
    (960, 500),
    (700, 510),
    (350, 505),
    (120, 500),
)

RINGS: dict[str, Ring] = {
    "square": SQUARE_100,
    "thin strip": THIN_STRIP,
    "right triangle": RIGHT_TRIANGLE,
    "L": L_SHAPE,
    "comb": COMB,
    "bottle neck": BOTTLE_NECK,
    "two rooms": TWO_ROOMS,
    "star": STAR,
    "hide": HIDE_LIKE,
}

BROKEN_RINGS: dict[str, tuple[list[tuple[float, float]], str]] = {
    "two points": ([(0, 0), (100, 0)], "2 different points"),
    "one point three times": ([(5, 5), (5, 5), (5, 5)], "1 different point"),
    "bow tie": ([(0, 0), (100, 100), (100, 0), (0, 100)], "crosses or touches itself at (50.0, 50.0) mm"),
    "flat": ([(0, 0), (50, 0), (100, 0)], "crosses or touches itself"),
    "spike": ([(0, 0), (100, 0), (100, 50), (150, 50), (100, 50), (0, 50)], "crosses or touches itself"),
    "not a number": ([(0, 0), (100, float("nan")), (0, 100)], "Point 2"),
    "infinite": ([(0, 0), (100, 0), (float("inf"), 100)], "Point 3"),
    "kilometres away": ([(0, 0), (1e9, 0), (0, 100)], "100 m from the origin"),
}
