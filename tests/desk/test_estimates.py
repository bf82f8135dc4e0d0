"""How many and how much to buy, asked in the step Choose."""

from __future__ import annotations

import pytest
from PySide6.QtWidgets import QApplication

from nestplan.desk.document import Work
from tests.desk.small_work import job, panel, sheet
from tests.desk.test_panels import type_in


@pytest.fixture
def choosing(window):
    hides = (sheet("narrow", width=320, height=75), sheet("wide", width=650, height=140))
    window.document.open(Work(hides, job(panel(), sets=1)), {})
    window.go_to("choose")
    window.choose_panel.seconds.set_value(0.3)
    QApplication.processEvents()
    return window.choose_panel


def answered(part, qtbot):
    qtbot.waitUntil(lambda: not part.running, timeout=60_000)
    QApplication.processEvents()
    return part.words.text()


def test_sets_are_counted_on_each_hide_and_on_all_together(choosing, qtbot):
    choosing.count.start.click()
    words = answered(choosing.count, qtbot)
    # Panels of 100 × 60 mm with 1.5 mm between them: three in a row of 320 mm, two rows of six on the wide one.
    assert "narrow: 3 sets; no plan can give more." in words or "narrow: 3 sets proven" in words
    assert "wide: 12 sets" in words
    together = next(line for line in words.splitlines() if line.startswith("all together:"))
    assert 12 <= int(together.split()[2]) <= 17


def test_straps_are_counted_where_a_size_is_given(choosing, qtbot):
    type_in(choosing.count.length, "600 mm")
    type_in(choosing.count.width, "40 mm")
    choosing.count.start.click()
    words = answered(choosing.count, qtbot)
    assert "narrow: 0 straps" in words
    assert "wide: 3 straps" in words


def test_what_to_buy_is_simulated_told_with_its_settings_and_drawn(choosing, window, qtbot):
    buy = choosing.buy
    buy.kind.set_value("cow-side")
    type_in(buy.sets, "4")
    type_in(buy.price, "9")
    buy.draws.set_value(10)
    buy.start.click()
    words = answered(buy, qtbot)
    assert "For 4 × belt:" in words
    assert "50% of purchases: 1 hide" in words
    assert "10 simulated purchases" in words
    assert "flaws per m2" in words
    picture = buy.plot_picture()
    assert picture.width() > 400
    assert not picture.isNull()


def test_a_kind_without_a_known_area_asks_for_it(choosing, window):
    choosing.buy.kind.set_value("goat")
    choosing.buy.start.click()
    assert "No usual area is known" in window.notice.words.text()


def test_a_count_is_given_up(choosing, qtbot):
    choosing.seconds.set_value(20)
    choosing.count.start.click()
    choosing.count.stop.click()
    assert answered(choosing.count, qtbot) == ""
