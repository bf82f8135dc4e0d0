"""The hide's outline and its openings, from a rectified photograph.

Rough first (segmentation), then exact (edge_path), then a polygon that keeps to its side. Not here: flaws in
the leather (flaws), true scale (rectification). Nothing is written: what is found is shown to the user first.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from nestplan.errors import Cancelled, InputError
from nestplan.geometry.ring import signed_area
from nestplan.intake.photo.edge_path import follow_edge, resample
from nestplan.intake.photo.openings import find_openings, fine_picture, unclear_openings
from nestplan.intake.photo.outline_checks import TraceWarning, check_outline, warn_of_openings
from nestplan.intake.photo.pointing import bound_by_seeds, check_seeds_apart
from nestplan.intake.photo.rectification import RectifiedPhoto
from nestplan.intake.photo.segmentation import FeatureGrid, feature_grid, segment_hide

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Mask = NDArray[np.bool_]

__all__ = ["Outline", "find_outline"]

Progress = Callable[[float, str], None]
FIRST_REACH = 3.2
"""How far from the rough edge the exact one is first looked for, in cells: a rim of the floor's own colour
is read up to three cells inside or outside."""
CUT_SHARE, MOST_CUT = 0.3, 0.5
"""How far the polygon may cut inside the edge followed, as a share of the tolerance, and at most, mm."""


@dataclass(frozen=True, eq=False)
class Outline:
    """What was found: `exterior` ring (n, 2) and `holes`, mm on the floor, counter-clockwise.

    `tolerance` mm: the exterior is not believed to lie outside the true edge by more than this anywhere, scale
    aside. `border_share`: share of the exterior that runs along the picture's border, where the hide goes on.
    `warnings`: what may be wrong with it, and where.
    """

    exterior: Floats
    holes: tuple[Floats, ...]
    tolerance: float
    border_share: float = 0.0
    warnings: tuple[TraceWarning, ...] = ()


def find_outline(
    rectified: RectifiedPhoto,
    *,
    hide_seeds: Sequence[tuple[float, float]] = (),
    floor_seeds: Sequence[tuple[float, float]] = (),
    tolerance: float | None = None,
    progress: Progress | None = None,
    cancelled: Callable[[], bool] | None = None,
) -> Outline:
    """The hide's outline, and the floor seen through it.

    Seeds: (x, y) mm on the floor where the user says hide, or not hide. `tolerance` mm bounds both how far the
    polygon may cut inside the edge followed and, unless the picture is too coarse for it, how far it may lie
    outside the true edge; left out, it is chosen from the picture's fineness.

    Raises InputError if no hide is found, or a place is called both hide and floor; Cancelled if `cancelled()` says so.
    """
    check_seeds_apart(hide_seeds, floor_seeds, file=rectified.name)

    def report(share: float, words: str) -> None:
        if cancelled is not None and cancelled():
            raise Cancelled
        if progress is not None:
            progress(share, words)

    with ThreadPoolExecutor(max_workers=1) as beside:
        # What holes are looked for in wants no outline: it is made while that is sought.
        fine = beside.submit(fine_picture, rectified)
        report(0.05, "reading the floor")
        cells = feature_grid(rectified)
        report(0.2, "parting hide from floor")
        parted = segment_hide(rectified, cells, hide_seeds=hide_seeds, floor_seeds=floor_seeds)
        report(0.6, "following the edge")
        rough = _mask_contour(parted.mask, cells)
        path = follow_edge(rectified.image, rough, max(6.0, FIRST_REACH * cells.step), final=False)
        rough = _without_loops(path.points)
        report(0.8, "following the edge closely")
        path = follow_edge(rectified.image, rough, max(4.0, 5.0 / rectified.mm_per_pixel))
        exact = _without_loops(path.points)
        report(0.9, "looking for holes")
        uncertainty = float(np.percentile(path.uncertainty, 95)) * rectified.mm_per_pixel
        kept = max(tolerance or 0.0, 1.5, uncertainty)
        ring = _simplified_inside(rectified.to_mm(exact), min(CUT_SHARE * kept, MOST_CUT))
        ring, pointed_out = bound_by_seeds(ring, hide_seeds, floor_seeds)
        found = find_openings(rectified, ring, fine.result())
        openings = [each for each in found if not _holds_any(each.ring, hide_seeds)]
        report(0.95, "checking the outline")
        border_share = _border_share(rectified, exact)
        warnings = check_outline(rectified, cells, parted, path, ring, border_share)
        unclear = [each.ring for each in unclear_openings(openings) if not _holds_any(each.ring, floor_seeds)]
    holes = tuple(each.ring for each in openings) + pointed_out
    return Outline(ring, holes, round(kept, 2), border_share, warnings + warn_of_openings(unclear))


def _holds_any(ring: Floats, seeds: Sequence[tuple[float, float]]) -> bool:
    """Whether one of the seeds lies in the ring."""
    import shapely

    return len(seeds) > 0 and bool(
        shapely.Polygon(ring).intersects(shapely.multipoints(np.asarray(seeds, dtype=np.float64)))
    )


def _mask_contour(mask: Mask, cells: FeatureGrid) -> Floats:
    """The mask's longest contour (n, 2) in pixels of the picture, counter-clockwise as seen (y down)."""
    from scipy.ndimage import gaussian_filter
    from skimage.measure import find_contours

    soft = gaussian_filter(np.pad(mask, 1).astype(np.float32), 0.8)
    contours = find_contours(soft, 0.5)
    if not contours:
        raise InputError("The hide found has no edge.", mend="Dab the hide and the floor by hand.")
    longest = max(contours, key=len)[:-1]
    places = (longest[:, ::-1] - 1 + 0.5) * cells.step - 0.5
    return _counterclockwise_as_seen(places)


def _counterclockwise_as_seen(ring: Floats) -> Floats:
    """Counter-clockwise as people see it: with y down its shoelace area is negative."""
    return ring if signed_area(ring) < 0 else ring[::-1]


def _without_loops(points: Floats) -> Floats:
    """The ring without the small loops that normals make where they cross in a narrow bay or a narrow leg.

    What a loop within the hide goes round twice stays hide.
    """
    import shapely

    shape = shapely.make_valid(shapely.Polygon(points), method="structure")
    shape = shapely.buffer(shapely.buffer(shape, -1.0), 1.0)
    parts = [part for part in getattr(shape, "geoms", [shape]) if isinstance(part, shapely.Polygon)]
    if not parts or max(part.area for part in parts) == 0:
        return _counterclockwise_as_seen(points)
    largest = max(parts, key=lambda part: part.area)
    return _counterclockwise_as_seen(np.asarray(largest.exterior.coords)[:-1])


def _simplified_inside(ring: Floats, tolerance: float) -> Floats:
    """Few points, nowhere outside `ring` and inside it by at most `tolerance` mm."""
    from nestplan.geometry.ring import make_ring, simplify_inside

    smooth = resample(ring, 2.0, smooth=2.0)
    return np.asarray(simplify_inside(make_ring(smooth, place="outline"), tolerance), dtype=np.float64)


def _border_share(rectified: RectifiedPhoto, points: Floats) -> float:
    seen = rectified.visible
    cells = np.clip(np.rint(points).astype(int), 0, [seen.shape[1] - 1, seen.shape[0] - 1])
    inside = ((points > 4) & (points < [seen.shape[1] - 5, seen.shape[0] - 5])).all(axis=1)
    good = seen[cells[:, 1], cells[:, 0]] & inside
    return float(1 - good.mean())
