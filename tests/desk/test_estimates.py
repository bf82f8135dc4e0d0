"""How many and how much to buy, asked in the step Choose."""

from __future__ import annotations

import pytest
from PySide6.QtWidgets import QApplication

from nestplan.model.job import Article, Job
from nestplan.tasks.contents import Contents
from tests.desk.small_work import job, panel, sheet
from tests.desk.test_panels import type_in


@pytest.fixture
def choosing(window):
    hides = (sheet("narrow", width=320, height=75), sheet("wide", width=650, height=140))
    window.document.open(Contents(hides, job(panel(), sets=1)), {})
    window.go_to("choose")
    window.panels["choose"].seconds.set_value(0.3)
    QApplication.processEvents()
    return window.panels["choose"]


def answered(part, qtbot):
    qtbot.waitUntil(lambda: not part.running, timeout=60_000)
    QApplication.processEvents()
    return part.words.text()


def test_sets_are_counted_on_each_hide_and_on_all_together(choosing, qtbot):
    choosing.count.start.click()
    words = answered(choosing.count, qtbot)
    # Panels of 100 × 60 mm with 1.5 mm between them: three in a row of 320 mm, two rows of six on the wide one.
    assert "narrow: 3 sets; no plan can give more." in words or "narrow: 3 sets surely" in words
    assert "wide: 12 sets" in words
    together = next(line for line in words.splitlines() if line.startswith("all together:"))
    assert 12 <= int(together.split()[2]) <= 17


def test_straps_are_counted_where_a_size_is_given(choosing, qtbot):
    type_in(choosing.count.strap_length, "600 mm")
    type_in(choosing.count.strap_width, "40 mm")
    choosing.count.start.click()
    words = answered(choosing.count, qtbot)
    assert "narrow: 0 straps" in words
    assert "wide: 3 straps" in words


def test_what_to_buy_is_simulated_told_with_its_settings_and_drawn(choosing, window, qtbot):
    buy = choosing.buy
    buy.kind.set_value("cow-side")
    type_in(buy.sets, "4")
    type_in(buy.price, "9")
    buy.trials.set_value(10)
    buy.start.click()
    words = answered(buy, qtbot)
    assert "For 4 × belt; finished" in words
    assert "Buy 1 cow side of about" in words
    assert "10 trials on simulated hides" in words
    assert "flaws per m2" in words
    picture = buy.plot_picture(buy.estimate)
    assert picture.width() > 400
    assert not picture.isNull()


def test_a_kind_without_a_known_area_asks_for_it(choosing, window):
    choosing.buy.kind.set_value("goat")
    choosing.buy.start.click()
    assert "usual length along the backbone" in window.notice.words.text()


def test_a_count_is_given_up(choosing, qtbot):
    choosing.seconds.set_value(20)
    choosing.count.start.click()
    choosing.count.stop.click()
    assert answered(choosing.count, qtbot) == ""


def test_straps_may_be_joined(choosing, qtbot):
    # Two parts of 312.5 mm that lap by 25 mm make one strap of 600 mm: two rows of 35 mm on 320 × 75 mm.
    type_in(choosing.count.strap_length, "600 mm")
    type_in(choosing.count.strap_width, "35 mm")
    choosing.count.start.click()
    assert "narrow: 0 straps" in answered(choosing.count, qtbot)
    type_in(choosing.count.joins, "1")
    choosing.count.start.click()
    assert "narrow: 1 strap" in answered(choosing.count, qtbot)


def test_sizes_are_counted_in_a_ratio_and_forgotten_with_their_job(choosing, window, qtbot):
    small, large = panel("small"), panel("large")
    both = Job(
        name="two sizes",
        articles=(
            Article(name="small", sets=1, pieces=(small,)),
            Article(name="large", sets=1, pieces=(large,)),
        ),
    )
    window.document.open(Contents(window.document.contents.hides, both), {})
    window.go_to("choose")
    type_in(choosing.count.ratio, "2:1")
    choosing.count.start.click()
    words = answered(choosing.count, qtbot)
    assert "narrow: 3 sets (2 × small; 1 × large)" in words
    type_in(choosing.count.ratio, "2:1:4")
    assert "one figure for each article" in choosing.count.ratio.fault
    type_in(choosing.count.ratio, "2:1")
    window.document.open(Contents(window.document.contents.hides, job(panel(), sets=1)), {})
    assert choosing.count.ratio.text() == ""


def test_the_cheapest_hides_together_are_found_and_their_plan_taken(choosing, window, qtbot):
    window.document.open(
        Contents(
            (
                sheet("dear", price=90.0, width=650, height=140),
                sheet("cheap", price=20.0, width=320, height=75),
            ),
            job(panel(), sets=2),
        ),
        {},
    )
    window.go_to("choose")
    part = choosing.together
    assert not part.use.isVisible()
    part.start.click()
    words = answered(part, qtbot)
    assert "'cheap', 20.00" in words
    part.use.click()
    assert {place.hide for place in window.document.contents.plan.placements} == {"cheap"}
    # Another job: what was found is no answer to it.
    window.document.open(Contents(window.document.contents.hides, job(panel(), sets=3)), {})
    assert part.words.text() == ""
    assert not part.use.isVisible()


def test_a_comparison_is_written_down(choosing, window, qtbot, tmp_path):
    assert not choosing.paper.isEnabled()
    choosing.compare()
    qtbot.waitUntil(lambda: not choosing.running, timeout=60_000)
    QApplication.processEvents()
    assert choosing.paper.isEnabled()
    assert window.session.papers.comparison_to(tmp_path)
    assert {path.name for path in tmp_path.glob("compare*")} == {
        "compare.csv",
        "compare.json",
        "compare.pdf",
        "compare.png",
    }
    assert (tmp_path / "compare.csv").read_text().splitlines()[1].startswith("1,narrow,")
    assert not window.session.papers.comparison_to(tmp_path / "nowhere")
    assert "cannot be written" in window.notice.words.text()
