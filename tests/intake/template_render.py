"""A renderer of photographs of pattern templates whose truth is known: for tests and benchmarks.

What it imitates: 5 to 20 templates of paper, card or plastic lying on a plain ground (paint, cloth, board; a faint
grain, a gradient of light and a soft shadow across it) beside a white sheet or a coloured board of known size, seen by
a tilted pinhole camera with or without lens distortion. Templates have straight edges, arcs, fillets and free curves,
punched holes, slots and windows, drawn rings and dots in two colours, an arrow and a scribbled name; each casts a thin
shadow. Light is mixed and blurred in linear values, then come sensor noise, the sRGB curve and JPEG. Truth and reading
share no code.

How hard it is, honestly: templates are flat and their edges clean; card and ground differ by 20 % of brightness or a
plain tint; shadows are at most 2 mm wide; writing is drawn by straight strokes.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import Any

import numpy as np
import shapely
from PIL import Image
from scipy import ndimage

from tests.intake.photo_render import Lens, Scene, camera, densify, fill, rectangle, to_pixels

Array = np.ndarray[Any, Any]

GROUNDS = {
    "green": (52, 92, 74), "grey": (120, 122, 124), "wood": (150, 116, 82), "dark": (48, 48, 54),
    "blue": (64, 84, 124), "brown": (92, 66, 50),
}  # fmt: skip
CARDS = {
    "white": (238, 238, 234), "cream": (236, 224, 196), "kraft": (188, 152, 108), "yellow": (232, 204, 84),
    "grey": (168, 170, 172), "pink": (224, 164, 168), "sky": (164, 200, 224),
}  # fmt: skip
INKS = {"red": (196, 36, 40), "blue": (36, 60, 170), "black": (34, 34, 36), "green": (30, 120, 60)}


@dataclass(frozen=True)
class DrawnTemplate:
    """One template where it lies: outline and openings (n, 2), mm on the ground; punched holes (x, y, diameter); drawn
    rings and dots (x, y, diameter, ink); an arrow from tail to tip; strokes of writing."""

    outline: Array
    card: tuple[float, float, float]
    openings: tuple[Array, ...] = ()
    holes: tuple[tuple[float, float, float], ...] = ()
    rings: tuple[tuple[float, float, float, str], ...] = ()
    dots: tuple[tuple[float, float, float, str], ...] = ()
    arrow: tuple[tuple[float, float], tuple[float, float]] | None = None
    strokes: tuple[Array, ...] = ()
    kind: str = ""
    mirror_of: int | None = None
    """The number of the template it is the mirror image of."""

    def moved(self, turn: float, shift: Array, *, mirrored: bool = False) -> DrawnTemplate:
        """The same template turned (degrees), mirrored and shifted."""
        angle = np.radians(turn)
        matrix = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
        if mirrored:
            matrix = matrix @ np.array([[-1.0, 0], [0, 1]])

        def at(points: Any) -> Array:
            return np.asarray(points, dtype=float).reshape(-1, 2) @ matrix.T + shift

        def spots(things: Sequence[tuple[Any, ...]]) -> tuple[Any, ...]:
            return tuple((*map(float, at(each[:2])[0]), *each[2:]) for each in things)

        arrow = None if self.arrow is None else tuple(map(tuple, at(self.arrow)))
        return replace(
            self,
            outline=at(self.outline),
            openings=tuple(map(at, self.openings)),
            holes=spots(self.holes),
            rings=spots(self.rings),
            dots=spots(self.dots),
            arrow=arrow,  # type: ignore[arg-type]
            strokes=tuple(map(at, self.strokes)),
        )


@dataclass(frozen=True)
class TemplateScene:
    """All that is in one photograph."""

    templates: tuple[DrawnTemplate, ...]
    ground: tuple[float, float, float] = (120, 122, 124)
    reference: tuple[float, float] = (297.0, 210.0)
    reference_colour: tuple[float, float, float] = (244, 244, 241)
    reference_at: tuple[float, float] = (0.0, 0.0)
    reference_turn: float = 4.0
    tilt: float = 12.0
    azimuth: float = 40.0
    focal: float = 0.85
    width: int = 2800
    height: int = 2100
    light: tuple[float, float] = (0.1, -0.1)
    shadow: float = 0.2
    cast: float = 1.0
    grain: float = 0.02
    blur: float = 0.7
    noise: float = 2.0
    distortion: float = 0.0
    quality: int = 88
    seed: int = 0
    name: str = ""


@dataclass(frozen=True)
class RenderedTemplates:
    """The photograph and the homography from mm on the ground to its pixels (before the lens)."""

    scene: TemplateScene
    jpeg: bytes
    homography: Array
    reference_mm: Array
    extra: dict[str, Any] = field(default_factory=dict)

    def seen(self, points: Array) -> Array:
        """Where places (n, 2), mm, are seen, pixels."""
        scene = self.scene
        lens = Lens.of_picture(scene.distortion, scene.width, scene.height)
        return np.asarray(lens.apply(to_pixels(self.homography, points)))


def circle(x: float, y: float, diameter: float, count: int = 48) -> Array:
    """A circle as a ring (count, 2)."""
    angle = np.arange(count) * 2 * np.pi / count
    radius = diameter / 2 / np.cos(np.pi / count) ** 0.5
    return np.column_stack([x + radius * np.cos(angle), y + radius * np.sin(angle)])


def _linear(colour: Any) -> Array:
    value = np.asarray(colour, dtype=np.float64) / 255
    return np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)


def _encoded(linear: Array) -> Array:
    value = np.clip(linear, 0, 1)
    return np.where(value <= 0.0031308, value * 12.92, 1.055 * value ** (1 / 2.4) - 0.055) * 255


def _stroke(start: Any, end: Any, width: float) -> Array:
    a, b = np.asarray(start, dtype=float), np.asarray(end, dtype=float)
    way = (b - a) / max(float(np.hypot(*(b - a))), 1e-9)
    side = np.array([-way[1], way[0]]) * width / 2
    return np.array([a - side, b - side, b + side, a + side])


class _Canvas:
    """Paints shapes of the ground into a picture in linear light."""

    def __init__(self, picture: Array, view: RenderedTemplates, supersample: int) -> None:
        self._picture, self._view, self._k = picture, view, supersample

    def _cover(self, rings: Sequence[Array], k: int) -> tuple[tuple[slice, slice], Array]:
        """Where the rings are seen and the share (h, w) of each pixel that they cover."""
        height, width = self._picture.shape[:2]
        seen = [self._view.seen(densify(ring, 4.0)) for ring in rings]
        points = np.vstack(seen)
        low = np.clip(np.floor(points.min(axis=0)) - 2, 0, [width - 2, height - 2]).astype(int)
        high = np.clip(np.ceil(points.max(axis=0)) + 3, low + 1, [width, height]).astype(int)
        size = (high - low) * k
        fine = fill([(ring - low + 0.5) * k - 0.5 for ring in seen], int(size[0]), int(size[1]))
        shape = (int(size[1]) // k, k, int(size[0]) // k, k)
        return (slice(low[1], high[1]), slice(low[0], high[0])), fine.reshape(shape).mean(axis=(1, 3))

    def paint(self, rings: Sequence[Array], colour: Any, spare: Sequence[Array] = ()) -> None:
        """Paint rings in a colour, but for what lies in other rings."""
        box, share = self._cover(rings, self._k)
        if len(spare):
            (rows, columns), inner = self._cover(spare, self._k)
            within = np.zeros(share.shape, dtype=np.float32)
            top, left = rows.start - box[0].start, columns.start - box[1].start
            within[top : top + inner.shape[0], left : left + inner.shape[1]] = inner
            share = share * (1 - within)
        self._picture[box] += (_linear(colour).astype(np.float32) - self._picture[box]) * share[..., None]

    def shade(self, rings: Sequence[Array], strength: float) -> None:
        """Darken what lies in rings, softly."""
        whole = np.zeros(self._picture.shape[:2], dtype=np.float32)
        for ring in rings:
            box, share = self._cover([ring], 1)
            np.maximum(whole[box], share, out=whole[box])
        self._picture *= 1 - strength * ndimage.gaussian_filter(whole, 1.0)[..., None]

    def draw(self, each: DrawnTemplate) -> None:
        """Lay one template with all that is drawn on it."""
        self.paint([each.outline], each.card, [*each.openings, *(circle(*hole) for hole in each.holes)])
        for x, y, diameter, ink in each.rings:
            self.paint([circle(x, y, diameter + 0.8)], INKS[ink], [circle(x, y, diameter - 0.8)])
        for x, y, diameter, ink in each.dots:
            self.paint([circle(x, y, diameter)], INKS[ink])
        if each.arrow is not None:
            tail, tip = (np.array(end) for end in each.arrow)
            way = (tip - tail) / np.hypot(*(tip - tail))
            side = np.array([-way[1], way[0]])
            self.paint([_stroke(tail, tip - 4 * way, 1.0)], INKS["black"])
            self.paint(
                [np.array([tip, tip - 9 * way + 3.5 * side, tip - 9 * way - 3.5 * side])], INKS["black"]
            )
        for stroke in each.strokes:
            self.paint([_stroke(a, b, 0.8) for a, b in pairwise(stroke)], INKS["black"])


def render_templates(scene: TemplateScene, *, supersample: int = 5) -> RenderedTemplates:
    """Draw the scene; deterministic for its seed."""
    rng = np.random.default_rng(scene.seed)
    board = rectangle(*scene.reference_at, *scene.reference, scene.reference_turn)
    content = np.vstack([board, *(each.outline for each in scene.templates)])
    view = Scene(outline=content, tilt=scene.tilt, azimuth=scene.azimuth, focal=scene.focal, fill=0.93,
                 width=scene.width, height=scene.height)  # fmt: skip
    homography = camera(view, content)
    done = RenderedTemplates(scene, b"", homography, board)
    height, width = scene.height, scene.width
    ys, xs = np.mgrid[0:height, 0:width].astype(np.float32)
    grain = ndimage.gaussian_filter(rng.standard_normal((height, width), dtype=np.float32), (1.0, 4.0))
    grain += 3 * ndimage.gaussian_filter(rng.standard_normal((height, width), dtype=np.float32), 9.0)
    picture = _linear(scene.ground).astype(np.float32) * (1 + scene.grain * grain / grain.std())[..., None]

    canvas = _Canvas(picture, done, supersample)
    away = rng.uniform(0, 2 * np.pi)
    offset = scene.cast * np.array([np.cos(away), np.sin(away)])
    solid = [each.outline for each in scene.templates]
    canvas.shade([*(ring + offset for ring in solid), board + 0.5 * offset], 0.45)
    canvas.paint([board], scene.reference_colour)
    for each in scene.templates:
        canvas.draw(each)
    light = 1 + scene.light[0] * (xs / width - 0.5) + scene.light[1] * (ys / height - 0.5)
    if scene.shadow > 0:
        cx, cy = rng.uniform(0, width), rng.uniform(0, height)
        far = np.hypot((xs - cx) / width, (ys - cy) / height)
        light *= 1 - scene.shadow / (1 + np.exp((far - 0.4) * 30))
    picture *= light[..., None]
    picture = ndimage.gaussian_filter(picture, (scene.blur, scene.blur, 0))
    coded = _encoded(picture) + scene.noise * rng.standard_normal(picture.shape, dtype=np.float32)
    out = io.BytesIO()
    Image.fromarray(np.clip(np.rint(coded), 0, 255).astype(np.uint8)).save(out, "JPEG", quality=scene.quality)
    return replace(done, jpeg=out.getvalue())


def _arc(centre: Any, radius: float, first: float, last: float) -> Array:
    steps = max(6, int(abs(last - first) / 2))
    angle = np.radians(np.linspace(first, last, steps))
    return np.asarray(centre) + radius * np.column_stack([np.cos(angle), np.sin(angle)])


def _rounded(ring: Array, radius: float) -> Array:
    shape = shapely.Polygon(ring).buffer(-radius, join_style="mitre").buffer(radius, quad_segs=40)
    return np.asarray(shape.exterior.coords)[:-1]


def _polygon(rng: np.random.Generator) -> Array:
    count = int(rng.integers(4, 7))
    angle = (np.arange(count) + rng.uniform(-0.2, 0.2, count)) * 2 * np.pi / count
    radius = rng.uniform(50, 85, count)
    return np.column_stack([radius * np.cos(angle), radius * np.sin(angle)])


def _free_curve(rng: np.random.Generator) -> Array:
    """A panel with a straight top and a smooth lower edge."""
    from scipy.interpolate import CubicSpline

    width, height = rng.uniform(120, 200), rng.uniform(70, 110)
    knots = np.array([-height, *(-height - rng.uniform(-14, 22, 3)), -height + rng.uniform(-10, 10)])
    x = np.linspace(0, width, 200)
    low = CubicSpline(np.linspace(0, width, 5), knots)(x)
    return np.vstack([np.column_stack([x, low]), [[width, 0], [0, 0]]]) - np.array([width / 2, -height / 2])


def _scalloped(rng: np.random.Generator) -> Array:
    count, span, height = int(rng.integers(2, 5)), rng.uniform(36, 60), rng.uniform(60, 100)
    depth = rng.uniform(0.15, 0.4) * span
    radius = (span**2 / 4 + depth**2) / (2 * depth)
    half = np.degrees(np.arcsin(min(span / 2 / radius, 1.0)))
    arcs = [
        _arc(((k + 0.5) * span, -height + radius - depth), radius, 270 - half, 270 + half)[:-1]
        for k in range(count)
    ]
    ring = np.vstack([*arcs, [[count * span, -height], [count * span, 0], [0, 0]]])
    return np.asarray(ring - ring.mean(axis=0))


def _strap(rng: np.random.Generator) -> Array:
    length, width = rng.uniform(150, 320), rng.uniform(24, 44)
    tip = _arc((length, width / 2), width / 2, -90, 90) if rng.random() < 0.5 else np.array(
        [[length, 0], [length + width / 2, width / 2], [length, width]])  # fmt: skip
    return np.vstack([[[0, 0]], tip, [[0, width]]]) - np.array([length / 2, width / 2])


def _panel(rng: np.random.Generator) -> Array:
    width, height = rng.uniform(90, 190), rng.uniform(60, 120)
    return _rounded(rectangle(0, 0, width, height, 0.0), rng.uniform(6, 22))


def _leaf(rng: np.random.Generator) -> Array:
    """A lop-sided shape: no mirror image of itself."""
    a, b = rng.uniform(70, 100), rng.uniform(40, 60)
    return np.vstack(
        [_arc((0, 0), b, 180, 340)[:-1], [[a, rng.uniform(-10, 10)], [a * 0.7, b], [-b * 0.6, b * 0.8]]]
    )


SHAPES = {"polygon": _polygon, "free curve": _free_curve, "scalloped": _scalloped, "strap": _strap, "panel": _panel,
          "leaf": _leaf}  # fmt: skip


def _disc(rng: np.random.Generator) -> Array:
    return circle(0, 0, rng.uniform(40, 110), 180)


class _Spots:
    """Free places on a template, one after the other."""

    def __init__(self, outline: Array, rng: np.random.Generator) -> None:
        self._shape, self._rng = shapely.Polygon(outline), rng
        self._taken: list[Any] = []

    def free(self, radius: float) -> tuple[float, float] | None:
        """A place with room all round it, or None."""
        inner = self._shape.buffer(-radius - 6)
        x0, y0, x1, y1 = self._shape.bounds
        for _ in range(60):
            place = shapely.Point(self._rng.uniform(x0, x1), self._rng.uniform(y0, y1))
            if inner.contains(place) and not any(
                place.buffer(radius + 4).intersects(each) for each in self._taken
            ):
                self._taken.append(place.buffer(radius))
                return float(place.x), float(place.y)
        return None

    def several(self, most: int, radius: float) -> list[tuple[float, float]]:
        """Up to so many free places."""
        found = (self.free(radius) for _ in range(int(self._rng.integers(0, most))))
        return [at for at in found if at is not None]


def _window(at: tuple[float, float], rng: np.random.Generator) -> Array:
    if rng.random() < 0.5:
        return _rounded(rectangle(*at, 28, rng.uniform(8, 16), rng.uniform(0, 180)), 3.0)
    return rectangle(*at, 24, 14, rng.uniform(0, 180))


def _writing(at: tuple[float, float], rng: np.random.Generator) -> tuple[Array, ...]:
    strokes = []
    for k in range(3):
        zigzag = np.array([[0, 0], [2, 7], [4, 0], [5, 6]]) + np.array([at[0] - 10 + 7 * k, at[1] - 3])
        strokes.append(zigzag + rng.uniform(-0.7, 0.7, zigzag.shape))
    return tuple(strokes)


def invented_template(kind: str, card: tuple[float, float, float], rng: np.random.Generator) -> DrawnTemplate:
    """A template of a kind with holes, openings and drawn marks where there is room, its middle near (0, 0)."""
    outline = _disc(rng) if kind == "disc" else SHAPES[kind](rng)
    spots = _Spots(outline, rng)
    openings = [_window(at, rng)] if rng.random() < 0.4 and (at := spots.free(18)) is not None else []
    arrow = None
    if rng.random() < 0.5 and (at := spots.free(22)) is not None:
        turn = rng.uniform(0, 2 * np.pi)
        reach = 20 * np.array([np.cos(turn), np.sin(turn)])
        arrow = (tuple(np.array(at) - reach), tuple(np.array(at) + reach))
    holes = []
    for diameter in rng.choice([3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 20.0], int(rng.integers(0, 5))).tolist():
        if (at := spots.free(diameter / 2)) is not None:
            holes.append((*at, diameter))
    rings = [(*at, float(rng.choice([4.0, 5.0, 6.0])), "red") for at in spots.several(4, 4.0)]
    dots = [(*at, float(rng.choice([2.0, 2.5, 3.0])), "blue") for at in spots.several(4, 2.5)]
    strokes = _writing(at, rng) if rng.random() < 0.5 and (at := spots.free(14)) is not None else ()
    return DrawnTemplate(outline, card, tuple(openings), tuple(holes), tuple(rings), tuple(dots),
                         arrow, strokes, kind)  # type: ignore[arg-type]  # fmt: skip


def random_template_scene(
    number: int, *, count: int | None = None, mm_per_pixel: float = 0.4
) -> TemplateScene:
    """Scene `number` of an endless series: 5 to 20 templates, one mirrored pair in every scene of six or more."""
    rng = np.random.default_rng(88_000 + number)
    many = int(rng.integers(5, 21)) if count is None else count
    ground = list(GROUNDS)[number % len(GROUNDS)]
    usable = [card for card in CARDS.values() if _apart(card, GROUNDS[ground])]
    kinds = [*SHAPES, "disc"]
    side = 230.0 * np.sqrt(many + 2)
    size = np.array([side * 1.15, side * 0.87])
    sheet = (297.0, 210.0) if number % 3 else (210.0, 297.0)
    turn = float(rng.uniform(-15, 15))
    at = (size * rng.uniform(0.3, 0.7, 2)).tolist()
    taken = [shapely.Polygon(rectangle(*at, *sheet, turn)).buffer(12)]
    placed: list[DrawnTemplate] = []
    while len(placed) < many:
        mirrored = many >= 6 and len(placed) == many - 1
        kind = kinds[int(rng.integers(len(kinds)))] if placed else "leaf"
        base = placed[0] if mirrored else invented_template(kind, usable[int(rng.integers(len(usable)))], rng)
        if mirrored:
            base = replace(base.moved(0, -base.outline.mean(axis=0)), mirror_of=0)
        for _ in range(400):
            shift = rng.uniform(0.07, 0.93, 2) * size
            one = base.moved(float(rng.uniform(0, 360)), shift, mirrored=mirrored)
            shape = shapely.Polygon(one.outline)
            low, high = one.outline.min(axis=0), one.outline.max(axis=0)
            if (
                (low > 0).all()
                and (high < size).all()
                and not any(shape.intersects(other) for other in taken)
            ):
                placed.append(one)
                taken.append(shape.buffer(float(rng.uniform(6, 14))))
                break
        else:
            size = size * 1.05
    content = np.ptp(np.vstack([each.outline for each in placed]), axis=0)
    width = int(max(content[0], content[1] * 4 / 3) / 0.93 / mm_per_pixel)
    return TemplateScene(
        templates=tuple(placed),
        ground=GROUNDS[ground],
        reference=sheet,
        reference_at=(at[0], at[1]),
        reference_turn=turn,
        tilt=float(rng.uniform(0, 25)),
        azimuth=float(rng.uniform(0, 360)),
        focal=float(rng.uniform(0.65, 1.0)),
        width=width,
        height=width * 3 // 4,
        light=(float(rng.uniform(-0.3, 0.3)), float(rng.uniform(-0.3, 0.3))),
        shadow=float(rng.choice([0.0, 0.15, 0.3])),
        cast=float(rng.uniform(0.3, 2.0)),
        grain=float(rng.uniform(0.005, 0.03)),
        blur=float(rng.uniform(0.5, 0.9)),
        noise=float(rng.uniform(1, 3)),
        distortion=float(rng.uniform(-0.06, 0.03)) if rng.random() < 0.4 else 0.0,
        seed=number,
        name=f"{number:03d} {many} on {ground}",
    )


def _apart(card: tuple[float, float, float], ground: tuple[float, float, float]) -> bool:
    one, other = np.log(np.array(card)), np.log(np.array(ground))
    return float(np.abs(one - other).max()) > 0.3


_LEAF = np.array([[0, 0], [90, 5], [70, 60], [30, 75], [-10, 40]], dtype=float)
SMALL_TEMPLATES = TemplateScene(
    templates=(
        DrawnTemplate(
            rectangle(95, 380, 150, 90, 8.0),
            CARDS["kraft"],
            holes=((60.0, 380.0, 5.0), (130.0, 390.0, 8.0)),
            rings=((95.0, 400.0, 6.0, "red"), (95.0, 360.0, 6.0, "red")),
            dots=((40.0, 370.0, 2.5, "blue"),),
        ),
        DrawnTemplate(
            _LEAF + np.array([220.0, 350.0]), CARDS["white"], arrow=((240.0, 380.0), (275.0, 380.0))
        ),
        DrawnTemplate(
            _LEAF * np.array([-1.0, 1.0]) + np.array([120.0, 40.0]),
            CARDS["white"],
            arrow=((100.0, 70.0), (65.0, 70.0)),
        ),
        DrawnTemplate(
            circle(260, 90, 80, 180), CARDS["yellow"], openings=(rectangle(260, 90, 30, 14, 20.0),)
        ),
        DrawnTemplate(_rounded(rectangle(85, 220, 120, 80, -5.0), 15.0), CARDS["cream"]),
    ),
    ground=GROUNDS["green"],
    reference_at=(430.0, 200.0),
    reference_turn=88.0,
    width=1500,
    height=1125,
    tilt=14.0,
    seed=3,
)
"""Five templates: a card with holes and marks, a leaf and its mirror image, a disc, a card with round corners."""
