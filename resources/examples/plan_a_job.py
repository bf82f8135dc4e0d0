"""From files to a checked plan and its picture: the demo's job on all its hides."""

from pathlib import Path

import nestplan

demo = Path(__file__).resolve().parents[2] / "demo_hides"

job = nestplan.read_job(demo / "quillmere.job.json")
hides = nestplan.read_hides(demo)
plan = nestplan.plan(job, hides, passes=0)
nestplan.draw(plan, "plan.svg")

figures = plan.figures
print(f"{figures.placed} of {figures.asked} placed on {figures.hides_used} hides")
for article in figures.sets:
    print(f"{article.article}: {article.whole} of {article.asked} sets")
for missing in plan.unplaced:
    print(f"{missing.count} of {missing.piece or missing.strip} not placed: {missing.why}")
