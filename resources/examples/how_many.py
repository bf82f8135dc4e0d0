"""How many sets the demo's hides give: what a plan shows, and what no plan can pass."""

from pathlib import Path

import nestplan

demo = Path(__file__).resolve().parents[2] / "demo_hides"

job = nestplan.read_job(demo / "quillmere.job.json")
hides = [hide for hide in nestplan.read_hides(demo) if "goat" in hide.name.lower()]

for answer in nestplan.count(job, hides):
    print(f"{answer.hide}: {answer.proven} sets surely, {answer.bound} at most")
