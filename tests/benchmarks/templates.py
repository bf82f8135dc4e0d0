"""How true templates from a photograph are: `python -m tests.benchmarks.templates [--first 0] [--count 40]`.

Protocol. Scenes first … first+count-1 of tests/intake/template_render.random_template_scene (its docstring says how
hard they are; 5 to 20 templates, about 0.4 mm a pixel) are rendered and read with nothing given but the sheet's size.
Each found outline is laid onto the drawn template it covers most, by the best turn and shift, and its holes and marks
with it. Measured for each scene:
  lost       drawn templates that no found one covers by half, and found ones that cover two
  edge       mean distance of the found edge from the drawn one, mm (the worst template's, and the mean of all)
  hole       greatest distance of a punched hole's centre from the drawn one, and greatest error of its diameter, mm
  missed     punched holes, windows, rings, dots and arrows that were drawn and not found, and found but not drawn
  laid       mean distance of the edge of a piece from the drawn one, mm, once the job was written and read again
  pairs      whether the mirrored pair was told, and pairs told that were not drawn
Pictures are kept in --keep, so that a second run only reads.
"""

from __future__ import annotations

import argparse
import tempfile
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
import shapely

from nestplan.errors import NestplanError
from nestplan.geometry.ring import centroid
from nestplan.intake.photo.reading import read_photo
from nestplan.intake.photo.reference import find_reference
from nestplan.intake.photo.template_lens import find_templates_beside_sheet
from nestplan.intake.photo.template_likeness import mirrored_pairs
from nestplan.intake.photo.templates import FoundTemplate
from nestplan.intake.photo.templates_to_model import TemplateAnswers, pieces_of_templates
from nestplan.model.files import read_job, write_job
from nestplan.model.job import Article, Job
from nestplan.model.piece import Piece
from tests.intake.photo_render import rectangle
from tests.intake.template_render import DrawnTemplate, TemplateScene, random_template_scene, render_templates

Array = np.ndarray[Any, Any]


@dataclass
class MeasuredScene:
    """The figures of one photograph; see the protocol."""

    name: str
    drawn: int = 0
    found: int = 0
    lost: int = 0
    edges: list[float] = field(default_factory=list)
    farthest: list[float] = field(default_factory=list)
    laid: list[float] = field(default_factory=list)
    centres: list[float] = field(default_factory=list)
    diameters: list[float] = field(default_factory=list)
    missed: int = 0
    false: int = 0
    pairs_missed: int = 0
    pairs_false: int = 0
    things: list[str] = field(default_factory=list)
    fault: str = ""


def rigid_onto(source: Array, target: Array) -> tuple[Array, Array]:
    """Turn (2, 2) and shift (2,) that lay points onto others best (Kabsch 1976): `source @ turn + shift`."""
    a, b = source - source.mean(axis=0), target - target.mean(axis=0)
    u, _, vt = np.linalg.svd(a.T @ b)
    turn = u @ np.diag([1.0, float(np.sign(np.linalg.det(u @ vt)))]) @ vt
    return turn, target.mean(axis=0) - source.mean(axis=0) @ turn


def to_scene(found: tuple[FoundTemplate, ...], sheet: Array, scene: TemplateScene) -> tuple[Array, Array]:
    """Turn and shift from the found ground's mm to the scene's: by the sheet, which may be read four ways round."""
    board = rectangle(*scene.reference_at, *scene.reference, scene.reference_turn)
    drawn = np.array([each.outline.mean(axis=0) for each in scene.templates])
    best = (np.inf, np.eye(2), np.zeros(2))
    for k in range(4):
        turn, shift = rigid_onto(sheet, np.roll(board, k, axis=0))
        middles = np.array([each.outline.mean(axis=0) @ turn + shift for each in found])
        off = float(np.median(np.hypot(*(middles[:, None] - drawn[None]).transpose(2, 0, 1)).min(axis=1)))
        if off < best[0]:
            best = (off, turn, shift)
    return best[1], best[2]


