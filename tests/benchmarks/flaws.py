"""How well flaws are found in photographs of hides: `python -m tests.benchmarks.flaws [--first 0] [--count 36]`.

Protocol. Scene n of `flaw_scene` is a hide on one of nine floors, its leather one of `LEATHERS` in turn, with three
holes, two scars, a brand, a spot and wrinkles drawn on it, all larger than 10 mm (none on two of six hides); on every
third hide lies a cup, a tool or a paper. Pictures are 2000 × 1500 pixels, JPEG quality 75. The sheet's true corners
are given, so that only outline and flaws are judged, and what was drawn is laid onto the floor by the renderer's own
camera. Counted:
  holes      found as openings, found as suggestions only (a place to look at, no opening), missed
  scars …    found: a suggestion or an opening overlaps one
  false      suggestions and openings that overlap nothing drawn; openings alone in brackets
  things     taken for an opening without a word, taken and asked about, not taken
"""

from __future__ import annotations

import argparse
import pickle
import tempfile
from collections import Counter
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
import shapely

from nestplan.errors import NestplanError
from nestplan.intake.photo.flaws import suggest_flaws
from nestplan.intake.photo.outline import find_outline
from nestplan.intake.photo.reading import read_photo
from nestplan.intake.photo.rectification import rectify
from nestplan.intake.photo.reference import assign_corners
from tests.intake.photo_render import (
    DRAWN_FLOORS,
    FLOORS,
    HIDE_COLOURS,
    SHEETS,
    Clutter,
    DrawnFlaw,
    Rendered,
    Scene,
    rectangle,
    render,
    to_pixels,
)
from tests.intake.photo_scenes import ellipse, invented_flaw, invented_outline

Array = np.ndarray[Any, Any]

LEATHERS = ("natural", "brown", "black", "grained", "spotted", "hair", "gloss", "suede")
PLAIN = ("natural", "brown", "black")
"""Leathers without a pattern of their own: on these at most one false suggestion is wanted."""
DRAWN_KINDS = ("hole", "hole", "hole", "scar", "scar", "brand", "spot", "wrinkle")
THINGS = ("cup", "tool", "paper")


@dataclass
class MeasuredHide:
    """The figures of one photograph; see the protocol. Keys of the counters are kinds of flaw."""

    name: str
    leather: str
    drawn: Counter[str] = field(default_factory=Counter)
    found: Counter[str] = field(default_factory=Counter)
    only_suggested: int = 0
    false_openings: int = 0
    false_suggestions: int = 0
    things: Counter[str] = field(default_factory=Counter)
    words: list[str] = field(default_factory=list)
    fault: str = ""


def flaw_scene(number: int) -> tuple[Scene, str]:
    """Scene `number` of an endless series, and its leather."""
    rng = np.random.default_rng(64_000 + number)
    floor = (FLOORS + DRAWN_FLOORS)[number % 9]
    leather = LEATHERS[(number + number // 9) % len(LEATHERS)]
    base = {"grained": (120, 70, 40), "spotted": (70, 46, 34), "hair": (132, 84, 52), "gloss": (84, 44, 30),
            "suede": (150, 128, 104)}.get(leather) or HIDE_COLOURS[leather]  # fmt: skip
    outline = invented_outline(("side", "shoulder", "skin")[int(rng.integers(3))], 30_000 + number)
    turn = rng.uniform(-0.3, 0.3)
    outline = outline @ np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]]).T
    flaws, things = _laid_out(outline, number, rng)
    return Scene(
        outline=outline,
        flaws=flaws,
        things_on_hide=things,
        floor=floor,
        hide_colour=tuple(np.clip(np.array(base) + rng.uniform(-8, 8, 3), 20, 235)),
        coat="plain" if leather in PLAIN else leather,
        reference=SHEETS["A3"],
        reference_side=("right", "left", "top", "bottom")[int(rng.integers(4))],
        reference_turn=float(rng.uniform(-12, 12)),
        tilt=float(rng.uniform(0, 30)),
        azimuth=float(rng.uniform(0, 360)),
        focal=float(rng.uniform(0.65, 1.0)),
        light=(float(rng.uniform(-0.25, 0.25)), float(rng.uniform(-0.25, 0.25))),
        shadows=int(rng.integers(0, 3)),
        cast=float(rng.uniform(3, 10)),
        blur=float(rng.uniform(0.5, 1.2)),
        noise=float(rng.uniform(1, 4)),
        seed=number,
        name=f"{number:03d} {floor}, {leather}",
    ), leather


