"""How often the size of a sheet is doubted rightly and wrongly: `python -m tests.benchmarks.sheet_names [--draws 360]`.

Protocol. One sheet (A4, letter, A3, tabloid, A2, a board of 600 × 400 mm) beside a hide, seen by cameras drawn as in
`tests.benchmarks.cameras` (tilt 0 to 45 degrees, two lenses in five distorted, no line of the floor), its sides found
with the errors measured on rendered sheets. It is called by its own name, and by that of the size it is taken for:
  doubted   called rightly, and told that the other size suits as well
  refused   called wrongly, and refused
  missed    called wrongly, and neither refused nor told
  silent    missed, with an area of the hide more than 3 % off that is not called uncertain
for several limits up to which another size's sum of squared residuals may be higher (`_UNDECIDED`).
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from nestplan.intake.photo.camera import fit_camera
from nestplan.intake.photo.outline_checks import MOST_AREA_ERROR
from nestplan.intake.photo.reading import Photo
from nestplan.intake.photo.rectification import area_error_of_ring
from nestplan.intake.photo.reference_corners import assign_corners
from nestplan.intake.photo.sheet_sizes import _BETTER, _NAMED_MISFIT, _UNDECIDED, _misfit, _views
from tests.benchmarks.cameras import SIZE, Errors, drawn_scene, shoelace, view_of
from tests.intake.photo_render import Lens, camera, reference_ring, to_pixels
from tests.intake.photo_scenes import PAPERS, SIZES_TAKEN_FOR, invented_outline


@dataclass(frozen=True)
class Called:
    """A sheet called by one name: the least sum of squared residuals, the area's error and the one stated (one standard
    error), both relative."""

    misfit: float
    area: float
    stated: float


def drawn(number: int) -> tuple[Called, Called]:
    """Draw `number`, called by its own name and by the other."""
    rng = np.random.default_rng(910_000 + number)
    kind = ("side", "shoulder", "skin")[int(rng.integers(3))]
    name = list(SIZES_TAKEN_FOR)[int(rng.integers(len(SIZES_TAKEN_FOR)))]
    if kind == "side":
        name = {"A4": "A3", "letter": "tabloid"}.get(name, name)
    outline = invented_outline(kind, 20_000 + number % 97)
    size = PAPERS[name]
    scene = drawn_scene(number, outline, size, rng, distorted=0.4)
    ring = reference_ring(scene)
    homography = camera(scene, np.vstack([outline, ring]))
    lens = Lens.of_picture(scene.distortion, *SIZE)
    plane = np.array([[0, 0], [1, 0], [1, 1], [0, 1]]) * np.array(scene.reference)
    errors = Errors()
    alike = errors.all_sides * rng.standard_normal()
    view = view_of(to_pixels(homography, ring), plane, lens, errors, rng, alike)
    seen = lens.apply(to_pixels(homography, outline))
    photo = Photo(np.zeros((SIZE[1], SIZE[0], 3), dtype=np.uint8))

    def called(said: tuple[float, float]) -> Called:
        corners = assign_corners(
            view.seen, said, photo, standard_error=view.standard_error, sides=view.side_points
        )
        fit = fit_camera(_views(corners, said, long_way=True), SIZE)
        found = fit.floor_of(seen)
        return Called(
            _misfit(corners, said, photo),
            shoelace(found) / shoelace(outline) - 1,
            area_error_of_ring(fit, found),
        )

    return called(size), called(PAPERS[SIZES_TAKEN_FOR[name]])


def table(rows: Sequence[tuple[Called, Called]]) -> str:
    lines = [f"{len(rows)} draws; limit  doubted  refused   missed   silent"]
    for limit in (3.0, 2.0, 1.5, 1.0, 0.5, 0.0):
        doubted = [other.misfit <= own.misfit + limit for own, other in rows]
        refused = [
            other.misfit >= _NAMED_MISFIT and own.misfit < other.misfit - _BETTER for own, other in rows
        ]
        missed = [
            not each and own.misfit > other.misfit + limit
            for each, (own, other) in zip(refused, rows, strict=True)
        ]
        silent = [
            each and abs(other.area) > 0.03 and other.stated < MOST_AREA_ERROR
            for each, (_, other) in zip(missed, rows, strict=True)
        ]
        shares = "  ".join(f"{np.mean(each):7.1%}" for each in (doubted, refused, missed, silent))
        lines.append(f"{limit:19.1f}  {shares}{'   in use' if limit == _UNDECIDED else ''}")
    return "\n".join(lines)


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--draws", type=int, default=360)
    given = parser.parse_args()
    print(table([drawn(number) for number in range(given.first, given.first + given.draws)]))


if __name__ == "__main__":
    main()
