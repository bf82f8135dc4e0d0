"""Progress that tells: what was found against time, no gain said, and the end of a long search told."""

from __future__ import annotations

import msgspec
import pytest
from PySide6.QtGui import QColor
from PySide6.QtWidgets import QApplication

from nestplan.desk.background.search_history import SearchHistory, most_by_area
from nestplan.desk.panels.search_watch import SearchWatch
from nestplan.desk.theme import current_theme
from nestplan.nesting.progress import Progress
from nestplan.tasks.contents import Contents
from tests.desk.small_work import laid_work, pair_job, sheet


def progress(sets: int, placed: int) -> Progress:
    return Progress(stage="fill", placed=placed, asked=40, sets=sets, sets_asked=10)


def test_only_what_is_better_makes_a_point_and_the_time_since_it_is_known():
    history = SearchHistory()
    for seconds, sets, placed in ((0.5, 0, 3), (1.0, 1, 6), (2.0, 1, 6), (9.0, 1, 6)):
        history.note_progress(progress(sets, placed), seconds)
    assert [(point.seconds, point.sets) for point in history.points] == [(0.5, 0), (1.0, 1)]
    assert history.asked == 10
    assert history.seconds_without_gain(41.0) == 40.0


def test_area_and_hides_of_a_candidate_stand_in_the_next_point():
    history, plan = SearchHistory(), laid_work(4).plan
    history.note_candidate(plan.placements)
    history.note_progress(progress(4, 4), 1.0)
    assert history.points[0].hides == 1
    assert history.points[0].area == pytest.approx(4 * 100 * 60)


def test_the_curve_rises_and_no_gain_is_said_after_a_while(window):
    watch = SearchWatch(window.settings)
    watch.resize(320, 200)
    watch.show()
    history = SearchHistory()
    history.note_progress(progress(2, 8), 1.0)
    watch.show_history(history, 5.0, 60.0)
    assert watch.gain.text() == ""
    low = _height(watch)
    history.note_progress(progress(8, 32), 6.0)
    watch.show_history(history, 46.0, 60.0)
    QApplication.processEvents()
    assert "No gain for 40 s" in watch.gain.text()
    assert watch.sets.number.text() == "8"
    assert "of 10" in watch.sets.what.text()
    assert _height(watch) > low + 20
    watch.close()


def test_a_search_for_more_than_is_asked_is_shown_against_what_the_leather_allows(window, qtbot):
    hide, wanted = sheet(), pair_job(3)
    needed = sum(p.piece.net_area * p.piece.count for p in wanted.cut_pieces)
    window.document.open(Contents((hide,), wanted, None), {})
    window.go_to("plan")
    panel = window.panels["plan"]
    panel.goal.set_value("fill")
    panel.begin(seconds=2.0)
    qtbot.waitUntil(lambda: window.session.plan_search.current.history.asked > 0, timeout=120_000)
    history = window.session.plan_search.current.history
    assert history.most == (int(hide.gross_area // needed), hide.gross_area)
    watch = SearchWatch(window.settings)
    watch.resize(320, 220)
    watch.show_history(history, 1.0, 2.0)
    watch.show()
    assert f"at most {history.most[0]} sets by area" in watch.curve.accessibleDescription()
    assert [level.words for level in watch.curve.levels] == ["asked: 3"]
    assert all(line.top in history.most for line in watch.curve.lines)
    watch.close()
    qtbot.waitUntil(lambda: not window.session.plan_search.running, timeout=120_000)
    assert history.points[-1].sets <= history.most[0]


def test_the_bound_by_area_holds_for_articles_together():
    job = pair_job(3)
    renamed = msgspec.structs.replace(job.articles[0].pieces[0], name="another")
    small = msgspec.structs.replace(job.articles[0], name="other", sets=1, pieces=(renamed,))
    both = msgspec.structs.replace(job, articles=(job.articles[0], small))
    assert most_by_area(both, [sheet()])[0] == most_by_area(job, [sheet()])[0]


def _height(watch: SearchWatch) -> int:
    """How high the solid curve reaches, pixels."""
    picture = watch.curve.grab().toImage()
    wanted = QColor(current_theme().accent)
    rows = [
        y
        for y in range(picture.height())
        for x in range(picture.width())
        if max(
            abs(a - b)
            for a, b in zip(picture.pixelColor(x, y).getRgb()[:3], wanted.getRgb()[:3], strict=True)
        )
        < 30
    ]
    return picture.height() - min(rows)


def test_a_search_in_the_window_fills_the_watch_and_its_end_is_told_to_who_works_elsewhere(
    window, qtbot, monkeypatch
):
    told = []
    monkeypatch.setattr("nestplan.desk.window.tell_desktop", lambda _window, words: told.append(words))
    monkeypatch.setattr("nestplan.desk.window._LONG_SEARCH", 0.0)
    contents = laid_work(1)
    window.document.open(type(contents)((sheet(),), pair_job(3), None), {})
    window.go_to("plan")
    panel = window.panels["plan"]
    panel.begin(seconds=2.0)
    assert panel.watch.isVisible()
    qtbot.waitUntil(lambda: not window.session.plan_search.running, timeout=120_000)
    history = window.session.plan_search.current.history
    assert history.points
    assert history.points[-1].sets == 3
    assert len(told) == 1
    assert "3 of 3 sets whole" in told[0]
    assert not panel.watch.isVisible()


def test_a_plan_found_for_pieces_that_are_gone_meanwhile_leaves_them_out(window):
    work = laid_work(3)
    window.document.open(work, {})
    window.document.set_plan("Plan", None)
    # As if the piece had been another one when the search began.
    strange = msgspec.structs.replace(work.plan.placements[0], piece="gone")
    found = msgspec.structs.replace(work.plan, placements=(strange, *work.plan.placements[1:]))
    window.document.set_plan("Plan", found)
    assert window.document.contents.plan.placements == work.plan.placements[1:]


def test_without_a_job_no_plan_stays_and_none_that_is_found_later_is_taken(window):
    work = laid_work(3)
    window.document.open(work, {})
    window.document.select(work.plan.placements[:1])
    window.document.edit_job("Delete the job", None)
    assert window.document.contents.plan is None
    # As if a search for the job that is gone had ended just now.
    window.document.set_plan("Plan", work.plan)
    assert window.document.contents.plan is None
    assert window.document.stack.count() == 1
    window.document.stack.undo()
    assert window.document.contents == work
