"""A renderer of photographs of hides whose truth is known: for tests, benchmarks and the demo.

What it imitates: a hide lying flat on a floor (the brick, grass and gravel pictures that ship inside scikit-image,
public domain or CC0 as its data's README says, mirrored into a carpet and tinted; or a floor drawn from noise:
boards, tiles, a checkered floor, a white one, concrete, woven carpet), a reference board or one or more sheets,
plain, printed, written on, creased, with a folded corner or a shadow's edge across, beside it, touching it or on
it, a pinhole camera tilted by up to 35 degrees, a gradient of light, one or two large soft shadows across
everything, the hide's own cast shadow, defocus, sensor noise and JPEG compression at quality 75. The leather has a
fine grain, mottling and a drift of colour; one of its colours is taken from the floor itself, so that little but the
texture tells them apart.

How hard it is, honestly. Harder than a careful photograph: the floors are busy, shadows cross the hide's edge,
one colour in four lies within about 12 % of the floor's own mean colour. Easier than the bench in these ways:
the hide is perfectly flat and thin, with no curled edge or fold; its edge is sharp but for hair-on coats;
clutter (cups, tools, boxes, other papers) is flat too; gloss is a soft glare; shadows are soft and neutral in
colour; the principal point is the picture's middle and, unless asked for, there is no lens distortion; flaws
are drawn as marks 15 to 45 % darker or lighter than the leather round them, which is plainer than a healed
scratch on a pull-up leather.

Nothing of nestplan's own reading is used here: truth and reading share no code.
"""

from __future__ import annotations

import argparse
import io
import json
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numba
import numpy as np
from PIL import Image
from scipy import ndimage

Array = np.ndarray[Any, Any]

FLOORS = ("brick", "grass", "gravel")
FLOOR_TINTS = {"brick": (176, 112, 88), "grass": (104, 128, 70), "gravel": (140, 134, 124)}
TEXEL_MM = {"brick": 2.2, "grass": 1.0, "gravel": 1.3}
HIDE_COLOURS = {"natural": (196, 158, 116), "brown": (98, 64, 44), "black": (52, 50, 54)}
DRAWN_FLOORS = ("boards", "tiles", "checked", "white", "concrete", "carpet")
FLOOR_TINTS |= {"boards": (150, 112, 74), "tiles": (168, 164, 156), "checked": (150, 148, 144),
                "white": (226, 225, 222), "concrete": (142, 141, 138), "carpet": (84, 96, 128)}  # fmt: skip
COATS = ("plain", "spotted", "two-tone", "hair", "gloss", "suede", "grained")
COLOURS = ("natural", "brown", "black", "close")
SHEETS = {"A4": (297.0, 210.0), "A3": (420.0, 297.0), "letter": (279.4, 215.9), "board": (600.0, 400.0)}


@dataclass(frozen=True)
class DrawnFlaw:
    """A flaw as drawn: `kind` is spot, scar, hole, brand or wrinkle; `rings` its strokes (n, 2), mm."""

    kind: str
    rings: tuple[Array, ...]
    change: float = -0.35

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        points = np.vstack(self.rings)
        return (*points.min(axis=0), *points.max(axis=0))  # type: ignore[return-value]

    @property
    def size(self) -> float:
        xmin, ymin, xmax, ymax = self.bounds
        return float(max(xmax - xmin, ymax - ymin))


@dataclass(frozen=True)
class Clutter:
    """A thing on the floor: its ring (n, 2), mm, its colour, and the colour of its inner part, if it has one."""

    kind: str
    ring: Array
    colour: tuple[float, float, float]
    inner_colour: tuple[float, float, float] | None = None


@dataclass(frozen=True)
class Scene:
    """All that is in one photograph. Lengths mm on the floor, angles degrees, colours 0-255."""

    outline: Array
    flaws: tuple[DrawnFlaw, ...] = ()
    floor: str = "gravel"
    hide_colour: tuple[float, float, float] = (196, 158, 116)
    reference: tuple[float, float] = SHEETS["A3"]
    reference_colour: tuple[float, float, float] = (242, 241, 238)
    reference_turn: float = 3.0
    reference_side: str = "right"
    tilt: float = 15.0
    azimuth: float = 40.0
    roll: float = 0.0
    focal: float = 0.85
    fill: float = 0.93
    width: int = 2000
    height: int = 1500
    light: tuple[float, float] = (0.1, 0.1)
    shadows: int = 1
    cast: float = 8.0
    blur: float = 0.8
    noise: float = 3.0
    distortion: float = 0.0
    quality: int = 75
    seed: int = 0
    name: str = ""
    marks: tuple[tuple[float, float, float], ...] = ()
    """Printed marks on A4 sheets: centre x, y in mm and turn in degrees; if any, no board is laid."""
    coat: str = "plain"
    """How the leather looks, one of COATS."""
    coat_colour: tuple[float, float, float] = (235, 228, 215)
    """The other colour of a spotted or two-tone coat."""
    printed: float = 0.0
    """Share of the sheet's printed lines that carry ink."""
    folded: float = 0.0
    """Length, mm, of the reference's corner that is folded over."""
    written: int = 0
    """Lines of handwriting, in blue, on the reference."""
    creased: float = 0.0
    """How much darker the half of the reference beyond a crease across its middle is, as a share."""
    sheet_shadow: float = 0.0
    """How dark, as a share, a shadow with a plain straight edge across the reference is."""
    reference_at: tuple[float, float] | None = None
    """Middle of the reference, mm, where it does not lie beside the hide on its side."""
    more_sheets: tuple[tuple[float, float, float], ...] = ()
    """Further sheets of the reference's size: middle x, y and turn in degrees."""
    clutter: tuple[Clutter, ...] = ()
    cut_off: float = 0.0
    """Share of the outline's width that lies outside the picture, on the side away from the reference."""
    things_on_hide: tuple[Clutter, ...] = ()
    """Cups, tools and papers that lie on the leather."""

    @property
    def lens(self) -> Lens:
        """The lens that the picture is taken through."""
        return Lens.of_picture(self.distortion, self.width, self.height)


