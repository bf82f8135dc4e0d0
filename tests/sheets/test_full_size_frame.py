"""What stands round the pieces on full-size sheets: gauges to check the printer."""

from __future__ import annotations

import msgspec
import numpy as np
import pytest

from nestplan.drawing.primitives import Outline
from nestplan.model import Job, Part
from nestplan.sheets.full_size import full_size_sheets
from tests.sheets.sample_plans import belt_job, front


def large_job() -> Job:
    """The belts with a back panel of 560 × 330 mm, which no A4 sheet holds."""
    job = belt_job()
    panel = msgspec.structs.replace(
        front(560.0, 330.0),
        name="back panel",
        note="Skive the upper edge.",
        parts=(Part(outline=((20, 40), (200, 40), (200, 200), (20, 200)), name="part that shows"),),
    )
    article = msgspec.structs.replace(job.articles[0], pieces=(*job.articles[0].pieces, panel))
    return msgspec.structs.replace(job, articles=(article,))


@pytest.mark.parametrize("paper", ["a4", "letter", "a3", "roll"])
def test_every_sheet_carries_both_gauges(paper: str) -> None:
    for page in full_size_sheets(large_job(), paper=paper).booklet.pages:
        lengths = [
            float(np.ptp(item.rings[0][:, 0]))
            for item in page.picture.on("gauge")
            if isinstance(item, Outline)
        ]
        assert any(length == pytest.approx(100.0) for length in lengths)
        assert any(length == pytest.approx(101.6) for length in lengths)


def test_the_first_page_has_an_upright_gauge_too() -> None:
    page = full_size_sheets(belt_job()).booklet.pages[0]
    heights = [
        float(np.ptp(item.rings[0][:, 1])) for item in page.picture.on("gauge") if isinstance(item, Outline)
    ]
    assert max(heights) == pytest.approx(100.0)