def laid_onto(ring: Array, truth: Array) -> tuple[Array, Array, Array]:
    """Turn and shift that lay a ring onto another best, and the ring's laid points, 1 mm apart."""
    line = shapely.LinearRing(truth)
    dense = shapely.get_coordinates(shapely.segmentize(shapely.LinearRing(ring), 1.0))[:-1]
    turn, shift = np.eye(2), np.zeros(2)
    for _ in range(6):
        now = shapely.points(dense @ turn + shift)
        near = shapely.get_coordinates(
            shapely.line_interpolate_point(line, shapely.line_locate_point(line, now))
        )
        turn, shift = rigid_onto(dense, near)
    return turn, shift, dense @ turn + shift


def measure_scene(number: int, keep: Path) -> MeasuredScene:
    """Render (or take from `keep`) and read one scene."""
    scene = random_template_scene(number)
    path = keep / f"templates-{number}.jpg"
    if not path.exists():
        path.write_bytes(render_templates(scene).jpeg)
    out = MeasuredScene(scene.name, drawn=len(scene.templates))
    try:
        photo = read_photo(path)
        rectified, result = find_templates_beside_sheet(photo, find_reference(photo, scene.reference))
        found = result.found
    except NestplanError as fault:
        out.fault, out.lost = fault.what, out.drawn
        return out
    turn, shift = to_scene(found, rectified.reference.reshape(-1, 4, 2)[0], scene)
    out.found = len(found)
    owner = {}
    for number_found, each in enumerate(found):
        shape = shapely.Polygon(each.outline @ turn + shift).buffer(0)
        covers = [shape.intersection(shapely.Polygon(true.outline)).area for true in scene.templates]
        halves = [
            k
            for k, true in enumerate(scene.templates)
            if covers[k] > 0.5 * shapely.Polygon(true.outline).area
        ]
        out.lost += max(len(halves) - 1, 0)
        if halves and halves[0] not in owner.values():
            owner[number_found] = halves[0]
            _measure_template(out, each, scene.templates[halves[0]], turn, shift)
    out.lost += out.drawn - len(set(owner.values()))
    pieces = written_and_read_again(found, keep / f"templates-{number}.job.json")
    for number_found, k in owner.items():
        corner = found[number_found].outline.min(axis=0)
        ring = (np.array(pieces[number_found].outline) + corner) @ turn + shift
        _, _, dense = laid_onto(ring, scene.templates[k].outline)
        line = shapely.LinearRing(scene.templates[k].outline)
        out.laid.append(float(shapely.distance(shapely.points(dense), line).mean()))
    out.false += out.found - len(owner)
    told = {tuple(sorted((owner.get(a, -1), owner.get(b, -1)))) for a, b, _ in mirrored_pairs(found)}
    wanted = {(each.mirror_of, k) for k, each in enumerate(scene.templates) if each.mirror_of is not None}
    out.pairs_missed, out.pairs_false = len(wanted - told), len(told - wanted)
    return out


def written_and_read_again(found: tuple[FoundTemplate, ...], path: Path) -> tuple[Piece, ...]:
    """The pieces of the templates, in their order, out of a job file that was written and read."""
    pieces = pieces_of_templates(found, TemplateAnswers())
    write_job(path, Job(name="templates", articles=(Article(name="templates", sets=1, pieces=pieces),)))
    return read_job(path).articles[0].pieces


