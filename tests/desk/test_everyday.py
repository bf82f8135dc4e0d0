"""Everyday handling: undo with a field in focus, the wheel over a list, a wrong field, files of which one is bad."""

from __future__ import annotations

import pytest
from PySide6.QtCore import QMimeData, QPoint, QPointF, Qt, QUrl
from PySide6.QtGui import QDragEnterEvent, QDropEvent, QWheelEvent
from PySide6.QtPrintSupport import QPrinter
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QAbstractSpinBox, QApplication, QComboBox, QLabel, QSlider

from nestplan.desk.sentences import plan_words, search_words
from nestplan.model.files import write_hide, write_job
from nestplan.nesting.progress import Progress
from tests.desk.conftest import settle
from tests.desk.small_work import job, laid_work, panel, sheet


def type_in(field, words):
    field.setFocus()
    field.selectAll()
    QTest.keyClicks(field, words)
    QTest.keyClick(field, Qt.Key.Key_Return)
    QApplication.processEvents()


def undo(widget):
    QTest.keyClick(widget, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier)
    QApplication.processEvents()


def test_undo_takes_back_the_last_change_while_a_field_has_the_focus(window):
    window.activateWindow()
    window.document.add_hide(sheet())
    field = window.panels["hides"].leather
    type_in(field, "goat skin")
    assert window.document.hide.leather == "goat skin"
    field.setFocus()
    undo(field)
    assert window.document.hide.leather == "leather"
    assert field.text() == "leather"


def test_undo_takes_back_what_is_being_typed_and_leaves_the_work_alone(window):
    window.activateWindow()
    window.document.add_hide(sheet())
    field = window.panels["hides"].leather
    field.setFocus()
    field.selectAll()
    QTest.keyClicks(field, "goat")
    undo(field)
    assert field.text() == "leather"
    assert window.document.hide is not None


def test_the_wheel_scrolls_past_a_list_of_choices_and_chooses_nothing(window):
    window.document.open(laid_work(2), {})
    window.go_to("plan")
    goal = window.panels["plan"].goal
    before = goal.value
    for focus in (False, True):
        if focus:
            goal.setFocus()
        middle = QPointF(goal.rect().center())
        turn = QWheelEvent(
            middle,
            QPointF(goal.mapToGlobal(goal.rect().center())),
            QPoint(),
            QPoint(0, -120),
            Qt.MouseButton.NoButton,
            Qt.KeyboardModifier.NoModifier,
            Qt.ScrollPhase.NoScrollPhase,
            False,
        )
        QApplication.sendEvent(goal, turn)
        assert goal.value == before


@pytest.mark.parametrize("step", ["hides", "pieces", "choose", "plan", "cut"])
def test_the_wheel_changes_no_choice_and_no_number_of_any_step(window, step):
    window.document.open(laid_work(2), {})
    window.go_to(step)
    QApplication.processEvents()
    controls = [
        control
        for kind in (QComboBox, QAbstractSpinBox, QSlider)
        for control in window.panels[step].findChildren(kind)
        if control.isVisible() and control.isEnabled()
    ]
    before = window.document.contents

    def shown(control):
        return control.currentText() if isinstance(control, QComboBox) else control.text()

    for control in controls:
        control.setFocus()
        words, middle = shown(control), QPointF(control.rect().center())
        turn = QWheelEvent(
            middle, control.mapToGlobal(middle), QPoint(), QPoint(0, -120), Qt.MouseButton.NoButton,
            Qt.KeyboardModifier.NoModifier, Qt.ScrollPhase.NoScrollPhase, False,
        )  # fmt: skip
        QApplication.sendEvent(control, turn)
        assert shown(control) == words
        assert not turn.isAccepted(), "the column scrolls instead"
    assert window.document.contents is before