@dataclass(frozen=True)
class Rendered:
    """A rendered photograph and its truth: floor mm -> pixel homography, reference corners in mm and pixels."""

    scene: Scene
    jpeg: bytes
    homography: Array
    reference_mm: Array
    reference_px: Array
    extra: dict[str, Any] = field(default_factory=dict)


def to_pixels(homography: Array, points: Array) -> Array:
    """Pixel places (x, y) of floor points (n, 2) in mm; pixel centres lie at whole numbers."""
    flat = np.column_stack([points, np.ones(len(points))]) @ homography.T
    return np.asarray(flat[:, :2] / flat[:, 2:])


def densify(ring: Array, step: float) -> Array:
    """The same ring with points no further apart than `step`."""
    out = []
    for start, end in zip(ring, np.roll(ring, -1, axis=0), strict=True):
        count = max(1, int(np.ceil(np.hypot(*(end - start)) / step)))
        out.append(start + (end - start) * np.arange(count)[:, None] / count)
    return np.vstack(out)


def fill(rings: Sequence[Array], width: int, height: int) -> Array:
    """Picture (height, width) that is 1 where a pixel's centre lies in one of the rings (n, 2), else 0."""
    picture = np.zeros((height, width), dtype=np.float32)
    for ring in rings:
        rows_at, columns_at = _box_of([ring], 0.0, width, height)
        part = picture[rows_at, columns_at]
        toggles = np.zeros((part.shape[0], part.shape[1] + 1), dtype=np.int16)
        local = ring - [columns_at.start, rows_at.start]
        for (x0, y0), (x1, y1) in zip(local, np.roll(local, -1, axis=0), strict=True):
            if y0 == y1:
                continue
            low, high = min(y0, y1), max(y0, y1)
            rows = np.arange(max(int(np.ceil(low)), 0), min(int(np.ceil(high)), part.shape[0]))
            columns = np.ceil(x0 + (rows - y0) * (x1 - x0) / (y1 - y0))
            np.add.at(toggles, (rows, np.clip(columns, 0, part.shape[1]).astype(int)), 1)
        np.maximum(part, np.cumsum(toggles, axis=1, dtype=np.int16)[:, :-1] % 2, out=part, casting="unsafe")
    return picture.astype(np.float32)


def _box_of(rings: Sequence[Array], margin: float, width: int, height: int) -> tuple[slice, slice]:
    points = np.vstack(rings)
    low = np.clip(np.floor(points.min(axis=0) - margin - 2), 0, [width - 2, height - 2]).astype(int)
    high = np.clip(np.ceil(points.max(axis=0) + margin + 3), low + 1, [width, height]).astype(int)
    return slice(low[1], high[1]), slice(low[0], high[0])


def camera(scene: Scene, content: Array) -> Array:
    """Floor mm -> pixel homography of a tilted pinhole camera that frames `content` (n, 2)."""
    tilt, azimuth, roll = np.radians([scene.tilt, scene.azimuth, scene.roll])
    away = np.array([np.sin(tilt) * np.cos(azimuth), np.sin(tilt) * np.sin(azimuth), np.cos(tilt)])
    forward = -away
    right = np.cross(forward, [0.0, 1.0, 0.0])
    right /= np.linalg.norm(right)
    down = np.cross(forward, right)
    right, down = (
        np.cos(roll) * right + np.sin(roll) * down,
        -np.sin(roll) * right + np.cos(roll) * down,
    )
    focal = scene.focal * np.hypot(scene.width, scene.height)
    centre = np.array([(scene.width - 1) / 2, (scene.height - 1) / 2])
    lens = np.array([[focal, 0, centre[0]], [0, focal, centre[1]], [0, 0, 1.0]])
    turn = np.vstack([right, down, forward])
    aim = np.append((content.min(axis=0) + content.max(axis=0)) / 2, 0.0)
    distance = 2.0 * float(np.ptp(content, axis=0).max())
    homography = np.eye(3)
    for _ in range(60):
        place = aim + distance * away
        homography = lens @ np.column_stack([turn[:, 0], turn[:, 1], -turn @ place])
        seen = to_pixels(homography, content)
        low, high = seen.min(axis=0), seen.max(axis=0)
        share = float(max((high - low) / np.array([scene.width, scene.height])))
        shift = (low + high) / 2 - centre
        floor = np.linalg.inv(homography) @ np.append(centre + shift, 1.0)
        now = np.linalg.inv(homography) @ np.append(centre, 1.0)
        aim[:2] += (floor[:2] / floor[2] - now[:2] / now[2]) * 0.8
        distance *= 1 + 0.8 * (share / scene.fill - 1)
    return np.asarray(homography / homography[2, 2])


def rectangle(x: float, y: float, width: float, height: float, turn: float) -> Array:
    """Corners (4, 2) of a rectangle round (x, y), turned by `turn` degrees."""
    angle = np.radians(turn)
    spin = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    corners = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * [width / 2, height / 2]
    return np.asarray(corners @ spin.T + [x, y])


def reference_ring(scene: Scene) -> Array:
    """The reference board's corners (4, 2) in mm, laid beside the outline on the asked side."""
    width, height = scene.reference
    if scene.reference_at is not None:
        return rectangle(*scene.reference_at, width, height, scene.reference_turn)
    low, high = scene.outline.min(axis=0), scene.outline.max(axis=0)
    angle = np.radians(scene.reference_turn)
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    box = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * [width / 2, height / 2] @ turn.T
    reach = np.abs(box).max(axis=0) + 25.0
    along = np.random.default_rng(scene.seed + 5).uniform(0.25, 0.75)
    middle = low + along * (high - low)
    spot = {
        "right": (high[0] + reach[0], middle[1]),
        "left": (low[0] - reach[0], middle[1]),
        "top": (middle[0], high[1] + reach[1]),
        "bottom": (middle[0], low[1] - reach[1]),
    }[scene.reference_side]
    return np.asarray(box + np.array(spot))


