"""A plan in words: what is left on several hides is told as it is measured."""

from __future__ import annotations

import pytest

from nestplan.cli.plan_words import figures_in_words
from nestplan.desk.sentences import figures_words
from nestplan.desk.settings import Settings
from nestplan.geometry.units import show_area
from nestplan.nesting.nest import nest
from tests.small_jobs import one_piece_job, plain_hide


@pytest.mark.parametrize(("sets", "hides_cut"), [(20, 1), (90, 2)])
def test_the_largest_offcuts_of_several_hides_are_summed(sets, hides_cut):
    job = one_piece_job(sets=sets)
    plan = nest(job, (plain_hide("a"), plain_hide("b")), goal="gather")
    figures = plan.figures
    largest = {offcut.hide: offcut.area for offcut in reversed(figures.offcuts)}
    together = show_area(sum(largest.values()), "dm2")
    lines = [line for line in figures_in_words(plan, job) if line.startswith("The largest offcuts of")]
    told = [line for line in figures_words(figures, Settings()) if line.startswith("The largest offcuts of")]
    if hides_cut == 1:
        assert lines == told == []
    else:
        assert lines == [f"The largest offcuts of 2 hides: {together} together"]
        assert len(told) == 1