def test_a_wrong_field_says_why_below_it_until_it_is_right(window):
    window.document.open(laid_work(2), {})
    window.go_to("plan")
    panel_shown = window.panels["plan"]
    type_in(panel_shown.minutes, "a while")
    shown = [label.text() for label in panel_shown.findChildren(QLabel) if label.isVisible()]
    assert "This is no number." in shown
    type_in(panel_shown.minutes, "2")
    shown = [label.text() for label in panel_shown.findChildren(QLabel) if label.isVisible()]
    assert "This is no number." not in shown


def test_of_a_bad_and_a_good_file_the_good_one_opens_and_the_bad_one_is_told(window, tmp_path):
    write_hide(tmp_path / "oak.hide.json", sheet("oak"))
    write_job(tmp_path / "belts.job.json", job(panel()))
    (tmp_path / "bad.hide.json").write_text("{")
    window.session.files.open(
        [tmp_path / name for name in ("bad.hide.json", "oak.hide.json", "belts.job.json")]
    )
    assert [hide.name for hide in window.document.contents.hides] == ["oak"]
    assert window.document.contents.job is not None
    assert "bad.hide.json" in window.notice.words.text()


def test_a_bad_and_a_good_file_dropped_together_on_the_window_open_as_far_as_they_can_be_read(
    window, tmp_path
):
    write_hide(tmp_path / "oak.hide.json", sheet("oak"))
    (tmp_path / "bad.hide.json").write_text("{")
    (tmp_path / "notes.txt").write_text("no hide")
    files = QMimeData()
    files.setUrls([QUrl.fromLocalFile(str(path)) for path in sorted(tmp_path.glob("*.*")) if path.is_file()])
    held = (files, Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier)
    try:
        entering = QDragEnterEvent(QPointF(300, 300), Qt.DropAction.CopyAction, *held)
    except TypeError:  # whole pixels, before PySide6 6.12
        entering = QDragEnterEvent(QPoint(300, 300), Qt.DropAction.CopyAction, *held)
    QApplication.sendEvent(window, entering)
    assert entering.isAccepted()
    QApplication.sendEvent(window, QDropEvent(QPointF(300, 300), Qt.DropAction.CopyAction, *held))
    QApplication.processEvents()
    assert [hide.name for hide in window.document.contents.hides] == ["oak"]
    words = window.notice.words.text()
    assert "bad.hide.json" in words
    assert "notes.txt" in words


def test_a_folder_with_a_bad_file_in_it_opens_all_the_same(window, tmp_path):
    write_hide(tmp_path / "oak.hide.json", sheet("oak"))
    (tmp_path / "bad.job.json").write_text("[]")
    window.session.files.open([tmp_path])
    assert [hide.name for hide in window.document.contents.hides] == ["oak"]
    assert "bad.job.json" in window.notice.words.text()


def test_a_plan_with_faults_has_no_whole_sets(window, qtbot):
    contents = laid_work(3, sheet(), step=(200, 150))
    plan = contents.plan
    window.document.open(contents, {})
    window.go_to("plan")
    settle(qtbot, window)
    assert "3 of 3 sets whole" in window.strip.buttons["plan"].text()
    from nestplan.desk.document.plan_edits import moved, replaced

    onto = plan.placements[0]
    window.document.set_plan("Pile up", replaced(plan, {1: moved(plan.placements[1], onto.pose)}))
    settle(qtbot, window)
    for words in (window.strip.buttons["plan"].text(), window.panels["plan"].figures.words.text()):
        assert "of 3 sets" not in words
    assert "1 fault to mend" in window.strip.buttons["plan"].text()
    assert plan_words(plan, contents.job, None, 2).startswith("3 pieces placed, 2 faults to mend")


def test_a_search_beyond_what_is_asked_does_not_count_57_of_21():
    told = Progress(stage="fill", placed=57, asked=21, sets=8, sets_asked=3)
    assert search_words(told).endswith("57 pieces have a place, 8 sets.")
    told = Progress(stage="lay", placed=12, asked=21, sets=1, sets_asked=3)
    assert search_words(told).endswith("12 of 21 have a place, 1 of 3 sets.")


