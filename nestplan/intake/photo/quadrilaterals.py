"""Four-sided patches of one even colour in a picture: what might be a reference, best first.

The picture is cut at many levels in lightness and two colours; a patch that keeps its four straight sides over
several levels stands out (after the maximally stable regions of Matas, Chum, Urban and Pajdla 2002).
Not here: which of them is the reference, and its exact corners (reference).
"""

from __future__ import annotations

import itertools
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from nestplan.intake.photo.line_segments import straight_chains
from nestplan.intake.photo.raster import lab_colours, median_of_nine, ring_mask
from nestplan.intake.photo.reading import Photo

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

__all__ = ["Quadrilateral", "candidate_quadrilaterals", "enclosing_quadrilateral", "quadrilaterals_of_lines"]

_WORKING_WIDTH = 640
_LEVELS = 9
_MOST_PER_LEVEL = 12
_MOST_LINES, _LEAST_LINE, _MOST_FOURS = 250, 18.0, 40000
"""Of lines: how many of the longest are looked at, the shortest (pixels), and how many fours are looked at."""
_CORNER_GAP, _CORNER_GAP_SHARE, _LEAST_COVERED = 45.0, 1.1, 0.45
"""How far from their ends lines may meet, pixels and as a share of their length, and the least share of a side that
lies on edges: on a checked floor a sheet's side is seen along every other square."""
_LEAST_OPEN, _ALIKE, _OPEN_GAP, _WITHOUT_A_SIDE = 30.0, 0.85, 0.25, 0.8
"""Of figures whose fourth side is not seen: their shortest line (pixels), the cosine of the angle between two opposite
ones, how far their ends may lie from those of the third (as a share of its length), and what their score is worth."""
LEAST_SHARE, MOST_SHARE = 0.0008, 0.5
"""Working width in pixels, levels a channel, and how many patches of one cut are looked at closely."""
_PRINT = 9
"""Print narrower than this, working pixels, is closed over when a sheet is looked for."""
_LEAST_SIDE_STEP = 3.0
"""Step of colour (CIELAB) across a side that is one: white paper on a white floor shows 3 to 5."""
_SAME_COLOUR = 7.0
"""Colours closer than this in CIELAB's a and b are one."""


@dataclass(frozen=True, eq=False)
class Quadrilateral:
    """Corners (4, 2) in pixels, and how well the patch stands out, 0 to about 1.

    `colour_elsewhere`: how many times its own area the rest of the picture shows in its colour; a sheet laid
    on a floor has about 0, one brick of many has 20 and more.
    """

    corners: Floats
    score: float
    colour_elsewhere: float = 0.0


def candidate_quadrilaterals(image: NDArray[np.uint8], *, most: int = 30) -> list[Quadrilateral]:
    """Up to `most` four-sided even patches of an sRGB picture (h, w, 3), best first, corners in its pixels."""
    from scipy import ndimage

    small, scale = _small_lab(image)
    smooth = median_of_nine(small)
    even = smooth.copy()
    even[..., 0] = ndimage.grey_closing(smooth[..., 0], size=_PRINT)
    masks: list[NDArray[np.bool_]] = []
    for values in (
        *np.moveaxis(smooth, -1, 0),
        even[..., 0],
        _relative_lightness(smooth[..., 0]),
        _local_variation(small[..., 0]),
    ):
        low, high = np.percentile(values, [0.2, 99.8])
        if high - low < 4:
            continue
        for level in np.linspace(low, high, _LEVELS + 2)[1:-1]:
            above = values > level
            masks += [above, ~above]
    with ThreadPoolExecutor(max_workers=2) as pool:
        found = [quad for quads in pool.map(_four_sided, masks) for quad in quads]
    planes = np.ascontiguousarray(np.moveaxis(even, -1, 0))
    return [
        replace(quad, colour_elsewhere=_colour_elsewhere(planes, (quad.corners + 0.5) / scale - 0.5))
        for quad in _merged_and_scored(found, smooth, even, scale)[:most]
    ]


