"""The words under a template."""

from __future__ import annotations

from nestplan.sheets.piece_template import draw_template
from nestplan.sheets.unit_formatting import UnitFormatter
from tests.sheets.sample_plans import belt_job


def test_the_caption_says_how_many_of_what_and_which_way_round() -> None:
    job = belt_job()
    caption = [
        words for words, _ in draw_template(job, job.articles[0], job.piece("front"), UnitFormatter()).caption
    ]
    assert any("outer" in line and "2 as drawn (left), 2 turned over (right)" in line for line in caption)
    assert any("lining" in line and "2 as drawn (right), 2 turned over (left)" in line for line in caption)
    assert any("at least 6 mm" in line and "10 mm" in line for line in caption)
    assert any("180 × 129 mm" in line for line in caption)
