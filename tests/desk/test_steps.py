"""The list of steps: what is registered from outside stands in the window, and is gone again with its entry."""

from __future__ import annotations

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QLabel

from nestplan.desk.editing.step_editor import StepEditor
from nestplan.desk.steps import Step, register_step, registered_steps, unregister_step
from tests.desk.small_work import sheet


class DyeEditor(StepEditor):
    """A toy: a step in which the hide is only looked at."""

    def __init__(self, document, table):
        super().__init__(document, table)
        document.hide_shown.connect(lambda _: self.refresh())

    def records(self):
        if self.document.hide is not None:
            yield "hide", self.document.hide


class DyePanel(QLabel):
    def __init__(self, document):
        super().__init__("Dye what is cut.")
        self.document = document


def dye_step():
    return Step(
        name="dye",
        word="Dye",
        tip="Dye the pieces that are cut",
        keys="Ctrl+6",
        icon="mark",
        editor=lambda session: DyeEditor(session.document, session.table),
        panel=lambda session: DyePanel(session.document),
        progress=lambda session: f"{len(session.document.contents.hides)} to dye",
        start_page=lambda session: QLabel("Nothing to dye yet"),
        is_empty=lambda contents: not contents.hides,
        menu=(
            "D&ye",
            lambda builder, menu, s: builder.add(menu, "&Dip it", lambda: s.navigation.go_to("dye")),
        ),
        guide="## Dyeing\n\nAir the room.",
    )


@pytest.fixture
def dye():
    register_step(dye_step())
    yield
    unregister_step("dye")


def test_a_step_registered_from_outside_stands_in_the_window(dye, window_factory, tmp_path):
    window = window_factory(tmp_path / "recovery")
    QTest.mouseClick(window.strip.buttons["dye"], Qt.MouseButton.LeftButton)
    assert window.navigation.step == "dye"
    assert isinstance(window.side.currentWidget(), DyePanel)
    assert window.centre.currentWidget().text() == "Nothing to dye yet"
    window.document.add_hide(sheet())
    QApplication.processEvents()
    assert window.centre.currentWidget() is window.ruled
    assert window.table.item("hide") is not None
    assert window.strip.buttons["dye"].text() == "6  Dye\n1 to dye"
    assert "Ctrl+6" in window.strip.buttons["dye"].toolTip()
    window.go_to("hides")
    window.menus.actions["Step 6: Dye"].trigger()
    assert window.navigation.step == "dye"
    window.go_to("hides")
    window.menus.actions["Dip it"].trigger()
    assert window.navigation.step == "dye"
    assert not window.menus.actions["Step 6: Dye"].icon().isNull()
    window.show_guide()
    assert "Air the room." in window._guide.text.toPlainText()
    window._guide.close()


def test_a_step_that_is_taken_away_is_in_no_window_made_later(window_factory, tmp_path):
    register_step(dye_step())
    unregister_step("dye")
    window = window_factory(tmp_path / "recovery")
    assert "dye" not in window.strip.buttons
    assert "Step 6: Dye" not in window.menus.actions
    assert [step.name for step in registered_steps()] == ["hides", "pieces", "choose", "plan", "cut"]


def test_no_two_steps_share_a_name():
    with pytest.raises(ValueError, match="a step called 'plan'"):
        register_step(registered_steps()[3])