def quadrilaterals_of_lines(photo: Photo, *, faint: bool = False, most: int = 200) -> list[Quadrilateral]:
    """Four-sided figures whose sides are straight edges of the picture that meet in their corners, best first.

    They are found where a sheet has the floor's own colour, or the floor is a pattern: by its edges alone. The score is
    made of the share of the sides that lies on edges and how even the inside is, print aside. `faint` edges too: white
    paper on a white floor has no others.
    """
    from scipy.ndimage import binary_dilation, grey_closing

    chains, size, step = straight_chains(photo, faint=faint)
    ends = []
    on_edge = np.zeros(size[::-1], dtype=bool)
    for chain in sorted(chains, key=len)[::-1][:_MOST_LINES]:
        cells = np.rint(chain).astype(int)
        on_edge[cells[:, 1], cells[:, 0]] = True
        middle = chain.mean(axis=0)
        way = np.linalg.svd(chain - middle, full_matrices=False)[2][0]
        along = (chain - middle) @ way
        if np.ptp(along) >= _LEAST_LINE:
            ends.append([middle + way * along.min(), middle + way * along.max()])
    if len(ends) < 4:
        return []
    edges = binary_dilation(on_edge, np.ones((3, 3), dtype=bool))
    figures, open_figures = _closed_fours(np.array(ends)), _open_fours(np.array(ends))
    shares = np.concatenate(
        [
            _side_shares(figures, edges).min(axis=1, initial=1.0),
            _WITHOUT_A_SIDE * _side_shares(open_figures, edges)[:, :3].min(axis=1, initial=1.0),
        ]
    )
    figures = np.concatenate([figures, open_figures])
    figures, shares = figures[shares > _LEAST_COVERED], shares[shares > _LEAST_COVERED]
    small, scale = _small_lab(photo.image)
    even = median_of_nine(small)
    even[..., 0] = grey_closing(even[..., 0], size=_PRINT)
    found: list[Quadrilateral] = []
    for k in np.argsort(-shares)[:most]:
        corners = (_counterclockwise(figures[k]) + 0.5) * step - 0.5
        if any(np.abs(other.corners - corners).max() < 4 * step for other in found):
            continue
        middle = corners.mean(axis=0)
        inner = _values_at(even, (_grid_inside(middle + (corners - middle) * 0.85) + 0.5) / scale - 0.5)
        evenness = float(np.exp(-np.linalg.norm(inner.std(axis=0)) / 8.0))
        found.append(Quadrilateral(corners, float(shares[k]) ** 2 * evenness))
    return sorted(found, key=lambda quad: -quad.score)


def _closed_fours(ends: Floats) -> Floats:
    """Corners (n, 4, 2) of figures whose sides lie on four lines (m, 2, 2); at each corner one of two lines ends."""
    start, way = ends[:, 0], ends[:, 1] - ends[:, 0]
    length = np.hypot(*way.T)
    unit = way / length[:, None]
    cross = unit[:, None, 0] * unit[None, :, 1] - unit[:, None, 1] * unit[None, :, 0]
    safe = np.where(np.abs(cross) < 1e-6, 1.0, cross)
    between = start[None] - start[:, None]
    # Place along line i at which line j crosses it.
    at = (between[..., 0] * unit[None, :, 1] - between[..., 1] * unit[None, :, 0]) / safe
    slack = np.minimum(_CORNER_GAP_SHARE * length, _CORNER_GAP)[:, None]
    within = (at > -slack) & (at < length[:, None] + slack)
    ended = (np.abs(at) < slack) | (np.abs(at - length[:, None]) < slack)
    meets = (np.abs(cross) > 0.4) & within & within.T & (ended | ended.T)
    crossing = start[:, None] + at[..., None] * unit[:, None]
    neighbours = [np.flatnonzero(row) for row in meets]
    fours: list[list[Floats]] = []
    for a in range(len(ends)):
        for c in range(a + 1, len(ends)):
            if abs(cross[a, c]) > 0.6:
                continue
            both = neighbours[a][meets[c, neighbours[a]]]
            for b, d in itertools.combinations(both, 2):
                apart = (
                    at[a, b] - at[a, d], at[c, b] - at[c, d], at[b, a] - at[b, c], at[d, a] - at[d, c]
                )  # fmt: skip
                if min(map(abs, apart)) > _LEAST_LINE:
                    fours.append([crossing[a, b], crossing[b, c], crossing[c, d], crossing[d, a]])
            if len(fours) > _MOST_FOURS:
                return np.array(fours)
    return np.array(fours).reshape(-1, 4, 2)