def test_a_sheet_printed_into_a_pdf_is_as_small_as_an_exported_one(window, tmp_path):
    window.document.open(laid_work(4), {})
    printer = QPrinter(QPrinter.PrinterMode.HighResolution)
    printer.setOutputFormat(QPrinter.OutputFormat.PdfFormat)
    printer.setOutputFileName(str(tmp_path / "printed.pdf"))
    assert window.session.papers.print_on("cut sheet", printer)
    assert window.session.papers.export_to("cut sheet", tmp_path / "exported.pdf")
    sizes = [(tmp_path / name).stat().st_size for name in ("printed.pdf", "exported.pdf")]
    assert sizes[0] == pytest.approx(sizes[1], rel=0.05)


def test_an_area_of_nothing_is_never_said_to_suffice(window):
    from nestplan.estimate.buy import BuyFigure

    part = window.panels["choose"].buy
    figure = BuyFigure(
        share=0.95,
        area=0.0,
        least_area=0.0,
        hides=1,
        least_hides=1,
        bought=None,
        money=None,
    )
    words = part._mark_words(figure)
    assert words == "enough in 95 of 100 purchases: 1 hide, whichever it is"


@pytest.mark.parametrize(
    ("name", "words", "why"),
    [
        ("stated", "999999999999 ft2", "between 0.01 and 1,000 ft²"),
        ("stated", "0 ft2", "between 0.01 and 1,000 ft²"),
        ("currency", "9", "by its letters or its sign"),
    ],
)
def test_a_figure_no_hide_can_have_is_refused_with_its_reason(window, name, words, why):
    window.document.add_hide(sheet(stated_area=2e6, price=90.0, currency="EUR"))
    before = window.document.hide
    field = getattr(window.panels["hides"], name)
    type_in(field, words)
    assert why in field.fault
    shown = [label.text() for label in window.panels["hides"].findChildren(QLabel) if label.isVisible()]
    assert field.fault in shown
    assert window.document.hide == before


def test_a_currency_is_taken_by_its_letters_or_its_sign(window):
    window.document.add_hide(sheet(price=90.0))
    for words in ("EUR", "€", "kr"):
        field = window.panels["hides"].currency
        field.setText(words)
        QTest.keyClick(field, Qt.Key.Key_Return)
        assert window.document.hide.currency == words


def test_the_buttons_of_a_search_stay_where_they_are_when_its_words_wrap(window):
    window.document.open(laid_work(2), {})
    window.go_to("plan")
    panel_shown = window.panels["plan"]
    for made in (panel_shown.pause, panel_shown.words):
        made.show()
    places = []
    for words in ("Short.", "Finding room for more sets: 57 pieces have a place, 8 sets. " * 3):
        panel_shown.words.setText(words)
        QApplication.processEvents()
        QApplication.processEvents()
        places.append(panel_shown.pause.y())
    assert places[0] == places[1]


def test_a_step_in_focus_is_framed_in_the_accent_and_has_no_black_bar(window):
    from nestplan.desk.theme import current_theme

    window.activateWindow()
    button = window.strip.buttons["plan"]
    button.setFocus(Qt.FocusReason.TabFocusReason)
    QApplication.processEvents()
    if not button.hasFocus():
        pytest.skip("this screen gives no window the focus")
    top = button.grab().toImage().pixelColor(button.width() // 2, 1).name()
    assert top == current_theme().accent.lower()


def test_a_piece_moved_to_another_hide_leaves_no_handle_behind(window, qtbot):
    contents = laid_work(3, sheet(), step=(200, 150))
    window.document.open(type(contents)((*contents.hides, sheet("other")), contents.job, contents.plan), {})
    window.go_to("plan")
    window.document.select(window.document.contents.plan.placements[:1])
    QApplication.processEvents()
    assert window.table.tool.preview(), "the selected piece has its handle"
    window.session.plan.move_to_hide("other")
    settle(qtbot, window)
    assert window.document.contents.plan.placements[0].hide == "other"
    assert not window.table.tool.preview()
