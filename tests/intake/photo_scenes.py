"""Invented hides, flaws and whole scenes for the renderer of photographs (photo_render), each drawn by its seed."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import shapely
from scipy.interpolate import CubicSpline

from tests.intake.photo_render import (
    COLOURS,
    DRAWN_FLOORS,
    FLOOR_TINTS,
    FLOORS,
    HIDE_COLOURS,
    SHEETS,
    Array,
    Clutter,
    DrawnFlaw,
    Scene,
    rectangle,
    reference_ring,
)


def invented_outline(kind: str, seed: int) -> Array:
    """An invented hide outline (n, 2), mm: `side`, `shoulder` or `skin`, with a lobed edge."""
    rng = np.random.default_rng(seed)
    if kind == "side":
        base = [(0, 0), (700, -15), (1500, 0), (2050, 30), (2200, 170), (2330, 260), (2180, 380),
                (2020, 420), (1930, 640), (1990, 880), (1850, 900), (1720, 740), (1300, 830), (900, 850),
                (560, 770), (420, 910), (280, 890), (330, 660), (120, 520), (-110, 420), (-90, 200)]  # fmt: skip
        size = rng.uniform(0.85, 1.1)
    elif kind == "shoulder":
        base = [(0, 0), (300, -60), (620, -20), (950, -70), (1250, 10), (1310, 260), (1200, 520), (1280, 760),
                (1120, 800), (900, 700), (760, 900), (560, 910), (420, 720), (200, 790), (20, 730), (80, 480),
                (-60, 250)]  # fmt: skip
        size = rng.uniform(0.85, 1.1)
    else:
        base = [(0, 0), (180, -90), (320, -60), (430, 20), (640, 10), (800, -80), (900, -60), (880, 70),
                (940, 250), (1090, 330), (1100, 430), (930, 470), (880, 640), (920, 760), (810, 790),
                (640, 690), (420, 690), (290, 770), (170, 780), (190, 630), (60, 420), (-40, 200)]  # fmt: skip
        size = rng.uniform(0.8, 1.1)
    points = np.array(base, dtype=np.float64) * size
    points += rng.normal(0, 12 * size, points.shape)
    closed = np.vstack([points, points[:1]])
    arc = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(closed, axis=0).T) ** 0.5)])
    spline = CubicSpline(arc, closed, bc_type="periodic")
    t = np.linspace(0, arc[-1], 700, endpoint=False)
    ring = spline(t)
    tangent = spline(t, 1)
    normal = np.column_stack([tangent[:, 1], -tangent[:, 0]]) / np.hypot(*tangent.T)[:, None]
    wave = np.zeros(len(t))
    for count, high in ((17, 4.0), (41, 2.5), (83, 1.5)):
        wave += (
            high * size * np.sin(2 * np.pi * count * t / arc[-1] + rng.uniform(0, 6.3)) * rng.uniform(0.4, 1)
        )
    return np.asarray(ring + normal * wave[:, None])


def ellipse(centre: Array, a: float, b: float, turn: float) -> Array:
    """An ellipse ring (36, 2) with half axes a, b, its first axis turned by `turn` radians."""
    t = np.linspace(0, 2 * np.pi, 36, endpoint=False)
    local = np.column_stack([a * np.cos(t), b * np.sin(t)])
    spin = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    return np.asarray(local @ spin.T + centre)


def stroke(points: Array, width: float) -> Array:
    """A line of points (n, 2) thickened to `width`, as a ring."""
    way = np.gradient(points, axis=0)
    side = np.column_stack([-way[:, 1], way[:, 0]]) / np.maximum(np.hypot(*way.T), 1e-9)[:, None] * width / 2
    return np.vstack([points + side, (points - side)[::-1]])


def invented_flaw(kind: str, centre: Array, rng: np.random.Generator) -> DrawnFlaw:
    """A flaw of a kind, at a place: all larger than 10 mm."""
    turn = rng.uniform(0, np.pi)
    way = np.array([np.cos(turn), np.sin(turn)])
    side = np.array([-way[1], way[0]])
    if kind in ("spot", "hole"):
        a = rng.uniform(7, 20)
        change = float(-rng.uniform(0.2, 0.45))
        return DrawnFlaw(kind, (ellipse(centre, a, a * rng.uniform(0.6, 1), turn),), change)
    if kind == "scar":
        t = np.linspace(-0.5, 0.5, 30)
        long, bow = rng.uniform(40, 180), rng.uniform(-15, 15)
        line = centre + np.outer(t * long, way) + np.outer(bow * np.cos(np.pi * t), side)
        change = float(rng.choice([-1, 1]) * rng.uniform(0.2, 0.35))
        return DrawnFlaw(kind, (stroke(line, rng.uniform(3, 6)),), change)
    if kind == "brand":
        size = rng.uniform(30, 50)
        t = np.linspace(0, 1.75 * np.pi, 40)
        arc = centre + np.column_stack([size * np.cos(t), size * np.sin(t)])
        bar = centre + np.outer(np.linspace(-1, 1, 20) * size * 0.7, way)
        return DrawnFlaw(kind, (stroke(arc, 8), stroke(bar, 8)), float(-rng.uniform(0.25, 0.45)))
    t = np.linspace(-0.5, 0.5, 40)
    long = rng.uniform(90, 180)
    rings = []
    for row in range(3):
        wavy = 4 * np.sin(9 * t + row)
        line = centre + np.outer(t * long, way) + np.outer(wavy + (row - 1) * 14, side)
        rings.append(stroke(line, 4.0))
    return DrawnFlaw("wrinkle", tuple(rings), float(-rng.uniform(0.15, 0.25)))


def scatter_flaws(outline: Array, count: int, seed: int) -> tuple[DrawnFlaw, ...]:
    """`count` flaws of mixed kinds, inside the outline and apart from each other."""
    rng = np.random.default_rng(seed)
    inner = shapely.Polygon(outline).buffer(-35)
    kinds = ("spot", "hole", "scar", "brand", "wrinkle")
    chosen: list[DrawnFlaw] = []
    taken = []
    low, high = outline.min(axis=0), outline.max(axis=0)
    for _ in range(400):
        if len(chosen) == count:
            break
        flaw = invented_flaw(kinds[int(rng.integers(len(kinds)))], rng.uniform(low, high), rng)
        shape = shapely.union_all([shapely.Polygon(ring).buffer(0) for ring in flaw.rings]).convex_hull
        if inner.contains(shape) and all(shape.distance(other) > 45 for other in taken):
            chosen.append(flaw)
            taken.append(shape)
    return tuple(chosen)


def random_scene(number: int, *, width: int = 2000, height: int = 1500) -> Scene:
    """Scene `number` of an endless series: floors and colours in turn, all else drawn by its seed."""
    rng = np.random.default_rng(7000 + number)
    floor = FLOORS[number % 3]
    colour_name = COLOURS[(number // 3) % 4]
    kind = ("side", "shoulder", "skin")[int(rng.integers(3))]
    outline = invented_outline(kind, 100 + number)
    turn = rng.uniform(-0.2, 0.2)
    spin = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    outline = outline @ spin.T
    if colour_name == "close":
        base = np.array(FLOOR_TINTS[floor]) * rng.uniform(0.88, 1.12) + rng.uniform(-6, 6, 3)
    else:
        base = np.array(HIDE_COLOURS[colour_name]) + rng.uniform(-8, 8, 3)
    sheet = ("A4", "A3", "letter", "board")[int(rng.integers(4))]
    if kind == "side" and sheet in ("A4", "letter"):
        sheet = "A3"
    size = SHEETS[sheet]
    paper = (
        (242, 241, 238)
        if sheet != "board"
        else ((40, 90, 170), (242, 241, 238), (225, 190, 40))[int(rng.integers(3))]
    )
    return Scene(
        outline=outline,
        flaws=scatter_flaws(outline, int(rng.integers(4, 9)), 300 + number),
        floor=floor,
        hide_colour=tuple(np.clip(base, 20, 235)),
        reference=size if rng.random() < 0.5 else size[::-1],
        reference_colour=paper,
        reference_turn=float(rng.uniform(-12, 12)),
        reference_side=("right", "left", "top", "bottom")[int(rng.integers(4))],
        tilt=float(rng.uniform(0, 35)),
        azimuth=float(rng.uniform(0, 360)),
        roll=float(rng.uniform(-6, 6)),
        focal=float(rng.uniform(0.6, 1.1)),
        fill=float(rng.uniform(0.86, 0.97)),
        width=width,
        height=height,
        light=(float(rng.uniform(-0.25, 0.25)), float(rng.uniform(-0.25, 0.25))),
        shadows=int(rng.integers(0, 3)),
        cast=float(rng.uniform(3, 12)),
        blur=float(rng.uniform(0.5, 1.4)),
        noise=float(rng.uniform(1, 6)),
        seed=number,
        name=f"{number:03d} {floor} {colour_name} {kind} {sheet}",
    )


LEATHERS = (
    "natural",
    "brown",
    "black",
    "close",
    "white",
    "grey suede",
    "spotted",
    "two-tone",
    "hair-on",
    "glossy",
)
TRAPS = ("cut off", "sheet on hide", "sheet touching", "wrong name", "other boards")
WRONG_NAMES = {"A4": "letter", "letter": "A4", "A3": "tabloid", "board": "A2"}
PAPERS = {**SHEETS, "tabloid": (431.8, 279.4), "A2": (594.0, 420.0)}


@dataclass(frozen=True)
class RoomScene:
    """A scene in a room with what a person would say of it, and what it tries.

    `said` is the size named to the reader, mm; `reference` how the scale is laid out; `trap` what makes the scene
    one that should be refused or warned of ("": a whole hide and a valid sheet).
    """

    scene: Scene
    said: tuple[float, float]
    floor: str
    leather: str
    reference: str
    trap: str


ANY_LEATHER = 1000
"""Number of the first room in whose series every leather lies on every floor."""


def _leather_number(number: int, floors: int) -> int:
    """Which of LEATHERS lies in room `number`, of so many floors in turn."""
    if number < ANY_LEATHER:
        return (number + number // floors) % len(LEATHERS)
    return (number % floors + number // floors) % len(LEATHERS)


def room_scene(number: int, *, width: int = 2000, height: int = 1500) -> RoomScene:
    """Scene `number` of an endless series of rooms: floors, leathers and references in turn, the rest by its seed.

    Every fourth scene holds a trap, in turn. From number `ANY_LEATHER` on each floor meets each leather in 90 scenes;
    before, a floor always has the same one (and none is glossy).
    """
    rng = np.random.default_rng(52_000 + number)
    floors = FLOORS + DRAWN_FLOORS
    floor = floors[number % len(floors)]
    leather = LEATHERS[_leather_number(number, len(floors))]
    trap = TRAPS[number // 4 % len(TRAPS)] if number % 4 == 3 else ""
    kind = ("side", "shoulder", "skin")[int(rng.integers(3))]
    turn = rng.uniform(-0.4, 0.4)
    spin = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    outline = invented_outline(kind, 9_000 + number) @ spin.T
    reference = ("plain", "plain", "printed", "several", "folded", "board")[int(rng.integers(6))]
    if trap == "wrong name" and reference == "several":
        reference = "printed"
    sheet = "board" if reference == "board" else ("A4", "A3", "letter")[int(rng.integers(3))]
    if kind == "side" and sheet != "board":
        sheet = "A3"
    size = SHEETS[sheet] if rng.random() < 0.5 else SHEETS[sheet][::-1]
    said = PAPERS[WRONG_NAMES[sheet]] if trap == "wrong name" else size
    side = ("right", "left", "top", "bottom")[int(rng.integers(4))]
    colour, coat, other = _leather_of(leather, floor, rng)
    scene = Scene(
        outline=outline,
        flaws=scatter_flaws(outline, int(rng.integers(0, 6)), 400 + number),
        floor=floor,
        hide_colour=colour,
        coat=coat,
        coat_colour=other,
        reference=size,
        reference_colour=(40, 90, 170) if sheet == "board" and rng.random() < 0.5 else (242, 241, 238),
        reference_turn=float(rng.uniform(-20, 20)),
        reference_side=side,
        printed=float(rng.uniform(0.5, 1)) if reference == "printed" else 0.0,
        folded=float(rng.uniform(25, 60)) if reference == "folded" else 0.0,
        width=width,
        height=height,
        **_taken_anyhow(rng, blur=(0.5, 1.3)),
        seed=number,
        cut_off=float(rng.uniform(0.08, 0.25)) if trap == "cut off" else 0.0,
        name=f"{number:03d} {floor}, {leather}, {reference} {sheet}" + (f", {trap}" if trap else ""),
    )
    scene = _with_things(scene, reference, trap, rng)
    return RoomScene(scene, said, floor, leather, reference, trap)


def _taken_anyhow(rng: np.random.Generator, *, blur: tuple[float, float]) -> dict[str, Any]:
    """The fields of a scene that say how a picture in a room is taken: camera, light and lens, drawn in this order."""
    return {
        "tilt": float(rng.uniform(0, 45)),
        "azimuth": float(rng.uniform(0, 360)),
        "roll": float(rng.uniform(-8, 8)),
        "focal": float(rng.uniform(0.6, 1.1)),
        "fill": float(rng.uniform(0.84, 0.96)),
        "light": (float(rng.uniform(-0.3, 0.3)), float(rng.uniform(-0.3, 0.3))),
        "shadows": int(rng.integers(0, 3)),
        "cast": float(rng.uniform(2, 12)),
        "blur": float(rng.uniform(*blur)),
        "noise": float(rng.uniform(1, 5)),
        "distortion": float(rng.uniform(-0.1, 0.06)) if rng.random() < 0.4 else 0.0,
    }


SHEET_LOOKS = ("plain", "printed", "written", "creased", "folded", "shadow across", "several", "board")
SHEET_TRAPS = ("another paper", "another board", "no sheet but a box", "sheet touching", "other boards")
SIZES_TAKEN_FOR = {
    "A4": "letter",
    "letter": "A4",
    "A3": "tabloid",
    "tabloid": "A3",
    "A2": "board",
    "board": "A2",
}


def sheet_scene(number: int, *, width: int = 1600, height: int = 1200) -> RoomScene:
    """Scene `number` of an endless series that tries references: floors, looks of the sheet and leathers in turn, the
    rest by its seed. One in five holds a trap, in turn: what lies there is another paper or another board than the one
    named, or only a box of any size, or the sheet lies partly on the hide, or boxes and other papers lie about."""
    rng = np.random.default_rng(81_000 + number)
    floors = FLOORS + DRAWN_FLOORS
    floor, look = floors[number % len(floors)], SHEET_LOOKS[(number + number // 9) % len(SHEET_LOOKS)]
    trap = SHEET_TRAPS[number // 5 % len(SHEET_TRAPS)] if number % 5 == 4 else ""
    leather = LEATHERS[int(rng.integers(len(LEATHERS)))]
    kind = ("side", "shoulder", "skin")[int(rng.integers(3))]
    outline = invented_outline(kind, 30_000 + number)
    if trap == "another board":
        look = "board"
    elif look == "board" and trap in ("another paper", "no sheet but a box"):
        look = "printed"
    if look == "board":
        lies = ("board", "A2")[int(rng.integers(2))]
    else:
        lies = ("A4", "A3", "letter", "tabloid")[int(rng.integers(4))]
    if kind == "side":
        lies = {"A4": "A3", "letter": "tabloid"}.get(lies, lies)
    said = SIZES_TAKEN_FOR[lies] if trap in ("another paper", "another board") else lies
    colour, coat, other = _leather_of(leather, floor, rng)
    white = (242.0, 241.0, 238.0)
    base = Scene(
        outline=outline,
        floor=floor,
        hide_colour=colour,
        coat=coat,
        coat_colour=other,
        reference=PAPERS[lies] if rng.random() < 0.5 else PAPERS[lies][::-1],
        reference_colour=(40, 90, 170) if look == "board" and rng.random() < 0.4 else white,
        reference_turn=float(rng.uniform(-25, 25)),
        reference_side=("right", "left", "top", "bottom")[int(rng.integers(4))],
        printed=float(rng.uniform(0.4, 1)) if look == "printed" else 0.0,
        folded=float(rng.uniform(25, 60)) if look == "folded" else 0.0,
        written=int(rng.integers(4, 12)) if look == "written" else 0,
        creased=float(rng.uniform(0.04, 0.12)) if look == "creased" else 0.0,
        sheet_shadow=float(rng.uniform(0.25, 0.5)) if look == "shadow across" else 0.0,
        width=width,
        height=height,
        **_taken_anyhow(rng, blur=(0.4, 1.1)),
        seed=40_000 + number,
        name=f"{number:03d} {floor}, {leather}, {look} {lies}" + (f", {trap}, said {said}" if trap else ""),
    )
    scene = _with_things(base, look, trap, rng)
    if trap == "no sheet but a box":
        sides = (float(rng.uniform(150, 420)), float(rng.uniform(120, 300)))
        scene = replace(
            scene, reference=sides, reference_colour=_colour(rng.uniform(30, 235, 3)), printed=0.0, written=0
        )
    return RoomScene(scene, PAPERS[said], floor, leather, look, trap)


Colour = tuple[float, float, float]


def _leather_of(leather: str, floor: str, rng: np.random.Generator) -> tuple[Colour, str, Colour]:
    """Colour, coat and the coat's other colour."""
    plain = {
        "natural": HIDE_COLOURS["natural"],
        "brown": HIDE_COLOURS["brown"],
        "black": HIDE_COLOURS["black"],
        "white": (228, 224, 214),
        "grey suede": (128, 126, 124),
        "spotted": (66, 44, 34),
        "two-tone": (60, 54, 50),
        "hair-on": (132, 84, 52),
        "glossy": (70, 40, 30),
    }
    coat = {
        "grey suede": "suede", "spotted": "spotted", "two-tone": "two-tone", "hair-on": "hair", "glossy": "gloss"
    }.get(leather, "plain")  # fmt: skip
    if leather == "close":
        base = np.array(FLOOR_TINTS[floor]) * rng.uniform(0.85, 1.15) + rng.uniform(-6, 6, 3)
    else:
        base = np.array(plain[leather]) + rng.uniform(-8, 8, 3)
    other = np.array([(232, 226, 214), (186, 142, 98)][int(rng.integers(2))]) + rng.uniform(-8, 8, 3)
    return _colour(base), coat, _colour(other)