def _open_fours(ends: Floats) -> Floats:
    """Corners (n, 4, 2) of figures of which three sides lie on lines (m, 2, 2) and the fourth, last one joins the ends
    of the first and third: it hardly differs from what it lies on."""
    lengths = np.hypot(*(ends[:, 1] - ends[:, 0]).T)
    # Each line both ways round: it begins at the corner and ends at its far end.
    lines = np.concatenate([ends, ends[:, ::-1]])[np.tile(lengths >= _LEAST_OPEN, 2)]
    if len(lines) < 3:
        return np.empty((0, 4, 2))
    near, way = lines[:, 0], lines[:, 1] - lines[:, 0]
    unit = way / np.hypot(*way.T)[:, None]
    joint = near[None] - near[:, None]
    apart = np.hypot(joint[..., 0], joint[..., 1])
    # Two lines that run the same way from the ends of a third, which is as long as they lie apart.
    alike = (unit @ unit.T > _ALIKE) & (apart > _LEAST_OPEN)
    one, two = np.nonzero(np.triu(alike))
    from_near, from_far = (np.linalg.norm(near[:, None] - lines[None, :, end], axis=2) for end in (0, 1))
    pair, between = np.nonzero(from_near[one] + from_far[two] < _OPEN_GAP * apart[one, two][:, None])
    fours = []
    for a, b, c in list(zip(one[pair], between, two[pair], strict=True))[:_MOST_FOURS]:
        corner = _meeting(near[a], unit[a], near[b], unit[b])
        other = _meeting(near[c], unit[c], near[b], unit[b])
        if corner is not None and other is not None:
            fours.append([lines[a, 1], corner, other, lines[c, 1]])
    return np.array(fours).reshape(-1, 4, 2)


def _meeting(start: Floats, way: Floats, other: Floats, other_way: Floats) -> Floats | None:
    """Where two lines (a point and a unit vector each) meet, or None if they hardly do."""
    cross = way[0] * other_way[1] - way[1] * other_way[0]
    if abs(cross) < 0.4:
        return None
    between = other - start
    return np.asarray(start + way * (between[0] * other_way[1] - between[1] * other_way[0]) / cross)


def _side_shares(figures: Floats, on_edge: NDArray[np.bool_]) -> Floats:
    """Shares (n, 4) of the sides of figures (n, 4, 2) that lie on edge pixels."""
    t = (np.arange(40) + 0.5)[None, None, :, None] / 40
    places = figures[:, :, None] + t * (np.roll(figures, -1, axis=1) - figures)[:, :, None]
    cells = np.clip(np.rint(places).astype(int), 0, [on_edge.shape[1] - 1, on_edge.shape[0] - 1])
    return np.asarray(on_edge[cells[..., 1], cells[..., 0]].mean(axis=2))


