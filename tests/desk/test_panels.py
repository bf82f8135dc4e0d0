"""The panels and the window round them: fields, lists, settings, words for errors, keys, light and dark."""

from __future__ import annotations

from pathlib import Path

import msgspec
import pytest
from PySide6.QtCore import QMimeData, QPointF, Qt, QUrl
from PySide6.QtGui import QDropEvent, QUndoStack
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QMessageBox

from nestplan.desk.controls.fields import LengthField, number_field, thickness_field
from nestplan.desk.document.document import key_of
from nestplan.desk.menus.file import fill_recent_menu
from nestplan.desk.settings import Settings
from nestplan.desk.table.item_shapes import LAYERS
from nestplan.desk.table.items import FlawItem, ShownPlacement
from nestplan.errors import InputError
from nestplan.model.files import write_hide, write_job
from nestplan.model.flaw_kinds import FlawKind, HatchPattern, register_flaw_kind, unregister_flaw_kind
from nestplan.resources import demo_folder, resource
from nestplan.tasks.contents import Contents
from tests.desk.answers import Answer
from tests.desk.conftest import settle
from tests.desk.small_work import job, laid_work, pair_job, panel, sheet, spoiled_sheet


def type_in(field, words):
    field.setFocus()
    field.selectAll()
    QTest.keyClicks(field, words)
    QTest.keyClick(field, Qt.Key.Key_Return)
    QApplication.processEvents()


def test_a_length_is_read_in_the_set_unit_or_the_typed_one(qapp):
    settings = Settings()
    field = LengthField(settings)
    given = []
    field.edited.connect(given.append)
    type_in(field, "12")
    type_in(field, "1 1/2 in")
    settings.unit = "in"
    assert field.text() == "1 1/2 in"
    type_in(field, "2")
    assert given == [12.0, 38.1, 50.8]


def test_a_field_that_cannot_be_read_says_why_and_gives_nothing(qapp):
    field = number_field(1, 5)
    given = []
    field.edited.connect(given.append)
    type_in(field, "9")
    assert "at least 1 and at most 5" in field.toolTip()
    type_in(field, "many")
    assert field.fault == "This is no whole number."
    assert given == []
    type_in(field, "4")
    assert given == [4]
    assert not field.fault


def test_a_thickness_may_be_typed_in_ounces(qapp):
    field = thickness_field(Settings())
    type_in(field, "5-6 oz")
    assert field.value == pytest.approx((5 * 25.4 / 64, 6 * 25.4 / 64))


def test_a_mark_with_two_meanings_is_asked_for_not_guessed(window):
    window.document.add_hide(sheet())
    stated = window.panels["hides"].stated
    type_in(stated, "22 3")
    assert window.document.hide.stated_area is None
    assert "22.3" in stated.toolTip()
    assert "22.75" in stated.toolTip()
    type_in(stated, "22 3/4")
    assert window.document.hide.stated_area == pytest.approx(22.75 * 92_903.04, rel=1e-6)


def test_every_step_says_how_far_it_is(window, qtbot):
    window.document.open(laid_work(4), {})
    settle(qtbot, window)
    words = {name: window.strip.buttons[name].text().split("\n")[1] for name in window.registered}
    assert words["hides"] == "1 hide"
    assert words["pieces"] == "4 sets, 4 pieces"
    assert words["plan"] == "4 of 4 sets whole"
    assert words["cut"] == "0 of 4 cut"


def test_flaws_are_listed_changed_and_taken_away(window):
    window.document.add_hide(spoiled_sheet())
    spots = window.panels["hides"].flaws_and_regions
    assert [spots.list.item(n).text() for n in range(spots.list.count())] == [
        "hole, ⌀ 80 mm",
        "belly, firmness 1",
    ]
    spots.list.setCurrentRow(0)
    spots.spoils.set_value("grain")
    spots.spoils.edited.emit("grain")
    assert window.document.hide.flaws[0].spoils == "grain"
    type_in(spots.size_field, "100")
    assert window.document.hide.flaws[0].disc.diameter == 100
    window.session.hides.remove_selected()
    assert window.document.hide.flaws == ()
    window.document.stack.undo()
    assert window.document.hide.flaws[0].spoils == "grain"