def _colour(values: Array) -> Colour:
    red, green, blue = (float(value) for value in np.clip(values, 20, 240))
    return red, green, blue


def _with_sheet_on(scene: Scene, hide: shapely.Geometry, share: float) -> Scene:
    """The scene with so much of its sheet on the hide."""
    beside = reference_ring(scene)
    middle = beside.mean(axis=0)
    inward = np.asarray(hide.representative_point().coords[0]) - middle
    inward /= np.hypot(*inward)
    for step in np.arange(0, 3000, 5.0):
        on = shapely.intersection(hide, shapely.Polygon(beside + step * inward)).area
        if on >= 0.999 * share * shapely.Polygon(beside).area:
            x, y = middle + step * inward
            return replace(scene, reference_at=(float(x), float(y)))
    return scene


def _with_things(scene: Scene, reference: str, trap: str, rng: np.random.Generator) -> Scene:
    """The scene with its sheets laid where its trap wants them, and with clutter on the floor."""
    hide = shapely.Polygon(scene.outline).buffer(0)
    if trap in ("sheet on hide", "sheet touching"):
        scene = _with_sheet_on(scene, hide, 1.0 if trap == "sheet on hide" else float(rng.uniform(0.02, 0.5)))
    taken = [hide.buffer(25), shapely.Polygon(reference_ring(scene)).buffer(25)]
    low, high = scene.outline.min(axis=0), scene.outline.max(axis=0)
    more = []
    if reference == "several":
        for side in [each for each in ("right", "left", "top", "bottom") if each != scene.reference_side]:
            ring = reference_ring(replace(scene, reference_side=side, seed=scene.seed + 1))
            if rng.random() < 0.75:
                more.append((*map(float, ring.mean(axis=0)), scene.reference_turn))
                taken.append(shapely.Polygon(ring).buffer(25))
    clutter = []
    kinds = ["cup", "tool", "box"] if rng.random() < 0.4 else []
    if trap == "other boards":
        kinds += ["box", "paper"]
    for kind in kinds:
        for _ in range(60):
            thing = _thing(kind, rng.uniform(low - 120, high + 120), rng)
            shape = shapely.Polygon(thing.ring)
            if not any(shape.intersects(other) for other in taken):
                clutter.append(thing)
                taken.append(shape.buffer(15))
                break
    return replace(scene, more_sheets=tuple(more), clutter=tuple(clutter))


def _thing(kind: str, at: Array, rng: np.random.Generator) -> Clutter:
    turn = float(rng.uniform(0, 180))
    colour = _colour(rng.uniform(30, 230, 3))
    if kind == "cup":
        return Clutter(kind, ellipse(at, 42, 42, 0.0), (225, 222, 216), (60, 36, 22))
    if kind == "tool":
        return Clutter(kind, rectangle(*at, 260, 28, turn), (70, 70, 76))
    if kind == "paper":
        return Clutter(kind, rectangle(*at, 210, 148, turn), (240, 239, 236))
    return Clutter(kind, rectangle(*at, rng.uniform(150, 420), rng.uniform(120, 300), turn), colour)
