"""Which of three skins gives most of a job: each by itself, best first."""

from pathlib import Path

import nestplan

demo = Path(__file__).resolve().parents[2] / "demo_hides"

job = nestplan.read_job(demo / "quillmere.job.json")
hides = [hide for hide in nestplan.read_hides(demo) if "skin" in hide.name]
comparison = nestplan.compare(job, hides)

for place, answer in enumerate(comparison, start=1):
    if answer.layers:
        print(
            f"{place}. {answer.hide}: {answer.whole} of {answer.asked} sets, {answer.net_yield:.0%} in pieces"
        )
    else:
        print(f"{place}. {answer.hide}: no layer of the job takes this leather")
