"""Real hides from the literature: read, planned, verified, and counted.

    python -m tests.benchmarks.leather FOLDER [--seconds 60] [--seed 0] [--sets test1 scarpa test8]

FOLDER holds leather sets of Baldacci, Boschetti, Ganovelli and Maniezzo (2014), "Algorithms for nesting with
defects", Discrete Applied Mathematics 163, 17-33, as JSON: hides (outline, holes, zones with a quality), pieces
(outline, demand, quality or null). Their files and shapes stay out of this project. Read by this convention: a hole
may never be covered; a piece with a quality may not lie on any zone; a piece without one may. Any turn, no mirroring.

Each set becomes hide and job files in a temporary folder and is read back from them. Planned twice with the goal
complete: Lay alone, and within the seconds given. Every plan is judged by the audit. The bound on hides is by area
alone: the fewest hides, largest first, whose leather has the pieces' area.
"""

from __future__ import annotations

import argparse
import json
import tempfile
import time
from pathlib import Path
from typing import Any

import shapely

from nestplan.model import Article, Flaw, Hide, Job, LayerCut, Piece
from nestplan.model.audit import check
from nestplan.model.files import read_hides, read_job, write_hide, write_job
from nestplan.nesting.nest import nest

SETS = ("test1", "scarpa", "test8")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n", 1)[0])
    parser.add_argument("folder", type=Path)
    parser.add_argument("--seconds", type=float, default=60.0)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--sets", nargs="+", default=None, help="file names without .json; all by default")
    given = parser.parse_args()
    names = given.sets or [path.stem for path in sorted(given.folder.glob("*.json"))]
    if not names:
        raise SystemExit(f"{given.folder} holds no sets: nothing was measured.")
    print(f"{'set':<8} {'how':<5} {'pieces':>9} {'hides used':>10} {'bound':>5}", end="")
    print(f" {'net yield':>9} {'cut yield':>9} {'seconds':>8}  audit")
    for name in names:
        with tempfile.TemporaryDirectory() as folder:
            hides, job = through_files(json.loads((given.folder / f"{name}.json").read_text()), Path(folder))
        for how, seconds in (("lay", None), ("full", given.seconds)):
            began = time.perf_counter()
            plan = nest(job, hides, goal="complete", seconds=seconds, seed=given.seed)
            took = time.perf_counter() - began
            faults = check(plan, job, hides)
            figures = plan.figures
            assert figures is not None
            print(
                f"{name:<8} {how:<5} {figures.placed:>4}/{figures.asked:<4} {figures.hides_used:>4} of {len(hides):<3}"
                f" {least_hides(job, hides):>5} {figures.net_yield:>9.1%} {figures.cut_yield:>9.1%} {took:>8.1f}"
                f"  {'right' if not faults else f'{len(faults)} faults'}",
                flush=True,
            )


def through_files(data: dict[str, Any], folder: Path) -> tuple[tuple[Hide, ...], Job]:
    """A set as hides and a job, written to a folder and read back."""
    paths = []
    for number, raw in enumerate(data["hides"], 1):
        paths.append(folder / f"{number}.hide.json")
        write_hide(paths[-1], hide_of(raw, f"{data['name']} {number}"))
    write_job(folder / "set.job.json", job_of(data))
    return read_hides(paths), read_job(folder / "set.job.json")


def hide_of(raw: dict[str, Any], name: str) -> Hide:
    """Holes as through-flaws, zones as flaws of the grain; what lies off the hide or has no area is left out."""
    whole = shapely.Polygon(raw["outline"])
    flaws = []
    for spoils, rings in (("through", raw["holes"]), ("grain", [zone["outline"] for zone in raw["zones"]])):
        for ring in rings:
            for part in parts_of(shapely.Polygon(ring)):
                if part.intersects(whole):
                    flaws.append(Flaw(spoils=spoils, outline=tuple(part.exterior.coords[:-1])))
    return Hide(name=name, leather="real", outline=points(raw["outline"]), flaws=tuple(flaws))


def job_of(data: dict[str, Any]) -> Job:
    """One set that holds every piece as often as it is wanted; no gap, as in the literature."""
    pieces = tuple(
        Piece(
            name=f"piece {raw['id']}",
            outline=points(raw["outline"]),
            count=raw["demand"],
            cuts=(LayerCut(shows="hidden" if raw["quality"] is None else "grain"),),
        )
        for raw in data["pieces"]
    )
    return Job(name=data["name"], articles=(Article(name="all", sets=1, pieces=pieces),), gap=0.0)


def parts_of(polygon: shapely.Polygon) -> list[shapely.Polygon]:
    """The sound parts of a polygon that may cross itself."""
    sound = polygon if polygon.is_valid else shapely.make_valid(polygon)
    return [
        part for part in getattr(sound, "geoms", [sound]) if part.geom_type == "Polygon" and part.area > 1.0
    ]


def points(ring: list[list[float]]) -> tuple[tuple[float, float], ...]:
    """A ring as the model takes it, without points said twice."""
    found: list[tuple[float, float]] = []
    for x, y in ring:
        if not found or (x, y) != found[-1]:
            found.append((float(x), float(y)))
    return tuple(found[:-1] if found[0] == found[-1] else found)


def least_hides(job: Job, hides: tuple[Hide, ...]) -> int:
    """Fewest hides whose area holds the pieces' area."""
    need = sum(piece.piece.net_area * piece.piece.count for piece in job.cut_pieces)
    used = 0
    for area in sorted((hide.gross_area for hide in hides), reverse=True):
        if need <= 0:
            break
        need -= area
        used += 1
    return used


if __name__ == "__main__":
    main()