Field = Callable[[Array, Array], Array]
"""What the floor shows at places x, y (two arrays of one shape, mm)."""
_ROWS_AT_ONCE = 24
"""Rows of the picture that are worked out together: few enough that what passes between steps stays in the cache."""


@dataclass(frozen=True)
class _Canvas:
    """The picture that is painted, `supersample` times as fine as it is handed out.

    `colour` (h, w, 3) is what is there so far; `x_mm` and `y_mm` (h, w) are the floor's places of its pixels. Things
    are painted inside the box that they cover, and the whole of the picture some rows at a time.
    """

    colour: Array
    x_mm: Array
    y_mm: Array
    fine: Array
    distort: Lens
    pixel_mm: float

    def seen(self, ring: Array) -> Array:
        """Where the picture shows a ring (n, 2) of the floor, mm: pixels, as many as its bent sides need."""
        return self.distort.apply(to_pixels(self.fine, densify(ring, 20.0)))

    def mask(self, rings: Sequence[Array], soft: float = 0.0) -> tuple[tuple[slice, slice], Array]:
        """The box that rings (n, 2), mm, cover in the picture, and what of it is theirs (0 to 1), blurred by `soft`."""
        height, width = self.x_mm.shape
        seen = [self.seen(ring) for ring in rings]
        reach = soft / self.pixel_mm
        box = _box_of(seen, 4 * reach + 1, width, height)
        shifted = [ring - [box[1].start, box[0].start] for ring in seen]
        inside = fill(shifted, box[1].stop - box[1].start, box[0].stop - box[0].start)
        return box, _blur(inside, reach) if soft > 0 else inside

    def darken(self, rings: Sequence[Array], by: float, soft: float) -> None:
        """Let a shadow of these rings fall on what is there."""
        box, shadow = self.mask(rings, soft)
        self.colour[box] *= 1 - by * shadow[..., None]

    def cover(self, rings: Sequence[Array], colour: Array) -> None:
        """Paint the inside of rings with one colour."""
        box, inside = self.mask(rings)
        self.colour[box] += (colour - self.colour[box]) * inside[..., None]

    def rows(self, box: tuple[slice, slice] | None = None) -> list[tuple[slice, slice]]:
        """The picture, or a box of it, in parts of few rows."""
        height, width = self.x_mm.shape
        whole, across = box or (slice(0, height), slice(0, width))
        starts = range(whole.start, whole.stop, _ROWS_AT_ONCE)
        return [(slice(at, min(at + _ROWS_AT_ONCE, whole.stop)), across) for at in starts]


def _floor_colour(scene: Scene, pixel_mm: float, rng: np.random.Generator) -> Field:
    tint = np.array(FLOOR_TINTS[scene.floor], dtype=np.float32)
    if scene.floor in DRAWN_FLOORS:
        floor = _drawn_floor(scene.floor, pixel_mm, np.random.default_rng(scene.seed + 11))
    else:
        floor = _carpet(scene.floor, pixel_mm, rng)
    return lambda x_mm, y_mm: np.asarray(floor(x_mm, y_mm) * tint)


def _cast_shadows(canvas: _Canvas, scene: Scene, boards: Sequence[Array], rng: np.random.Generator) -> None:
    """Darken the floor beside the hide and its boards."""
    if scene.cast <= 0:
        return
    direction = rng.uniform(0, 2 * np.pi)
    offset = np.array([scene.cast * np.cos(direction), scene.cast * np.sin(direction)])
    canvas.darken([scene.outline + offset], 0.42, scene.cast * 0.5)
    if boards:
        canvas.darken([board + offset * 0.3 for board in boards], 0.3, 1.5)


def _draw_clutter(canvas: _Canvas, things: Sequence[Clutter]) -> None:
    for thing in things:
        canvas.darken([thing.ring + np.array([4.0, -3.0])], 0.3, 3.0)
        canvas.cover([thing.ring], np.array(thing.colour, dtype=np.float32))
        if thing.inner_colour is not None:
            middle = thing.ring.mean(axis=0)
            inner = middle + (thing.ring - middle) * 0.8
            canvas.cover([inner], np.array(thing.inner_colour, dtype=np.float32))


def _draw_sheets(
    canvas: _Canvas, scene: Scene, marked: Sequence[Array], boards: Sequence[Array], rng: np.random.Generator
) -> None:
    """Lay the sheets of printed marks (`marked`), or else the boards: printed, or with a corner folded over."""
    grain = rng.standard_normal(canvas.x_mm.shape, dtype=np.float32)
    white = np.array(scene.reference_colour, dtype=np.float32)
    for board, ring in zip(
        marked or boards, marked or [_folded(boards[0], scene.folded), *boards[1:]], strict=True
    ):
        box, paper = canvas.mask([ring])

        def part(rings: Sequence[Array], box: tuple[slice, slice] = box) -> Array:
            shifted = [canvas.seen(each) - [box[1].start, box[0].start] for each in rings]
            return fill(shifted, box[1].stop - box[1].start, box[0].stop - box[0].start)

        sheet = white * (1 + 0.01 * grain[box][..., None])
        if scene.printed > 0 and not marked:
            sheet = sheet * (1 - 0.75 * part(_printed_lines(board, scene))[..., None])
        if scene.creased > 0 and not marked:
            sheet = sheet * (1 - scene.creased * part([_half_of(board)])[..., None])
        if scene.written > 0 and not marked:
            ink = part(_written_lines(board, scene))
            sheet = sheet + (np.array((40, 52, 120), dtype=np.float32) - sheet) * 0.8 * ink[..., None]
        canvas.colour[box] += (sheet - canvas.colour[box]) * paper[..., None]
    if scene.folded > 0:
        canvas.cover([_flap(boards[0], scene.folded)], 0.88 * white)