def test_a_kind_of_flaw_registered_from_outside_can_be_chosen_and_is_drawn(qtbot, request):
    kind = FlawKind(
        name="toy", faces=frozenset({"grain", "flesh"}), goes_through=False, letter="Y",
        hatch=HatchPattern("lines", 2.0, 90.0), words="spoils both sides", clause="spoils both sides",
        choice="spoils both sides", layer="toy", layer_words="a flaw of both sides", layer_patterns=("toy*",),
    )  # fmt: skip
    register_flaw_kind(kind)
    try:
        window = request.getfixturevalue("window")
        window.document.add_hide(spoiled_sheet())
        spots = window.panels["hides"].flaws_and_regions
        spots.list.setCurrentRow(0)
        number = spots.spoils.findText("Y · spoils both sides")
        assert number >= 0
        spots.spoils.setCurrentIndex(number)
        spots.spoils.activated.emit(number)
        flaw = window.document.hide.flaws[0]
        assert flaw.spoils == "toy"
        assert spots.list.item(0).text() == "hole, ⌀ 80 mm"
        assert FlawItem(flaw).toolTip() == "hole: spoils both sides"
        window.document.stack.undo()
        settle(qtbot, window)
    finally:
        unregister_flaw_kind("toy")


def test_a_hide_is_renamed_with_what_lies_on_it_and_no_two_share_a_name(window):
    window.document.open(laid_work(2), {})
    type_in(window.panels["hides"].name, "oak")
    assert {p.hide for p in window.document.contents.plan.placements} == {"oak"}
    window.document.add_hide(sheet("elm"))
    type_in(window.panels["hides"].name, "oak")
    assert "Another hide is called oak" in window.panels["hides"].name.toolTip()
    assert window.document.hide.name == "elm"


def test_what_is_selected_lies_in_the_plan_whenever_it_is_told_of(window):
    window.document.open(laid_work(4, sheet(), step=(200, 150)), {})
    window.go_to("plan")
    document = window.document
    strays = []

    def look(*_):
        placements = document.contents.plan.placements if document.contents.plan else ()
        strays.extend(placed for placed in document.selected if placed not in placements)

    for signal in (document.job_changed, document.plan_changed, document.selection_changed):
        signal.connect(look)
    placed = document.contents.plan.placements[0]
    document.select((placed,))
    piece = document.contents.job.piece(placed.piece)
    document.edit_piece("Rename", piece.name, msgspec.structs.replace(piece, name="another"))
    assert {each.piece for each in document.contents.plan.placements} == {"another"}
    document.stack.undo()
    document.select(document.contents.plan.placements[:2])
    document.edit_job("Delete the job", None)
    assert document.selected == ()
    document.stack.undo()
    assert not strays


def test_the_selected_piece_is_turned_locked_taken_off_and_put_back(window, hand, qtbot):
    window.document.open(laid_work(4, sheet(), step=(200, 150)), {})
    window.go_to("plan")
    document = window.document
    part = window.panels["plan"].selected
    document.select(document.contents.plan.placements[:1])
    assert part.isVisible()
    type_in(part.angle, "30")
    assert document.selected[0].angle == pytest.approx(30)
    hand.key(Qt.Key.Key_BracketLeft)
    assert document.selected[0].angle == pytest.approx(31)
    before = document.selected[0].x
    for _ in range(3):
        hand.key(Qt.Key.Key_Right)
    assert document.selected[0].x == pytest.approx(before + 3)
    steps = document.stack.count()
    hand.key(Qt.Key.Key_Right)
    assert document.stack.count() == steps, "nudges in a row are one step"
    hand.key(Qt.Key.Key_L)
    assert document.selected[0].locked
    hand.key(Qt.Key.Key_Right)
    assert document.selected[0].x == pytest.approx(before + 4), "what is locked stays"
    hand.key(Qt.Key.Key_L)
    hand.key(Qt.Key.Key_Delete)
    assert len(document.contents.plan.placements) == 3
    waiting = window.panels["plan"].waiting
    assert waiting.list.item(0).text() == "1 × panel"
    waiting.put_back()
    assert len(document.contents.plan.placements) == 4
    settle(qtbot, window)
    assert "nothing overlaps" in window.panels["plan"].faults.verdict.text()


def test_a_dropped_piece_slides_to_the_nearest_free_place_if_asked(window, hand, qtbot):
    window.document.open(laid_work(2, sheet(), step=(300, 150)), {})
    window.go_to("plan")
    QApplication.processEvents()
    window.table.fit()
    first = (80.0, 60.0)
    window.panels["plan"].slide.setChecked(True)
    hand.drag(first, (120.0, 150.0), (360.0, 70.0))
    settle(qtbot, window)
    assert window.session.checker.latest.faults == ()
    moved = window.document.contents.plan.placements[0].finished_ring.mean(axis=0)
    assert abs(moved[0] - 360) < 120


