"""A plan written, read again and checked from its own polygons; then one piece is moved, and the check says so."""

from pathlib import Path

from msgspec.structs import replace

import nestplan

demo = Path(__file__).resolve().parents[2] / "demo_hides"

job = nestplan.read_job(demo / "quillmere.job.json")
hides = nestplan.read_hides(demo)
nestplan.write(nestplan.plan(job, hides, passes=0), "plan.json")

plan = nestplan.read_plan("plan.json")
print(f"{len(nestplan.check(plan))} faults as planned")

first, *others = plan.placements
moved = replace(first, cut=tuple((x + 5.0, y) for x, y in first.cut))
faults = nestplan.check(replace(plan, placements=(moved, *others)))
print(f"{len(faults)} faults with one cut shape 5 mm away from its piece; the first: {faults[0]}")