def _measure_template(
    out: MeasuredScene, found: FoundTemplate, true: DrawnTemplate, turn: Array, shift: Array
) -> None:
    more_turn, more_shift, dense = laid_onto(found.outline @ turn + shift, true.outline)
    line = shapely.LinearRing(true.outline)
    away = shapely.distance(shapely.points(dense), line)
    out.edges.append(float(away.mean()))
    out.farthest.append(shapely.hausdorff_distance(shapely.LinearRing(dense), line, densify=0.01))
    if away.mean() > 0.25:
        out.things.append(f"edge of {true.kind} {away.mean():.2f}")

    def laid(at: tuple[float, float]) -> Array:
        return np.asarray((np.array(at) @ turn + shift) @ more_turn + more_shift)

    inside = found.inside
    holes = [(laid(each.at), each.diameter) for each in inside.holes]
    for centre, diameter in _paired(out, "hole", holes, [(np.array(h[:2]), h[2]) for h in true.holes]):
        out.centres.append(centre)
        out.diameters.append(diameter)
    openings = [(laid(centroid(ring)), 0.0) for ring in inside.openings]
    _paired(out, "window", openings, [(np.array(centroid(ring)), 0.0) for ring in true.openings])
    for form, drawn in (("ring", true.rings), ("dot", true.dots)):
        for colour in ("red", "blue", "other"):
            seen = [
                (laid(each.at), each.diameter)
                for each in inside.spots
                if each.form == form
                and (each.colour if each.colour in ("red", "blue") else "other") == colour
            ]
            _paired(out, f"{colour} {form}", seen, [(np.array(d[:2]), d[2]) for d in drawn if d[3] == colour])
    arrows = [(laid(each.tip), 0.0) for each in inside.arrows]
    _paired(out, "arrow", arrows, [] if true.arrow is None else [(np.array(true.arrow[1]), 0.0)])


def _paired(
    out: MeasuredScene, what: str, found: list[tuple[Array, float]], drawn: list[tuple[Array, float]]
) -> list[tuple[float, float]]:
    """Distances and errors of size of things found within 2 mm of drawn ones; the others are counted."""
    left, pairs = list(drawn), []
    for at, size in found:
        near = [float(np.hypot(*(at - place))) for place, _ in left]
        if near and min(near) < 2.0:
            _, true_size = left.pop(int(np.argmin(near)))
            pairs.append((min(near), abs(size - true_size)))
        else:
            out.false += 1
            out.things.append(f"false {what}")
    out.missed += len(left)
    out.things += [f"missed {what}"] * len(left)
    return pairs


def main() -> None:
    """Measure the scenes asked for and print their table."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--count", type=int, default=40)
    parser.add_argument("--keep", type=Path, default=Path(tempfile.gettempdir()) / "template-pictures")
    parser.add_argument("--workers", type=int, default=1)
    asked = parser.parse_args()
    asked.keep.mkdir(parents=True, exist_ok=True)
    numbers = range(asked.first, asked.first + asked.count)
    with ProcessPoolExecutor(asked.workers) as pool:
        scenes = []
        for each in pool.map(partial(measure_scene, keep=asked.keep), numbers):
            scenes.append(each)
            worst = max(each.edges, default=0.0)
            words = each.fault or ", ".join(each.things)
            print(
                f"{each.name:24} {each.found:3}/{each.drawn:<3} lost {each.lost} edge {worst:.2f} "
                f"hole {max(each.centres, default=0.0):.2f} {max(each.diameters, default=0.0):.2f} "
                f"missed {each.missed} false {each.false} pairs -{each.pairs_missed} +{each.pairs_false} {words}",
                flush=True,
            )
    edges = [value for each in scenes for value in each.edges]
    centres = [value for each in scenes for value in each.centres]
    diameters = [value for each in scenes for value in each.diameters]
    far = [value for each in scenes for value in each.farthest]
    laid = [value for each in scenes for value in each.laid]
    print(
        f"{len(scenes)} pictures, {sum(each.drawn for each in scenes)} templates: lost or joined "
        f"{sum(each.lost for each in scenes)}; edge mean {np.mean(edges):.3f}, worst template {max(edges):.3f}, "
        f"Hausdorff 95 % {np.quantile(far, 0.95):.2f} mm; "
        f"from the job mean {np.mean(laid):.3f}, worst {max(laid):.3f}\n"
        f"{len(centres)} holes: centre mean {np.mean(centres):.3f}, "
        f"worst {max(centres):.3f}; diameter mean {np.mean(diameters):.3f}, worst {max(diameters):.3f} mm\n"
        f"marks missed {sum(each.missed for each in scenes)}, false {sum(each.false for each in scenes)}; pairs missed "
        f"{sum(each.pairs_missed for each in scenes)}, false {sum(each.pairs_false for each in scenes)}; refused "
        f"{sum(bool(each.fault) for each in scenes)}"
    )


if __name__ == "__main__":
    main()
