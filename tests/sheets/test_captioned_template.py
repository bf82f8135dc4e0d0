"""A template with its caption: the rectangle holds both, apart from each other."""

from __future__ import annotations

import pytest

from nestplan.drawing.primitives import Text
from nestplan.sheets.captioned_template import CaptionedTemplate, with_caption_below, with_caption_beside
from nestplan.sheets.piece_layers import piece_layers
from nestplan.sheets.piece_template import draw_template
from nestplan.sheets.unit_formatting import UnitFormatter
from tests.sheets.looking import overprinted, word_box
from tests.sheets.sample_plans import belt_job


def blocks() -> list[CaptionedTemplate]:
    job = belt_job()
    article = job.articles[0]
    subjects = [subject for piece in article.pieces for subject in piece_layers(article, piece)]
    templates = [draw_template(job, subject, UnitFormatter("mm")) for subject in subjects]
    beside = [with_caption_beside(template, 400.0) for template in templates]
    assert all(block is not None for block in beside)
    return [*(with_caption_below(template) for template in templates), *(block for block in beside if block)]


@pytest.mark.parametrize(
    "block", blocks(), ids=lambda block: f"{block.template.subject.title} {block.caption_x:.0f}"
)
def test_template_and_caption_lie_in_the_rectangle_without_touching(block: CaptionedTemplate) -> None:
    picture = block.picture()
    xmin, ymin, xmax, ymax = picture.bounds()
    assert xmin >= -0.5
    assert ymin >= -0.5
    assert xmax <= block.width + 0.5
    assert ymax <= block.height + 0.5
    words = [item for item in picture.on("caption") if isinstance(item, Text)]
    assert [item.words for item in words] == [line for line, _ in block.caption]
    for item in words:
        low_x, low_y, high_x, high_y = word_box(item).bounds
        assert low_x >= -0.5
        assert low_y >= -0.5
        assert high_x <= block.width + 0.5
        assert high_y <= block.height + 0.5
    assert overprinted(picture) == []


def test_a_sheet_too_narrow_for_a_caption_beside_the_piece_has_none() -> None:
    job = belt_job()
    front = draw_template(job, piece_layers(job.articles[0], job.piece("front"))[0], UnitFormatter("mm"))
    width = front.picture.bounds()[2] - front.picture.bounds()[0]
    assert with_caption_beside(front, width + 40.0) is None
    assert with_caption_beside(front, width + 60.0) is not None
