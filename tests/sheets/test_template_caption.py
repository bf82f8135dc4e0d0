"""The words by a template: how many of what, which way round, what is done now and what later."""

from __future__ import annotations

from nestplan.model import Mark
from nestplan.sheets.piece_layers import piece_layers
from nestplan.sheets.template_caption import letters_for, mark_groups, template_caption, template_groups
from nestplan.sheets.unit_formatting import UnitFormatter
from tests.sheets.sample_plans import belt_job, layered_plan


def test_the_caption_says_how_many_of_what_and_which_way_round() -> None:
    job = belt_job()
    outer, lining = (
        [words for words, _ in template_caption(job, subject, UnitFormatter(), {})]
        for subject in piece_layers(job.articles[0], job.piece("front"))
    )
    assert any("outer" in line and "2 as drawn (left), 2 turned over (right)" in line for line in outer)
    assert any("lining" in line and "2 as drawn (right), 2 turned over (left)" in line for line in lining)
    assert any("at least 6 mm" in line and "10 mm" in line for line in lining)
    assert all(any("180 × 129 mm" in line for line in lines) for lines in (outer, lining))


def test_what_is_done_now_and_what_later_is_told_in_words() -> None:
    _, job, _ = layered_plan()
    outer, lining = (
        [words for words, _ in template_caption(job, subject, UnitFormatter(), {})]
        for subject in piece_layers(job.articles[0], job.piece("front"))
    )
    assert "cut out 1 opening: now" in outer
    assert "a: cut a slit 22 mm long (strap slit)" in outer
    assert "b: mark only, do not cut (badge)" in outer
    later = "mark it now, do it after gluing and trimming"
    assert f"c: punch a hole 5 mm across (eyelet 5 mm), 4 times; {later}" in outer
    assert "a: mark only, do not cut (label)" in lining
    assert not any(later in line for line in lining)


def test_a_planned_overcut_is_told_in_place_of_the_wish() -> None:
    _, job, _ = layered_plan()
    lining = piece_layers(job.articles[0], job.piece("front"))[1]
    told = " ".join(
        words for words, _ in template_caption(job, lining, UnitFormatter(), {("front", "lining"): 7.5})
    )
    assert "by at least 6 mm, up to 7.5 mm" in told


def test_marks_that_are_alike_share_a_letter() -> None:
    _, job, _ = layered_plan()
    subject = piece_layers(job.articles[0], job.piece("front"))[0]
    assert [(later, group[0], len(marks)) for later, group, marks in template_groups(subject)] == [
        (False, "slit", 1),
        (False, "mark", 1),
        (True, "punch", 4),
    ]
    alike = (Mark(at=(0.0, 0.0), do="punch", diameter=4.0), Mark(at=(9.0, 0.0), do="punch", diameter=4.001))
    assert len(mark_groups(alike)) == 1
    assert letters_for(28)[25:] == ["z", "aa", "ab"]