def test_the_next_piece_is_selected_by_a_key_and_marked_as_cut_with_enter(window, hand):
    window.document.open(laid_work(3), {})
    window.go_to("cut")
    window.table.setFocus()
    hand.key(Qt.Key.Key_N)
    hand.key(Qt.Key.Key_N)
    assert window.document.selected[0].copy == 2
    hand.key(Qt.Key.Key_Return)
    assert [p.done for p in window.document.contents.plan.placements] == [False, True, False]


def test_with_no_mouse_an_outline_is_traced_by_the_arrow_keys(window, hand):
    window.session.trace_hide()
    QApplication.processEvents()
    window.table.setFocus()
    for key, times in (
        (Qt.Key.Key_Right, 0),
        (Qt.Key.Key_Right, 12),
        (Qt.Key.Key_Down, 12),
        (Qt.Key.Key_Left, 12),
    ):
        for _ in range(times):
            hand.key(key)
        if times == 0:
            hand.key(Qt.Key.Key_Left)
        hand.key(Qt.Key.Key_Space)
    hand.key(Qt.Key.Key_Return)
    assert window.document.hide is not None
    assert len(window.document.hide.outline) == 4


def test_layers_are_hidden_and_remembered(window):
    window.document.add_hide(spoiled_sheet())
    window.menus.actions["Show flaws"].setChecked(False)
    assert not window.table.item(("flaw", 0)).isVisible()
    assert Settings().hidden_layers == ["flaws"]
    window.menus.actions["Show flaws"].setChecked(True)
    assert window.table.item(("flaw", 0)).isVisible()
    assert set(LAYERS) == {
        "photo",
        "outline",
        "regions",
        "stretch",
        "offcuts",
        "strips",
        "pieces",
        "overcuts",
        "flaws",
        "names",
    }


def test_an_error_is_worded_with_its_mend_and_place(window):
    window.session.messages.report_error(
        InputError(
            "The file is no valid JSON.", file="/some/where/a.json", place="line 3", mend="Correct it."
        )
    )
    assert window.notice.words.text() == "The file is no valid JSON. Correct it.  (a.json, line 3)"
    assert window.notice.isVisible()


def test_dropped_files_are_opened(window, tmp_path):
    write_hide(tmp_path / "a.hide.json", sheet("a"))
    write_job(tmp_path / "j.job.json", pair_job())
    data = QMimeData()
    data.setUrls([QUrl.fromLocalFile(str(tmp_path / name)) for name in ("a.hide.json", "j.job.json")])
    event = QDropEvent(
        QPointF(50, 50),
        Qt.DropAction.CopyAction,
        data,
        Qt.MouseButton.LeftButton,
        Qt.KeyboardModifier.NoModifier,
    )
    window.dropEvent(event)
    assert [hide.name for hide in window.document.contents.hides] == ["a"]
    assert window.document.contents.job == pair_job()
    recent_job = window.settings.recent_jobs.jobs[0]
    assert recent_job.files == (str(tmp_path / "a.hide.json"), str(tmp_path / "j.job.json"))
    recent = window.menus.menus["Open again"]
    fill_recent_menu(recent, window.session.files, window.settings)
    assert recent.actions()[0].text() == f"small job  ({tmp_path.name})"


def test_a_broken_file_is_refused_in_words_and_the_work_stays(window, tmp_path):
    window.document.add_hide(sheet())
    (tmp_path / "b.hide.json").write_text('{"nestplan": 1, "kind": "hide", "name": 7}')
    window.session.files.open([tmp_path / "b.hide.json"])
    assert "b.hide.json" in window.notice.words.text()
    assert [hide.name for hide in window.document.contents.hides] == ["sheet"]


def test_the_demo_is_one_click_away_and_never_saved_over_itself(window, monkeypatch, tmp_path):
    window.centre.currentWidget().buttons["Open the demo"].click()
    QApplication.processEvents()
    assert len(window.document.contents.hides) == 6
    assert window.document.files == {}
    asked = []
    monkeypatch.setattr(
        "nestplan.desk.actions.files.QFileDialog.getExistingDirectory",
        lambda *_: asked.append(1) or str(tmp_path),
    )
    before = {path.name: path.read_bytes() for path in demo_folder().iterdir() if path.is_file()}
    assert window.session.files.save()
    assert asked
    assert len(list(tmp_path.glob("*.hide.json"))) == 6
    assert {path.name: path.read_bytes() for path in demo_folder().iterdir() if path.is_file()} == before


def test_unsaved_work_is_not_left_without_asking(window, monkeypatch):
    window.document.add_hide(sheet())
    monkeypatch.setattr(
        "nestplan.desk.actions.files.QMessageBox.question", lambda *_: QMessageBox.StandardButton.Cancel
    )
    assert not window.close()
    assert window.document.hide is not None


