"""The plot of sets against leather bought."""

from __future__ import annotations

import pytest

from nestplan.drawing.lettering import text_width
from nestplan.drawing.primitives import Circle, Outline, Text
from nestplan.sheets.buying_plot import AreaMark, sets_plot


def test_the_plot_shows_every_plan_the_marks_and_what_it_rests_on() -> None:
    foot = 304.8**2
    points = [(5.0 * foot, 2), (10.0 * foot, 4), (15.0 * foot, 6), (21.0 * foot, 8)]
    marks = [
        AreaMark(12.0 * foot, 11.0 * foot, 13.0 * foot, "enough in 50%"),
        AreaMark(18.0 * foot, 16.0 * foot, None, "enough in 95%"),
    ]
    page = sets_plot(
        points, marks, wanted=8, units="in", title="bags", notes=["one note", "a long note " * 30]
    )
    dots = [item for item in page.picture.on("plans") if isinstance(item, Circle)]
    assert len(dots) == 4
    assert [dot.x for dot in dots] == sorted(dot.x for dot in dots)
    steps = [
        (b.x - a.x) / (q[0] - p[0]) for a, b, p, q in zip(dots, dots[1:], points, points[1:], strict=False)
    ]
    assert steps == pytest.approx([steps[0]] * 3)
    lines = [item.rings[0][0][0] for item in page.picture.on("marks") if isinstance(item, Outline)]
    assert dots[1].x < lines[0] < dots[2].x < lines[1] < dots[3].x
    texts = [item for item in page.picture if isinstance(item, Text)]
    assert {"enough in 50%", "enough in 95%", "one note", "area bought, ft²", "20"} <= {
        text.words for text in texts
    }
    for text in texts:
        width = text_width(text.words, text.size, text.bold)
        left = text.x - {"left": 0.0, "middle": width / 2, "right": width}[text.anchor]
        assert left >= 0.0
        assert left + width <= page.width
        assert 0.0 <= text.y <= page.height