def _draw_hide(canvas: _Canvas, scene: Scene, rng: np.random.Generator) -> None:
    """Lay the leather with its flaws."""
    box, hide = canvas.mask([scene.outline], 8.0 if scene.coat == "hair" else 0.0)
    if scene.coat == "hair":
        hide = _hairy(canvas, scene)[box]
    origin = [box[1].start, box[0].start]
    leather = np.empty((*hide.shape, 3), dtype=np.float32)
    looks = _leather(scene, rng)
    if scene.coat != "plain":
        looks = _coat(scene, looks)
    for rows, columns in canvas.rows(box):
        here = slice(rows.start - box[0].start, rows.stop - box[0].start)
        leather[here] = looks(canvas.x_mm[rows, columns], canvas.y_mm[rows, columns])
    for flaw in scene.flaws:
        reach = {"hole": 1.2, "spot": 2.5}.get(flaw.kind, 0.8) / canvas.pixel_mm
        rings = [canvas.seen(ring) - origin for ring in flaw.rings]
        part = _box_of(rings, 4 * reach, hide.shape[1], hide.shape[0])
        shifted = [ring - [part[1].start, part[0].start] for ring in rings]
        inside = fill(shifted, part[1].stop - part[1].start, part[0].stop - part[0].start)
        mark = _blur(inside, reach)
        if flaw.kind == "hole":
            hide[part] *= 1 - inside
        leather[part] *= 1 + (-0.25 if flaw.kind == "hole" else flaw.change) * mark[..., None]
    for rows, columns in canvas.rows(box):
        here = slice(rows.start - box[0].start, rows.stop - box[0].start)
        under = canvas.colour[rows, columns]
        under += (leather[here] - under) * hide[here][..., None]


def _blank_canvas(scene: Scene, homography: Array, supersample: int) -> _Canvas:
    """A picture whose pixels know where on the floor they lie."""
    height, width = scene.height * supersample, scene.width * supersample
    offset = (supersample - 1) / 2
    fine = np.array([[supersample, 0, offset], [0, supersample, offset], [0, 0, 1.0]]) @ homography
    inverse = np.linalg.inv(fine).astype(np.float32)
    places = [np.empty((height, width), dtype=np.float32) for _ in range(2)]
    pixel_mm = _pixel_size(fine, scene.outline.mean(axis=0))
    distort = Lens.of_picture(scene.distortion, width, height)
    colour = np.empty((height, width, 3), dtype=np.float32)
    canvas = _Canvas(colour, places[0], places[1], fine, distort, pixel_mm)
    for rows, columns in canvas.rows():
        ys, xs = np.mgrid[rows, columns].astype(np.float32)
        xs, ys = distort.undo(xs, ys)
        depth = inverse[2, 0] * xs + inverse[2, 1] * ys + inverse[2, 2]
        canvas.x_mm[rows] = (inverse[0, 0] * xs + inverse[0, 1] * ys + inverse[0, 2]) / depth
        canvas.y_mm[rows] = (inverse[1, 0] * xs + inverse[1, 1] * ys + inverse[1, 2]) / depth
    return canvas


def render(scene: Scene, *, supersample: int = 2) -> Rendered:
    """Draw the scene; deterministic for its seed."""
    rng = np.random.default_rng(scene.seed)
    board = reference_ring(scene)
    sheets = [rectangle(x, y, 210, 297, turn) for x, y, turn in scene.marks]
    more = sheet_rings(scene)[1:]
    homography = camera(scene, np.vstack([_framed_outline(scene), *(sheets or [board]), *more]))
    canvas = _blank_canvas(scene, homography, supersample)
    floor = _floor_colour(scene, canvas.pixel_mm, rng)
    for rows in canvas.rows():
        canvas.colour[rows] = floor(canvas.x_mm[rows], canvas.y_mm[rows])
    _cast_shadows(canvas, scene, [] if sheets else [board, *more], rng)
    _draw_clutter(canvas, scene.clutter)
    _draw_hide(canvas, scene, rng)
    _draw_clutter(canvas, scene.things_on_hide)
    _draw_sheets(canvas, scene, sheets, [board, *more], rng)
    for ink, side in ((30.0, 150.0), (235.0, 12.0)):
        for x, y, turn in scene.marks:
            canvas.cover([rectangle(x, y, side, side, turn)], np.array(ink, dtype=np.float32))
    if scene.sheet_shadow > 0 and not sheets:
        canvas.darken([_shadow_across(board, scene)], scene.sheet_shadow, 4.0)
    return Rendered(scene, _exposed(canvas, scene, rng), homography, board, seen_in(scene, homography, board))


