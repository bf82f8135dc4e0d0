"""The marks for photographs: their true size on every sheet, and a rule to check the print."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from nestplan.drawing.primitives import Outline
from nestplan.errors import InputError
from nestplan.sheets.photo_marks import photo_mark_booklet, write_photo_marks
from tests.sheets.looking import beyond, words_of

BLACK = np.array(((-40.0, -40.0), (40.0, -40.0), (40.0, 40.0), (-40.0, 40.0)))
MARKS = (BLACK, 0.5 * BLACK)


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_the_mark_has_its_true_size_in_the_middle_of_each_sheet(paper: str) -> None:
    booklet = photo_mark_booklet(MARKS, count=3, paper=paper)
    assert len(booklet.pages) == 3
    for page in booklet.pages:
        mark = next(item for item in page.picture if isinstance(item, Outline) and len(item.rings) == 2)
        middle = np.array((page.width / 2, page.height / 2))
        assert np.allclose(mark.rings[0], BLACK + middle)
        assert np.allclose(mark.rings[1], 0.5 * BLACK + middle)
        assert beyond(page) == []


def test_the_rule_is_as_long_as_its_words_say() -> None:
    page = photo_mark_booklet(MARKS, count=1).pages[0]
    rule = next(
        item.rings[0]
        for item in page.picture
        if isinstance(item, Outline) and np.ptp(item.rings[0][:, 1]) == 0
    )
    assert np.ptp(rule[:, 0]) == 100.0
    assert any("100 mm long, the black square 80 mm wide" in words for words in words_of(page.picture))


def test_an_unknown_paper_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no paper"):
        write_photo_marks(tmp_path / "marks.pdf", MARKS, paper="b5")
    assert not list(tmp_path.iterdir())