def _laid_out(
    outline: Array, number: int, rng: np.random.Generator
) -> tuple[tuple[DrawnFlaw, ...], tuple[Clutter, ...]]:
    """Flaws and things inside the outline, apart from each other; every third hide is sound but for its things."""
    inner = shapely.Polygon(outline).buffer(-35)
    low, high = outline.min(axis=0), outline.max(axis=0)
    taken: list[shapely.Geometry] = []

    def has_room(rings: Sequence[Array]) -> bool:
        shape = shapely.union_all([shapely.Polygon(ring).buffer(0) for ring in rings]).convex_hull
        if not inner.contains(shape) or any(shape.distance(other) < 40 for other in taken):
            return False
        taken.append(shape)
        return True

    flaws = []
    for kind in DRAWN_KINDS if number % 6 not in (1, 4) else ():
        for _ in range(80):
            flaw = invented_flaw(kind, rng.uniform(low, high), rng)
            if has_room(flaw.rings):
                flaws.append(flaw)
                break
    things = []
    if number % 3 == 2:
        kind = THINGS[number // 3 % 3]
        for _ in range(80):
            thing = thing_on_leather(kind, rng.uniform(low, high), rng)
            if has_room([thing.ring]):
                things.append(thing)
                break
    return tuple(flaws), tuple(things)


def thing_on_leather(kind: str, at: Array, rng: np.random.Generator) -> Clutter:
    """A cup seen from above, a tool or a paper at a place, mm."""
    turn = float(rng.uniform(0, 180))
    if kind == "cup":
        return Clutter(kind, ellipse(at, 42, 42, 0.0), (225, 222, 216), (60, 36, 22))
    if kind == "tool":
        return Clutter(kind, rectangle(*at, 210, 24, turn), (70, 70, 76))
    return Clutter(kind, rectangle(*at, 105, 74, turn), (240, 239, 236))


def rendered_hide(number: int, keep: Path) -> tuple[Rendered, Path]:
    """The rendered scene and its JPEG, taken from `keep` where it was kept."""
    path, record = keep / f"flaws-{number}.jpg", keep / f"flaws-{number}.pkl"
    if not record.exists():
        rendered = render(flaw_scene(number)[0], supersample=1)
        path.write_bytes(rendered.jpeg)
        record.write_bytes(pickle.dumps(replace(rendered, jpeg=b"")))
    # Only ever our own files: the folder is the one this benchmark wrote.
    kept: Rendered = pickle.loads(record.read_bytes())
    return kept, path


def measure_hide(number: int, keep: Path) -> MeasuredHide:
    """Render (or take from `keep`) and read one scene."""
    rendered, path = rendered_hide(number, keep)
    scene, leather = rendered.scene, flaw_scene(number)[1]
    out = MeasuredHide(scene.name, leather)
    try:
        photo = read_photo(path)
        corners = assign_corners(rendered.reference_px, scene.reference, photo, standard_error=0.3)
        straight = rectify(photo, corners)
        outline = find_outline(straight)
        suggestions = suggest_flaws(straight, outline)
    except NestplanError as fault:
        out.fault = fault.what
        return out

    def laid(ring: Array) -> shapely.Geometry:
        return shapely.Polygon(straight.floor_points(to_pixels(rendered.homography, ring))).buffer(0)

    drawn = [(flaw.kind, shapely.union_all([laid(ring) for ring in flaw.rings])) for flaw in scene.flaws]
    things = [laid(thing.ring) for thing in scene.things_on_hide]
    openings = [shapely.Polygon(ring).buffer(0) for ring in outline.holes]
    others = [shapely.Polygon(each.ring).buffer(0) for each in suggestions if each.appearance != "hole"]
    asked = [shapely.Polygon(ring) for each in outline.warnings for ring in each.places]
    for kind, shape in drawn:
        out.drawn[kind] += 1
        as_opening = any(each.intersects(shape) for each in openings)
        as_suggestion = any(each.intersects(shape) for each in others)
        out.found[kind] += as_opening or (as_suggestion and kind != "hole")
        if kind == "hole" and not as_opening:
            out.only_suggested += as_suggestion
            out.words.append("hole " + ("only suggested" if as_suggestion else "missed"))
        elif not (as_opening or as_suggestion):
            out.words.append(f"{kind} missed")
        if kind != "hole" and as_opening:
            out.false_openings += 1
            told = any(each.intersects(shape) for each in asked)
            out.words.append(f"{kind} taken for an opening, {'asked about' if told else 'silently'}")
    for thing, shape in zip(scene.things_on_hide, things, strict=True):
        taken = any(each.intersection(shape).area > 0.05 * each.area for each in openings)
        told = any(each.intersects(shape) for each in asked)
        outcome = "not taken" if not taken else "asked" if told else "silent"
        out.things[f"{outcome}, {'told' if told else 'not told'}"] += 1
        out.words.append(f"{thing.kind} {outcome}{', told' if told else ''}")
    real = [shape.buffer(8) for _, shape in drawn] + [shape.buffer(8) for shape in things]
    strays = [each for each in openings if not any(each.intersects(shape) for shape in real)]
    out.false_openings += len(strays)
    silent = sum(not any(each.intersects(place) for place in asked) for each in strays)
    out.words += [f"{silent} other openings taken silently"] * (silent > 0)
    out.false_suggestions = sum(not any(each.intersects(shape) for shape in real) for each in others)
    out.words += [f"warned: {each.kind}" for each in outline.warnings]
    return out


def table(rows: Sequence[MeasuredHide]) -> str:
    """The figures in the protocol's words, whole and by leather."""
    lines = []
    groups = [
        ("all", list(rows)),
        *((name, [row for row in rows if row.leather == name]) for name in LEATHERS),
    ]
    for name, part in groups:
        read = [row for row in part if not row.fault]
        if not read:
            continue
        drawn, found = (
            sum((row.drawn for row in read), Counter()),
            sum((row.found for row in read), Counter()),
        )
        shares = "  ".join(f"{kind} {found[kind]}/{drawn[kind]}" for kind in sorted(drawn))
        false = [row.false_suggestions + row.false_openings for row in read]
        things = sum((row.things for row in read), Counter())
        lines.append(
            f"{name:8s} {len(read)} of {len(part)} read  {shares}  holes suggested only "
            f"{sum(row.only_suggested for row in read)}  false: mean {np.mean(false):.2f}, most {max(false)}, "
            f"more than one on {sum(count > 1 for count in false)} "
            f"(openings {sum(row.false_openings for row in read)})  things: "
            + (", ".join(f"{key} {count}" for key, count in sorted(things.items())) or "none")
        )
    return "\n".join(lines)


def main() -> None:
    """Measure the scenes asked for and print their table."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--count", type=int, default=36)
    parser.add_argument(
        "--keep",
        type=Path,
        default=Path(tempfile.gettempdir()) / "flaw-pictures",
        help="pictures are kept here",
    )
    parser.add_argument("--workers", type=int, default=1)
    asked = parser.parse_args()
    asked.keep.mkdir(parents=True, exist_ok=True)
    rows = []
    with ProcessPoolExecutor(asked.workers) as pool:
        numbers = range(asked.first, asked.first + asked.count)
        for row in pool.map(partial(measure_hide, keep=asked.keep), numbers):
            rows.append(row)
            print(
                f"{row.name:24s} false {row.false_suggestions} + {row.false_openings}  "
                + (row.fault or ", ".join(row.words)),
                flush=True,
            )
    print(table(rows))


if __name__ == "__main__":
    main()