def _exposed(canvas: _Canvas, scene: Scene, rng: np.random.Generator) -> bytes:
    """The JPEG that a camera makes of the canvas in the scene's light."""
    light = _light(scene, rng)
    small = np.empty((scene.height, scene.width, 3), dtype=np.float32)
    k = canvas.x_mm.shape[0] // scene.height
    for rows, _ in canvas.rows():
        lit = canvas.colour[rows] * light(canvas.x_mm[rows], canvas.y_mm[rows])[..., None]
        lit = lit.reshape(-1, k, scene.width, k, 3).mean(axis=(1, 3))
        small[rows.start // k : rows.start // k + len(lit)] = lit
    small = np.dstack([_blur(small[..., c], scene.blur) for c in range(3)])
    # As a camera exposes: of a bright picture at most about one place in a hundred is cut off at white.
    small *= min(1.0, 250.0 / float(np.percentile(small[::4, ::4].max(axis=2), 99)))
    small += scene.noise * rng.standard_normal(small.shape, dtype=np.float32)
    picture = Image.fromarray(np.clip(small, 0, 255).astype(np.uint8))
    memory = io.BytesIO()
    picture.save(memory, "JPEG", quality=scene.quality)
    return memory.getvalue()


def _framed_outline(scene: Scene) -> Array:
    """The part of the outline that the picture holds."""
    if scene.cut_off <= 0:
        return scene.outline
    low, high = scene.outline.min(axis=0), scene.outline.max(axis=0)
    axis, sign = {"right": (0, 1), "left": (0, -1), "top": (1, 1), "bottom": (1, -1)}[scene.reference_side]
    along = (scene.outline[:, axis] - low[axis]) / (high[axis] - low[axis])
    kept = along > scene.cut_off if sign > 0 else along < 1 - scene.cut_off
    return np.asarray(scene.outline[kept])


def _folded(board: Array, length: float) -> Array:
    """The board without the corner folded over."""
    if length <= 0:
        return board
    a, b = _fold_ends(board, length)
    return np.vstack([a, b, board[1:]])


def _fold_ends(board: Array, length: float) -> tuple[Array, Array]:
    before, after = board[3] - board[0], board[1] - board[0]
    return board[0] + before * length / np.hypot(*before), board[0] + after * length * 0.8 / np.hypot(*after)


def _flap(board: Array, length: float) -> Array:
    """The folded corner as it lies on the sheet."""
    a, b = _fold_ends(board, length)
    way = (b - a) / np.hypot(*(b - a))
    foot = a + way * ((board[0] - a) @ way)
    return np.vstack([a, b, 2 * foot - board[0]])


def _printed_lines(board: Array, scene: Scene) -> list[Array]:
    """Lines of print on a sheet: bars (4, 2) of ragged length, and a block like a picture."""
    rng = np.random.default_rng(scene.seed + 13)
    across, up = board[1] - board[0], board[3] - board[0]
    rows = max(6, int(np.hypot(*up) / 9))
    bars = []

    def bar(x0: float, y0: float, x1: float, y1: float) -> Array:
        return np.array([board[0] + x * across + y * up for x, y in ((x0, y0), (x1, y0), (x1, y1), (x0, y1))])

    for row in range(rows):
        if rng.random() > scene.printed:
            continue
        y = 0.08 + 0.84 * row / rows
        x = 0.1
        while x < 0.85:
            word = rng.uniform(0.03, 0.12)
            bars.append(bar(x, y, min(x + word, 0.9), y + 0.35 * 0.84 / rows))
            x += word + 0.015
    if rng.random() < 0.5:
        bars.append(bar(0.55, 0.6, 0.9, 0.85))
    return bars


def _half_of(board: Array) -> Array:
    """The half of a board beyond its middle, across its longer side."""
    longer = np.hypot(*(board[1] - board[0])) >= np.hypot(*(board[3] - board[0]))
    a, b, c, d = board if longer else np.roll(board, -1, axis=0)
    return np.array([(a + b) / 2, b, c, (d + c) / 2])


def _written_lines(board: Array, scene: Scene) -> list[Array]:
    """Wavy strokes across a board, as thin rings (n, 2)."""
    rng = np.random.default_rng(scene.seed + 15)
    across, up = board[1] - board[0], board[3] - board[0]
    t = np.linspace(0, 1, 60)[:, None]
    rings = []
    for row in range(scene.written):
        start, end = rng.uniform(0.05, 0.2), rng.uniform(0.5, 0.95)
        height = (row + 1) / (scene.written + 1) + rng.uniform(-0.03, 0.03)
        wave = 0.012 * np.sin(2 * np.pi * (9 * t + rng.uniform())) + 0.01 * np.sin(2 * np.pi * 23 * t)
        line = board[0] + (start + t * (end - start)) * across + (height + wave) * up
        thick = 0.004 * up
        rings.append(np.vstack([line + thick, (line - thick)[::-1]]))
    return rings


def _shadow_across(board: Array, scene: Scene) -> Array:
    """What a shadow with a straight edge through the board covers: a large rectangle, one side near its middle."""
    rng = np.random.default_rng(scene.seed + 16)
    angle = rng.uniform(0, 2 * np.pi)
    way, size = np.array([np.cos(angle), np.sin(angle)]), float(np.ptp(board, axis=0).max())
    side = np.array([-way[1], way[0]])
    foot = board.mean(axis=0) + way * size * rng.uniform(-0.25, 0.25)
    return np.array([foot - 3 * size * side, foot + 3 * size * side,
                     foot + 3 * size * side + 2 * size * way, foot - 3 * size * side + 2 * size * way])  # fmt: skip


def seen_in(scene: Scene, homography: Array, points: Array) -> Array:
    """Where the picture of a scene shows floor points (n, 2), mm: pixels."""
    return np.asarray(scene.lens.apply(to_pixels(homography, points)))


def sheet_rings(scene: Scene) -> list[Array]:
    """The corners (4, 2), mm, of the reference and of the further sheets of its size."""
    return [
        reference_ring(scene),
        *(rectangle(x, y, *scene.reference, turn) for x, y, turn in scene.more_sheets),
    ]


@dataclass(frozen=True)
class Lens:
    """One-term division distortion: true = seen / (1 + k r^2), r in half diagonals from the middle."""

    k: float
    cx: float
    cy: float
    half: float

    @classmethod
    def of_picture(cls, k: float, width: int, height: int) -> Lens:
        """The lens whose axis goes through the middle of a picture of so many pixels."""
        return cls(k, (width - 1) / 2, (height - 1) / 2, float(np.hypot(width, height)) / 2)

    def undo(self, xs: Array, ys: Array) -> tuple[Array, Array]:
        if self.k == 0:
            return xs, ys
        dx, dy = (xs - self.cx) / self.half, (ys - self.cy) / self.half
        scale = 1 / (1 + self.k * (dx * dx + dy * dy))
        return self.cx + dx * scale * self.half, self.cy + dy * scale * self.half

    def apply(self, points: Array) -> Array:
        if self.k == 0:
            return points
        true = (points - [self.cx, self.cy]) / self.half
        seen = true.copy()
        for _ in range(30):
            seen = true * (1 + self.k * (seen**2).sum(axis=1, keepdims=True))
        return np.asarray(seen * self.half + [self.cx, self.cy])


def _blur(picture: Array, sigma: float) -> Array:
    return np.asarray(ndimage.gaussian_filter(picture, sigma)) if sigma > 0.15 else picture


def _pixel_size(homography: Array, place: Array) -> float:
    seen = to_pixels(homography, np.array([place, place + np.array([1, 0]), place + np.array([0, 1])]))
    return float(2 / (np.hypot(*(seen[1] - seen[0])) + np.hypot(*(seen[2] - seen[0]))))


def _carpet(name: str, pixel_mm: float, rng: np.random.Generator) -> Field:
    import skimage.data

    texture = getattr(skimage.data, name)().astype(np.float32)
    texture /= texture.mean()
    texel = TEXEL_MM[name]
    texture = _blur(texture, 0.4 * pixel_mm / texel)
    mirrored = np.block([[texture, texture[:, ::-1]], [texture[::-1], texture[::-1, ::-1]]])
    angle = rng.uniform(-0.3, 0.3)
    right, down = rng.uniform(0, 900), rng.uniform(0, 900)
    period = mirrored.shape[0]

    def at(x_mm: Array, y_mm: Array) -> Array:
        u = (np.cos(angle) * x_mm + np.sin(angle) * y_mm) / texel + right
        v = (-np.sin(angle) * x_mm + np.cos(angle) * y_mm) / texel + down
        looks = ndimage.map_coordinates(mirrored, [v % period, u % period], order=1, mode="grid-wrap")
        return np.asarray(looks, dtype=np.float32)[..., None]

    return at


def _drawn_floor(name: str, pixel_mm: float, rng: np.random.Generator) -> Field:
    """A floor made of lines and noise, (h, w, 1) or (h, w, 3), of mean about 1."""
    angle = rng.uniform(-0.6, 0.6)
    right, down = rng.uniform(0, 500), rng.uniform(0, 500)
    fine, wide = _cloud(max(3.0, 2.0 * pixel_mm), rng), _cloud(120.0, rng)
    if name in ("white", "concrete", "carpet"):
        middling = _cloud(30.0, rng) if name == "concrete" else wide
    else:
        size = {"tiles": 300.0, "checked": rng.uniform(90, 260), "boards": 140.0}[name]
        shades = 1 + rng.uniform(-0.12, 0.12, (64, 64)).astype(np.float32)
        grain = _cloud(4.0, rng) if name == "boards" else wide

    def along(x_mm: Array, y_mm: Array) -> tuple[Array, Array]:
        u = np.cos(angle) * x_mm + np.sin(angle) * y_mm + right
        return u, -np.sin(angle) * x_mm + np.cos(angle) * y_mm + down

    def white(x_mm: Array, y_mm: Array) -> Array:
        return np.asarray(
            (1 + 0.006 * fine(x_mm, y_mm) + 0.012 * wide(x_mm, y_mm))[..., None], dtype=np.float32
        )

    def concrete(x_mm: Array, y_mm: Array) -> Array:
        clouds = 0.05 * fine(x_mm, y_mm) + 0.06 * wide(x_mm, y_mm)
        return np.asarray((1 + clouds + 0.04 * middling(x_mm, y_mm))[..., None])

    def carpet(x_mm: Array, y_mm: Array) -> Array:
        u, v = along(x_mm, y_mm)
        weave = np.sin(2 * np.pi * u / 7) * np.sin(2 * np.pi * v / 7)
        level = 1 + 0.12 * weave + 0.1 * fine(x_mm, y_mm) + 0.03 * wide(x_mm, y_mm)
        return np.asarray(level[..., None], dtype=np.float32)

    def checked(x_mm: Array, y_mm: Array) -> Array:
        u, v = along(x_mm, y_mm)
        dark = (np.floor(u / size) + np.floor(v / size)) % 2
        level = 1.35 - 0.9 * dark + 0.015 * fine(x_mm, y_mm) + 0.02 * wide(x_mm, y_mm)
        return np.asarray(level[..., None], dtype=np.float32)

    def tiles(x_mm: Array, y_mm: Array) -> Array:
        u, v = along(x_mm, y_mm)
        column, row = np.floor(u / size).astype(int), np.floor(v / size).astype(int)
        shade = 1 + 0.3 * (shades[column % 64, row % 64] - 1)
        joint = (np.minimum(u % size, size - u % size) < 3) | (np.minimum(v % size, size - v % size) < 3)
        level = np.where(joint, 0.6, shade) + 0.015 * fine(x_mm, y_mm) + 0.03 * wide(x_mm, y_mm)
        return np.asarray(level[..., None], dtype=np.float32)

    def boards(x_mm: Array, y_mm: Array) -> Array:
        u, v = along(x_mm, y_mm)
        row = np.floor(v / size)
        shade = shades[row.astype(int) % 64, np.floor((u + 431 * (row % 7)) / 1400).astype(int) % 64]
        joint = np.minimum(v % size, size - v % size) < 1.2
        level = np.where(joint, 0.45, shade + 0.06 * grain(u / 14, v) + 0.02 * fine(x_mm, y_mm))
        return np.asarray(level[..., None] * np.array([1.03, 1.0, 0.96]), dtype=np.float32)

    looks: dict[str, Field] = {
        "white": white, "concrete": concrete, "carpet": carpet, "checked": checked, "tiles": tiles, "boards": boards
    }  # fmt: skip
    return looks[name]


def _hairy(canvas: _Canvas, scene: Scene) -> Array:
    """The hide's mask (h, w) with an edge as frayed as a few mm of hair make it."""
    rng = np.random.default_rng(scene.seed + 12)
    height, width = canvas.x_mm.shape
    hide = fill([canvas.seen(scene.outline)], width, height)
    soft = _blur(hide, 2.0 / canvas.pixel_mm)
    ragged = _blur(rng.standard_normal(hide.shape).astype(np.float32), 0.8 / canvas.pixel_mm)
    return np.asarray(
        np.clip((soft - 0.5 + 0.25 * ragged / ragged.std() * (soft > 0.02) * (soft < 0.98)) * 4 + 0.5, 0, 1)
    )


def _coat(scene: Scene, leather: Field) -> Field:
    """The leather's picture (h, w, 3) with its coat: spots, two tones, hair, gloss or nap."""
    rng = np.random.default_rng(scene.seed + 14)
    if scene.coat in ("spotted", "two-tone"):
        return _two_colours(scene, leather, rng)
    if scene.coat == "hair":
        fine, wide = _cloud(3.0, rng), _cloud(60.0, rng)
        return lambda x, y: np.asarray(
            leather(x, y) * (1 + 0.09 * fine(x / 5 + 0.2 * y, y) + 0.05 * wide(x, y))[..., None]
        )
    if scene.coat == "grained":
        fine, wide = _cloud(8.0, rng), _cloud(60.0, rng)
        return lambda x, y: np.asarray(
            leather(x, y) * (1 + (0.06 * fine(x, y) + 0.05 * wide(x, y)))[..., None]
        )
    if scene.coat == "suede":
        nap = _cloud(110.0, rng)
        return lambda x, y: np.asarray(leather(x, y) * (1 + 0.1 * nap(x, y))[..., None])
    low, high = scene.outline.min(axis=0), scene.outline.max(axis=0)
    spots = [rng.uniform(low + 0.25 * (high - low), high - 0.25 * (high - low)) for _ in range(2)]

    def glossy(x_mm: Array, y_mm: Array) -> Array:
        glare = np.zeros(x_mm.shape, dtype=np.float32)
        for spot in spots:
            glare += np.exp(-(((x_mm - spot[0]) / 180) ** 2 + ((y_mm - spot[1]) / 110) ** 2)).astype(
                np.float32
            )
        plain = leather(x_mm, y_mm)
        return np.asarray(plain + (240 - plain) * (0.65 * np.clip(glare, 0, 1))[..., None], dtype=np.float32)

    return glossy


def _two_colours(scene: Scene, leather: Field, rng: np.random.Generator) -> Field:
    """Leather of which spots, or one side, have the coat's other colour."""
    other = np.array(scene.coat_colour, dtype=np.float32)
    low, high = scene.outline.min(axis=0), scene.outline.max(axis=0)
    if scene.coat == "spotted":
        wide, fine = _cloud(rng.uniform(90, 200), rng), _cloud(12.0, rng)
        level = rng.uniform(-0.4, 0.6)

        def share(x_mm: Array, y_mm: Array) -> Array:
            field = wide(x_mm, y_mm) + 0.15 * fine(x_mm, y_mm)
            return np.asarray(1 / (1 + np.exp(-np.clip((field - level) / 0.06, -30, 30))))
    else:
        angle = rng.uniform(0, np.pi)
        way, middle = np.array([np.cos(angle), np.sin(angle)]), (low + high) / 2
        wavy = _cloud(220.0, rng)
        off = rng.uniform(-0.2, 0.2) * float(np.ptp(scene.outline @ way))

        def share(x_mm: Array, y_mm: Array) -> Array:
            along = (x_mm - middle[0]) * way[0] + (y_mm - middle[1]) * way[1]
            along = along + 40 * wavy(x_mm, y_mm) + off
            return np.asarray(1 / (1 + np.exp(-np.clip(along / 6.0, -30, 30))))

    def at(x_mm: Array, y_mm: Array) -> Array:
        plain = leather(x_mm, y_mm)
        grain = plain / np.array(scene.hide_colour, dtype=np.float32)
        return np.asarray(plain + (other * grain - plain) * share(x_mm, y_mm)[..., None], dtype=np.float32)

    return at


def _cloud(grain: float, rng: np.random.Generator) -> Field:
    """Smooth noise of unit deviation whose bumps are about `grain` mm wide."""
    size = 256
    bumps = ndimage.gaussian_filter(rng.standard_normal((size, size)), 1.2, mode="wrap").astype(np.float32)
    bumps /= bumps.std()

    def at(x_mm: Array, y_mm: Array) -> Array:
        numbers = (x_mm.dtype.type(number) for number in (grain, 1.7, size))
        return np.asarray(_between_bumps(bumps, x_mm, y_mm, *numbers))

    return at


@numba.njit(cache=True)
def _between_bumps(bumps: Array, x_mm: Array, y_mm: Array, step: Any, cells: Any, whole: Any) -> Array:
    """The values (h, w) of an endlessly repeated grid, `cells` of it on every `step` mm, linear between its points.

    `step`, `cells` and `whole`, the grid's side, are numbers of the places' own precision.

    Written out because `map_coordinates`, whose values these are to the last bit, took most of a picture's time.
    """
    size = bumps.shape[0]
    values = np.empty(x_mm.shape, dtype=np.float32)
    for i in range(x_mm.shape[0]):
        for j in range(x_mm.shape[1]):
            across, up = x_mm[i, j] / step * cells, y_mm[i, j] / step * cells
            # The size is a power of two, so nothing is rounded by taking whole grids off.
            x, y = (
                np.float64(across - whole * np.floor(across / whole)),
                np.float64(up - whole * np.floor(up / whole)),
            )
            left, top = int(x), int(y)
            x, y = x - left, y - top
            left, top = left & (size - 1), top & (size - 1)
            right, below = (left + 1) & (size - 1), (top + 1) & (size - 1)
            value = np.float64(bumps[top, left]) * (1 - y) * (1 - x)
            value += np.float64(bumps[top, right]) * (1 - y) * x
            value += np.float64(bumps[below, left]) * y * (1 - x)
            values[i, j] = value + np.float64(bumps[below, right]) * y * x
    return values


def _leather(scene: Scene, rng: np.random.Generator) -> Field:
    fine, middling, wide = (_cloud(grain, rng) for grain in (3.0, 40.0, 260.0))
    low, high = scene.outline.min(axis=0), scene.outline.max(axis=0)

    def at(x_mm: Array, y_mm: Array) -> Array:
        shade = 1 + 0.03 * fine(x_mm, y_mm)
        shade += 0.025 * middling(x_mm, y_mm) + 0.03 * wide(x_mm, y_mm)
        shade += 0.06 * ((y_mm - low[1]) / (high[1] - low[1]) - 0.5)
        return np.asarray(shade[..., None] * np.array(scene.hide_colour, dtype=np.float32))

    return at


def _light(scene: Scene, rng: np.random.Generator) -> Field:
    low, high = scene.outline.min(axis=0), scene.outline.max(axis=0)
    shadows = []
    for _ in range(scene.shadows):
        angle, offset = rng.uniform(0, np.pi), rng.uniform(-0.4, 0.4)
        wide, edge = rng.uniform(0.12, 0.3), rng.uniform(0.015, 0.05)
        shadows.append((angle, offset, wide, edge, rng.uniform(0.2, 0.4)))

    def at(x_mm: Array, y_mm: Array) -> Array:
        u = (x_mm - (low[0] + high[0]) / 2) / (high[0] - low[0])
        v = (y_mm - (low[1] + high[1]) / 2) / (high[1] - low[1])
        light = np.clip(1 + scene.light[0] * u + scene.light[1] * v, 0.4, 1.6)
        for angle, offset, wide, edge, dark in shadows:
            across = u * np.cos(angle) + v * np.sin(angle) - offset + 0.06 * np.sin(4 * u + 3 * v)
            inside = 1 / (1 + np.exp(-np.clip((wide - np.abs(across)) / edge, -30, 30)))
            light = light * (1 - dark * inside)
        return np.asarray(light, dtype=np.float32)

    return at


def write_photo(path: Path, scene: Scene, *, most_bytes: int = 400_000) -> Rendered:
    """Render the scene to a JPEG of at most `most_bytes`, lowering quality as far as needed."""
    rendered = render(scene)
    data = rendered.jpeg
    quality = scene.quality
    picture = Image.open(io.BytesIO(data))
    while len(data) > most_bytes and quality > 20:
        quality -= 5
        memory = io.BytesIO()
        picture.save(memory, "JPEG", quality=quality)
        data = memory.getvalue()
    path.write_bytes(data)
    return Rendered(scene, data, rendered.homography, rendered.reference_mm, rendered.reference_px)


def photo_of_hide(
    path: Path,
    outline: Array,
    flaws: Sequence[tuple[str, Array]] = (),
    *,
    floor: str = "gravel",
    colour: tuple[float, float, float] = HIDE_COLOURS["natural"],
    reference: tuple[float, float] = SHEETS["A3"],
    seed: int = 1,
    tilt: float = 18.0,
    width: int = 1600,
    height: int = 1200,
    most_bytes: int = 400_000,
) -> Rendered:
    """Write a photograph of any outline (n, 2) with flaws given as (kind, ring): kind `hole` is cut through."""
    drawn = tuple(
        DrawnFlaw("hole" if kind in ("hole", "through") else "spot", (ring,)) for kind, ring in flaws
    )
    scene = Scene(
        outline=np.asarray(outline, dtype=np.float64),
        flaws=drawn,
        floor=floor,
        hide_colour=colour,
        reference=reference,
        tilt=tilt,
        width=width,
        height=height,
        blur=0.7,
        noise=2.0,
        seed=seed,
    )
    return write_photo(path, scene, most_bytes=most_bytes)


def main(arguments: Sequence[str] | None = None) -> None:
    """`python -m tests.intake.photo_render HIDE.hide.json OUT.jpg`, or `--scene N OUT.jpg` for one of the series."""
    parser = argparse.ArgumentParser(description=main.__doc__)
    parser.add_argument("hide", nargs="?", help="a hide file whose outline and flaws are photographed")
    parser.add_argument("out", type=Path)
    parser.add_argument("--scene", type=int)
    parser.add_argument("--floor", choices=FLOORS, default="gravel")
    parser.add_argument("--colour", choices=sorted(HIDE_COLOURS), default="natural")
    parser.add_argument("--reference", choices=sorted(SHEETS), default="A3")
    parser.add_argument("--tilt", type=float, default=18.0)
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args(arguments)
    if given.scene is not None:
        from tests.intake.photo_scenes import random_scene

        write_photo(given.out, random_scene(given.scene))
    else:
        hide = json.loads(Path(given.hide).read_text(encoding="utf-8"))
        flaws = [
            (
                "hole" if flaw.get("spoils") == "through" else "spot",
                np.array(flaw["outline"], dtype=np.float64),
            )
            for flaw in hide.get("flaws", [])
        ]
        photo_of_hide(
            given.out,
            np.array(hide["outline"], dtype=np.float64),
            flaws,
            floor=given.floor,
            colour=HIDE_COLOURS[given.colour],
            reference=SHEETS[given.reference],
            tilt=given.tilt,
            seed=given.seed,
        )
    sys.stdout.write(f"{given.out}: {given.out.stat().st_size} bytes\n")


if __name__ == "__main__":
    main()
