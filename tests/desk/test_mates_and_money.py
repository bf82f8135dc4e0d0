"""Two prices and the distance of pairs, shown beside the plan; the price of distance is set in step 2."""

from __future__ import annotations

from msgspec.structs import replace
from PySide6.QtWidgets import QApplication

from nestplan.nesting.nest import nest
from nestplan.tasks.contents import Contents
from nestplan.yields import figures_of
from tests.desk.conftest import settle
from tests.desk.small_work import job, panel, sheet
from tests.desk.test_panels import type_in


def test_the_plan_shows_both_prices_and_warns_of_mates_that_lie_far_apart(window):
    hide = sheet(price=80.0, currency="EUR")
    wanted = job(panel(pair=True, mates_near=True), sets=1, mates_limit=200.0)
    plan = nest(wanted, (hide,))
    left, right = plan.placements
    away = [(x + 700.0 - min(x for x, _ in right.cut), y) for x, y in right.cut]
    moved = replace(right, x=right.x + away[0][0] - right.cut[0][0], finished=tuple(away), cut=tuple(away))
    near = [(x - min(x for x, _ in left.cut), y) for x, y in left.cut]
    stays = replace(left, x=left.x + near[0][0] - left.cut[0][0], finished=tuple(near), cut=tuple(near))
    plan = replace(plan, placements=(stays, moved))
    plan = replace(plan, figures=figures_of(plan, wanted, (hide,)))
    window.document.open(Contents((hide,), wanted, plan), {})
    window.go_to("plan")
    QApplication.processEvents()
    figures = window.panels["plan"].figures
    assert "80" in figures.money.number.text()
    used = float(figures.leather.number.text().split()[0])
    assert 0.0 < used < 20.0
    apart = f"{700.0 - max(x for x, _ in near):g} mm apart."
    assert f"panel: left and right are to lie near each other (within 200 mm); set 1: {apart}" in (
        figures.warnings.text()
    )
    assert f"Left and right: 1 pair, {apart}" in figures.words.text()


def test_the_price_of_distance_and_its_limit_are_set_with_the_job_and_undone(window):
    window.document.open(Contents((sheet(),), job(panel(pair=True), sets=1)), {})
    window.go_to("pieces")
    pieces = window.panels["pieces"]
    pieces._article = ""
    pieces.show_job(window.document.contents.job)
    QApplication.processEvents()
    assert pieces.mates_price.text() == "20 mm²"
    type_in(pieces.mates_price, "35 mm²")
    assert window.document.contents.job.mates_price == 35.0
    type_in(pieces.mates_limit, "300 mm")
    assert window.document.contents.job.mates_limit == 300.0
    window.document.stack.undo()
    window.document.stack.undo()
    assert window.document.contents.job.mates_price == 20.0


def test_several_warnings_are_one_line_until_they_are_asked_for(window, qtbot):
    from nestplan.desk.panels.figures import FiguresPart
    from nestplan.yields import figures_of
    from tests.desk.small_work import laid_work

    contents = laid_work(2)
    window.document.open(contents, {})
    part = window.panels["plan"].figures
    assert isinstance(part, FiguresPart)
    window.go_to("plan")
    settle(qtbot, window)
    figures = figures_of(contents.plan, contents.job, contents.hides)
    part.show_figures(figures, warnings=("one.", "two."))
    assert not part.warnings.isVisible()
    assert part.grouped.line.text() == "⚠ 2 warnings: look again"
    part.grouped.line.click()
    assert part.warnings.isVisible()
    part.show_figures(figures, warnings=("one.",))
    assert part.warnings.isVisible()
    assert not part.grouped.line.isVisible()
    part.show_figures(figures)
    assert not part.grouped.isVisible()