@pytest.mark.parametrize("look", ["dark", "light"])
def test_light_and_dark_change_while_the_work_lies_there(window, look):
    from nestplan.desk.theme import current_theme

    window.document.open(laid_work(3), {})
    window.go_to("plan")
    window.settings.theme = "light" if look == "dark" else "dark"
    window.settings.theme = look
    assert current_theme().name == look
    image = window.table.viewport().grab().toImage()
    corner = image.pixelColor(4, image.height() - 4)
    assert corner.name() == current_theme().table
    window.change_theme("light")


def test_the_guide_is_shown_with_its_pictures(window):
    window.show_guide()
    text = window._guide.text
    assert "From the hide to the table" in text.toPlainText()
    words = resource("guide", "guide.md").read_text(encoding="utf-8")
    names = [part.split(")")[0] for part in words.split("](")[1:]]
    assert len(names) >= 8
    for name in names:
        assert resource("guide", name).is_file(), name
    assert "never on stone or metal" in words
    window._guide.close()


def test_pieces_come_from_a_drawing_and_a_missing_unit_is_asked_for(window, tmp_path):
    from nestplan.desk.output.exporting import export

    window.document.open(Contents((sheet(),), job(panel("front"), panel("back"))), {})
    export("piece drawing", window.document.contents, None, tmp_path / "pieces.dxf", "mm")
    window.session.files.take_drawing(str(tmp_path / "pieces.dxf"), pieces=True)
    names = [piece.name for article in window.document.contents.job.articles for piece in article.pieces]
    assert len(names) == 4
    (tmp_path / "rings.csv").write_text("0,0\n100,0\n100,50\n")
    window.session.files.take_drawing(str(tmp_path / "rings.csv"), pieces=True)
    offers = [button.text() for button in window.notice.offers]
    assert offers == ["mm", "cm", "in"]
    window.notice.offers[1].click()
    last = window.document.piece
    assert float(last.ring[:, 0].max()) == pytest.approx(1000)


def test_a_rule_is_eased_as_offered_and_can_be_undone(window, qtbot):
    from nestplan.model.plan import Unplaced
    from nestplan.tasks.planning import empty_plan

    wanted, hide = pair_job(sets=1), sheet()
    missing = Unplaced(piece="panel", reason="stretch", why="Only its stretch keeps it out.", count=1)
    plan = msgspec.structs.replace(empty_plan(wanted, (hide,)), unplaced=(missing,))
    window.document.open(Contents((hide,), wanted, plan), {})
    window.go_to("plan")
    waiting = window.panels["plan"].waiting
    waiting.list.setCurrentRow(0)
    assert "Only its stretch" in waiting.why.text()
    offers = waiting.offers()
    assert offers[0].words == "Let panel lie up to 30° off the stretch"
    waiting.take(offers[0])
    assert window.document.contents.job.piece("panel").cuts[0].stretch.tolerance == 30
    window.document.stack.undo()
    assert window.document.contents.job == wanted
    assert isinstance(window.document.stack, QUndoStack)


def test_a_search_is_paused_resumed_kept_and_given_up(window, qtbot):
    window.document.open(Contents((sheet(width=1600, height=900),), pair_job(sets=30)), {})
    window.go_to("plan")
    panel = window.panels["plan"]
    panel.begin(seconds=120)
    assert window.session.plan_search.running
    panel.pause.click()
    assert window.session.plan_search.current.paused
    assert panel.pause.text() == "Go on"
    panel.pause.click()
    assert not window.session.plan_search.current.paused
    qtbot.waitUntil(lambda: bool(window.session.plan_search.current.draft), timeout=90_000)
    assert window.table.records_of(ShownPlacement), "what is found so far is shown"
    panel.keep.click()
    qtbot.waitUntil(lambda: not window.session.plan_search.running, timeout=90_000)
    QApplication.processEvents()
    kept = window.document.contents.plan
    assert kept is not None
    assert kept.placements
    panel.begin(seconds=120)
    panel.cancel.click()
    qtbot.waitUntil(lambda: not window.session.plan_search.running, timeout=90_000)
    QApplication.processEvents()
    assert window.document.contents.plan is kept


def test_every_entry_of_the_menus_has_words_and_no_two_share_a_key(window):
    keys = [
        action.shortcut().toString()
        for action in set(window.menus.actions.values())
        if not action.shortcut().isEmpty()
    ]
    assert len(keys) == len(set(keys))
    assert {"Ctrl+S", "Ctrl+O", "F1", "Ctrl+1", "Ctrl+5", "Ctrl+Return", "Ctrl+P"} <= set(keys)