def _relative_lightness(lightness: NDArray[np.float32]) -> NDArray[np.float32]:
    """Lightness over the usual lightness about (in %): a sheet half in shadow stays one patch."""
    from scipy import ndimage

    coarse = lightness[4::8, 4::8]
    ground = ndimage.median_filter(coarse, size=max(5, min(coarse.shape) // 3), mode="nearest")
    ground = ndimage.zoom(
        ground, np.array(lightness.shape) / ground.shape, order=1, mode="nearest", grid_mode=True
    )
    return np.asarray(100 * np.clip(lightness / np.maximum(ground, 5.0), 0, 3))


def _local_variation(lightness: NDArray[np.float32]) -> NDArray[np.float32]:
    """Mean absolute difference from a local mean, on a logarithmic scale of tens: low on any plain board."""
    from scipy import ndimage

    away = np.abs(lightness - ndimage.uniform_filter(lightness, 5, mode="nearest"))
    return np.asarray(10 * np.log(0.3 + ndimage.uniform_filter(away, 3, mode="nearest")))


def _small_lab(image: NDArray[np.uint8]) -> tuple[NDArray[np.float32], float]:
    from PIL import Image

    height, width = image.shape[:2]
    scale = max(1.0, max(height, width) / _WORKING_WIDTH)
    size = (max(1, round(width / scale)), max(1, round(height / scale)))
    small = np.asarray(Image.fromarray(image).resize(size, Image.Resampling.BOX, reducing_gap=2.0))
    return lab_colours(small), scale


def _four_sided(mask: NDArray[np.bool_]) -> list[tuple[Floats, float]]:
    """(corners, fill ratio) of the patches of a mask that fill a quadrilateral closely."""
    from scipy import ndimage

    labels, count = ndimage.label(_opening(mask))
    if count == 0:
        return []
    areas = np.bincount(labels.ravel(), minlength=count + 1)
    areas[0] = 0
    fit = np.flatnonzero((areas > LEAST_SHARE * mask.size) & (areas < MOST_SHARE * mask.size))
    if not len(fit):
        return []
    fit = fit[np.argsort(-areas[fit])]
    # Boxes of the few patches alone: of all the specks of a mask they cost more than the mask's own labels.
    rank = np.zeros(count + 1, dtype=labels.dtype)
    rank[fit] = np.arange(1, len(fit) + 1)
    labels = rank[labels]
    boxes = ndimage.find_objects(labels)
    out: list[tuple[Floats, float]] = []
    for number, size in enumerate(areas[fit], start=1):
        if len(out) == _MOST_PER_LEVEL:
            break
        rows, columns = boxes[number - 1]
        if size < 0.12 * (rows.stop - rows.start) * (columns.stop - columns.start):
            continue
        patch = labels[rows, columns] == number
        ratio = _parallelogram_ratio(patch)
        if not 0.5 < ratio < 1.1:
            continue
        patch = _filled(patch)
        # A printed sheet has holes; filled, it is as full as any.
        if ratio <= 0.86 and not 0.86 < _parallelogram_ratio(patch) < 1.1:
            continue
        quad = enclosing_quadrilateral(patch)
        if quad is None:
            continue
        fill_ratio = float(patch.sum()) / max(_area(quad), 1.0)
        if 0.84 < fill_ratio < 1.12:
            out.append((quad + np.array([columns.start, rows.start]), min(fill_ratio, 1 / fill_ratio)))
    return out


def _filled(patch: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """A patch without its holes: all but the ground that reaches round it (faster than growing that step by step)."""
    from scipy import ndimage

    ground, _ = ndimage.label(~np.pad(patch, 1))
    return np.asarray(ground[1:-1, 1:-1] != ground[0, 0])


def _opening(mask: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Opening by a plus of five pixels, by shifts (many times faster than the general routine)."""
    padded = np.pad(mask, 1)
    core = padded[1:-1, 1:-1] & padded[:-2, 1:-1] & padded[2:, 1:-1] & padded[1:-1, :-2] & padded[1:-1, 2:]
    padded = np.pad(core, 1)
    return np.asarray(
        padded[1:-1, 1:-1] | padded[:-2, 1:-1] | padded[2:, 1:-1] | padded[1:-1, :-2] | padded[1:-1, 2:]
    )


def _parallelogram_ratio(patch: NDArray[np.bool_]) -> float:
    """Area over 12 sqrt(det of the second moments): exactly 1 for any parallelogram, far less for ragged shapes."""
    rows, columns = np.nonzero(patch)
    y, x = rows - rows.mean(), columns - columns.mean()
    inertia = float((x @ x) * (y @ y) - (x @ y) ** 2) / max(len(rows) - 1, 1) ** 2
    return len(rows) / (12 * np.sqrt(inertia)) if inertia > 0 else 0.0


def enclosing_quadrilateral(patch: NDArray[np.bool_]) -> Floats | None:
    """The four-sided figure round a patch got by dropping the sides of its hull that cost least area; (4, 2).

    None if the hull has fewer than four corners or its sides will not meet.
    """
    import shapely

    rows = np.flatnonzero(patch.any(axis=1))
    first = patch[rows].argmax(axis=1)
    last = patch.shape[1] - 1 - patch[rows, ::-1].argmax(axis=1)
    points = np.column_stack([np.concatenate([first - 0.5, last + 0.5]), np.tile(rows, 2)]).astype(np.float64)
    points = np.vstack([points + np.array([0, -0.5]), points + np.array([0, 0.5])])
    rim = shapely.convex_hull(shapely.multipoints(points))
    if not isinstance(rim, shapely.Polygon):
        return None
    hull = np.asarray(shapely.orient_polygons(rim).exterior.coords)[:-1]
    if patch.sum() < 0.8 * _area(hull):
        return None
    while len(hull) > 4:
        ring = np.concatenate([hull[-1:], hull, hull[:2]])
        meeting, cost = _side_extensions(ring[:-3], hull, ring[2:-1], ring[3:])
        k = int(np.argmin(cost))
        if not np.isfinite(cost[k]):
            return None
        hull[k] = meeting[k]
        hull = np.delete(hull, (k + 1) % len(hull), axis=0)
    return np.asarray(hull) if len(hull) == 4 else None


def _side_extensions(a: Floats, b: Floats, c: Floats, d: Floats) -> tuple[Floats, Floats]:
    """Where each side a -> b, drawn out beyond b, meets d -> c drawn out beyond c, and the area this adds (or
    inf).
    """
    along, back = b - a, c - d
    cross = along[:, 0] * back[:, 1] - along[:, 1] * back[:, 0]
    safe = np.where(np.abs(cross) < 1e-9, 1.0, cross)
    reach = d - a
    t = (reach[:, 0] * back[:, 1] - reach[:, 1] * back[:, 0]) / safe
    s = (reach[:, 0] * along[:, 1] - reach[:, 1] * along[:, 0]) / safe
    meeting = a + t[:, None] * along
    added = (c - b)[:, 0] * (meeting - b)[:, 1] - (c - b)[:, 1] * (meeting - b)[:, 0]
    good = (np.abs(cross) >= 1e-9) & (t >= 1 - 1e-9) & (s >= 1 - 1e-9)
    return meeting, np.where(good, np.abs(added) / 2, np.inf)


def _area(ring: Floats) -> float:
    x, y = ring.T
    return abs(float(x[:-1] @ y[1:] - y[:-1] @ x[1:] + x[-1] * y[0] - y[-1] * x[0])) / 2


def _merged_and_scored(
    found: list[tuple[Floats, float]], smooth: NDArray[np.float32], even: NDArray[np.float32], scale: float
) -> list[Quadrilateral]:
    """Like quads merged; scored by how often they were found, how even they are, and the step at their sides."""
    height, width = smooth.shape[:2]
    if not found:
        return []
    ordered = np.array([_counterclockwise(corners) for corners, _ in found])
    fill_ratios = np.array([fill_ratio for _, fill_ratio in found])
    free = np.ones(len(found), dtype=bool)
    groups: list[tuple[Floats, float, int]] = []
    for k in np.argsort(-fill_ratios):
        if free[k]:
            reach = 0.06 * np.sqrt(_area(ordered[k])) + 2
            alike = free & (np.abs(ordered - ordered[k]).max(axis=(1, 2)) < reach)
            free &= ~alike
            groups.append((ordered[k], float(fill_ratios[k]), int(alike.sum())))
    quads, colours, sizes = [], [], []
    for corners, fill_ratio, count in groups:
        middle = corners.mean(axis=0)
        inner = _values_at(even, _grid_inside(middle + (corners - middle) * 0.82))
        evenness = float(np.exp(-np.linalg.norm(inner.std(axis=0)) / 8.0))
        step, support = _side_steps(smooth, corners)
        at_edge = ((corners < 1.5) | (corners > [width - 2.5, height - 2.5])).any()
        often = min(1.0, count / 4)
        score = evenness * support**2 * fill_ratio**4 * (step / (step + 12)) * (0.4 + 0.6 * often)
        quads.append(Quadrilateral((corners + 0.5) * scale - 0.5, float(score * (0.3 if at_edge else 1.0))))
        colours.append(np.median(inner, axis=0))
        sizes.append(np.log(_area(corners)))
    # Bricks, boards and tiles come in numbers, a reference alone: likes in colour and size lessen each other.
    apart = np.linalg.norm(np.array(colours)[:, None] - np.array(colours)[None], axis=2) / 8
    apart += np.abs(np.array(sizes)[:, None] - np.array(sizes)[None]) / 0.6
    middles = np.array([quad.corners.mean(axis=0) for quad in quads]) / scale
    reach = np.exp(np.array(sizes) / 2)
    elsewhere = np.linalg.norm(middles[:, None] - middles[None], axis=2) > 0.5 * reach[:, None]
    similar = ((apart < 1) & elsewhere).sum(axis=1)
    quads = [
        Quadrilateral(quad.corners, quad.score / (1 + 0.5 * int(count)))
        for quad, count in zip(quads, similar, strict=True)
    ]
    return sorted(quads, key=lambda quad: -quad.score)


def _colour_elsewhere(planes: NDArray[np.float32], corners: Floats) -> float:
    """Area of a picture (3, h, w) outside a quad that has the colour found inside it, over the quad's own such area."""
    middle = corners.mean(axis=0)
    inner = _values_at(np.moveaxis(planes, 0, -1), _grid_inside(middle + (corners - middle) * 0.82))
    own = ring_mask(middle + (corners - middle) * 1.08, planes.shape[1:])
    dark, light = np.percentile(inner[:, 0], [5, 95])
    green, blue = np.median(inner[:, 1:], axis=0)
    alike = (planes[0] > dark - 5) & (planes[0] < light + 5)
    alike &= (planes[1] - green) ** 2 + (planes[2] - blue) ** 2 < _SAME_COLOUR**2
    return float((alike & ~own).sum() / max(int((alike & own).sum()), 1))


def _counterclockwise(corners: Floats) -> Floats:
    """Counter-clockwise as people see them (y down), from the corner nearest the picture's upper left."""
    middle = corners.mean(axis=0)
    angle = np.arctan2(-(corners[:, 1] - middle[1]), corners[:, 0] - middle[0])
    ring = corners[np.argsort(angle)]
    return np.roll(ring, -int(np.argmin(ring.sum(axis=1))), axis=0)


def _grid_inside(quad: Floats) -> Floats:
    u, v = np.meshgrid(np.linspace(0, 1, 15), np.linspace(0, 1, 15))
    u, v = u.ravel()[:, None], v.ravel()[:, None]
    return np.asarray((1 - v) * ((1 - u) * quad[0] + u * quad[1]) + v * ((1 - u) * quad[3] + u * quad[2]))


def _values_at(picture: NDArray[np.float32], points: Floats) -> NDArray[np.float32]:
    cells = np.rint(points).astype(int)
    cells = np.clip(cells, 0, [picture.shape[1] - 1, picture.shape[0] - 1])
    return np.asarray(picture[cells[:, 1], cells[:, 0]])


def _side_steps(smooth: NDArray[np.float32], corners: Floats) -> tuple[float, float]:
    """Median colour step across the sides, and the share of places where there is one."""
    steps = []
    t = np.linspace(0.08, 0.92, 24)[:, None]
    for k in range(4):
        start, end = corners[k], corners[(k + 1) % 4]
        way = (end - start) / max(float(np.hypot(*(end - start))), 1e-9)
        outward = np.array([-way[1], way[0]])
        places = start + t * (end - start)
        inside = _values_at(smooth, places - 2.5 * outward)
        outside = _values_at(smooth, places + 2.5 * outward)
        steps.append(np.linalg.norm(inside - outside, axis=1))
    all_steps = np.concatenate(steps)
    weakest = min(float((side > _LEAST_SIDE_STEP).mean()) for side in steps)
    return float(np.median(all_steps)), 0.5 * weakest + 0.5 * float((all_steps > _LEAST_SIDE_STEP).mean())
