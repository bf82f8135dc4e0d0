from __future__ import annotations

from msgspec.structs import replace

from nestplan.nesting.nest import nest
from nestplan.yields import figures_of, with_measured_offcuts
from tests.small_jobs import one_piece_job, plain_hide


def test_a_plan_cut_short_gets_the_offcuts_it_would_have_had() -> None:
    job, hides = one_piece_job(sets=3), (plain_hide(),)
    plan = nest(job, hides, passes=0)
    brief = replace(plan, figures=figures_of(plan, job, hides, measured=False))
    assert brief.figures is not None
    assert any(offcut.rectangle_width == 0.0 for offcut in brief.figures.offcuts)
    assert with_measured_offcuts(brief, job) == plan
    assert with_measured_offcuts(plan, job) is plan