def test_a_piece_is_moved_to_another_hide(window, qtbot):
    contents = laid_work(2)
    window.document.open(Contents((*contents.hides, sheet("other")), contents.job, contents.plan), {})
    window.go_to("plan")
    window.document.select(window.document.contents.plan.placements[:1])
    window.session.plan.move_to_hide("other")
    assert [p.hide for p in window.document.contents.plan.placements] == ["other", "sheet"]
    settle(qtbot, window)
    assert window.session.checker.latest.faults == ()
    assert key_of(window.document.contents.plan.placements[0])[3] == 1


def test_the_tape_measures_between_two_spots(window, hand):
    window.document.add_hide(sheet())
    window.table.fit()
    window.toggle_tape()
    hand.drag((100.0, 100.0), (300.0, 200.0), (400.0, 500.0))
    words = [shape.words for shape in window.table.tool.preview() if shape.kind == "words"]
    number = float(words[0].split(" mm")[0])
    assert number == pytest.approx(500, abs=3)
    hand.key(Qt.Key.Key_Escape)
    assert window.table.tool.preview() == ()


def test_a_photograph_becomes_a_hide_with_its_picture_under_it(window, qtbot, tmp_path):
    from tests.desk.photographs import sheet_beside_a_skin

    file, area = sheet_beside_a_skin(tmp_path / "skin.png")
    window.session.files.take_photo(str(file))
    dialog = next(w for w in QApplication.topLevelWidgets() if w.windowTitle() == "A hide from skin.png")
    dialog.find_button.click()
    qtbot.waitUntil(lambda: len(dialog.view.corners) == 4 or dialog.fault.isVisible(), timeout=60_000)
    assert len(dialog.view.corners) == 4, dialog.fault.text()
    qtbot.waitUntil(dialog.take_button.isEnabled, timeout=60_000)
    dialog.take_button.click()
    qtbot.waitUntil(lambda: dialog.review.traced is not None or dialog.fault.isVisible(), timeout=90_000)
    assert dialog.review.traced is not None, dialog.fault.text()
    assert window.document.hide is None
    qtbot.waitUntil(dialog.back_button.isEnabled, timeout=60_000)
    for tick in dialog.review.ticks:
        assert not dialog.use_button.isEnabled()
        tick.setChecked(True)
    dialog.use_button.click()
    qtbot.waitUntil(lambda: window.document.hide is not None or dialog.fault.isVisible(), timeout=90_000)
    assert window.document.hide is not None, dialog.fault.text()
    hide = window.document.hide
    # A coarse picture (1.6 mm a pixel), and an outline that rather errs inward; how exact it is, intake tests.
    assert 0.95 * area < hide.gross_area < 1.01 * area
    assert hide.origin.how == "photo"
    assert Path(window.document.contents.photo(hide.name).file).is_file()
    assert window.table.item("photo") is not None


def test_what_is_cut_is_booked_and_taken_back(window, tmp_path):
    window.document.open(laid_work(4, sheet(), step=(200, 150)), {})
    assert window.session.files.save_in(tmp_path, {})
    window.go_to("cut")
    answer = Answer("All is cut")
    window.panels["cut"].book.click()
    assert "0 of 4 pieces are ticked as cut. The other 4 will count as cut too." in answer.asked
    names = [hide.name for hide in window.document.contents.hides]
    assert "sheet" not in names
    assert names
    assert window.document.contents.plan is None
    offcut = window.document.contents.hides[0]
    assert offcut.origin.parent == "sheet"
    assert 0.7 * 600_000 < sum(hide.gross_area for hide in window.document.contents.hides) < 576_000
    window.notice.offers[0].click()
    assert [hide.name for hide in window.document.contents.hides] == ["sheet"]
    assert sorted(path.name for path in tmp_path.glob("*.hide.json")) == ["sheet.hide.json"]


def test_thickness_is_shown_in_ounces_where_inches_are_set_and_never_rounded(window):
    window.document.open(Contents((sheet(thickness=(1.984375, 2.38125)),), None), {})
    field = window.panels["hides"].thickness
    assert field.text() == "1.98-2.38 mm"
    window.settings.unit = "in"
    assert field.text() == "5-6 oz"
    window.document.open(Contents((sheet(name="other", thickness=(2.0, 2.4)),), None), {})
    # 2 mm are 5.04 oz: in tenths of an ounce the field would hold another thickness.
    assert field.text() in ("5-6 oz", "2-2.4 mm")
    assert window.document.hide.thickness == (2.0, 2.4)
