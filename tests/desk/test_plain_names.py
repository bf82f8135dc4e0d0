"""Names from files are shown as they are written, in every label, tip and message of the window."""

from __future__ import annotations

import ast
from pathlib import Path

import msgspec
import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication, QLabel, QListWidget, QMessageBox, QTreeWidget, QWidget

import nestplan.desk
from nestplan.desk.plain_text import plain_tip
from nestplan.model.hide import Disc, Flaw, Region
from nestplan.tasks.contents import Contents
from tests.desk.conftest import settle
from tests.desk.small_work import laid_work, sheet

pytestmark = pytest.mark.security

MARKUP = "<b>oak</b><br><img src='x'>"
DESK = Path(nestplan.desk.__file__).parent


def is_markup(words: str) -> bool:
    """Whether a name's markup stands in words of a tip as it is, where Qt would obey it."""
    return "<b>" in words or "<img" in words


def work_with_markup() -> Contents:
    hide = sheet(
        MARKUP,
        note=MARKUP, lot=MARKUP,
        flaws=(Flaw(spoils="through", name=MARKUP, disc=Disc(at=(500, 300), diameter=80), margin=5),),
        regions=(Region(name=MARKUP, outline=((800, 0), (1000, 0), (1000, 600), (800, 600)), firmness=1),),
    )  # fmt: skip
    contents = laid_work(2, hide, step=(200, 150))
    assert contents.job is not None
    assert contents.plan is not None
    article = contents.job.articles[0]
    pieces = tuple(msgspec.structs.replace(piece, name=MARKUP) for piece in article.pieces)
    job = msgspec.structs.replace(
        contents.job, name=MARKUP, articles=(msgspec.structs.replace(article, name=MARKUP, pieces=pieces),)
    )
    # One piece lies on a flaw, so that faults name it.
    placements = tuple(
        msgspec.structs.replace(placement, piece=MARKUP, x=placement.x + (420 if number else 0))
        for number, placement in enumerate(contents.plan.placements)
    )
    plan = msgspec.structs.replace(contents.plan, placements=placements)
    return Contents(contents.hides, job, plan)


def tips_in(widget: QWidget) -> list[str]:
    tips = [child.toolTip() for child in (widget, *widget.findChildren(QWidget))]
    tips += [
        action.toolTip() for child in (widget, *widget.findChildren(QWidget)) for action in child.actions()
    ]
    for view in widget.findChildren(QListWidget):
        tips += [view.item(row).toolTip() for row in range(view.count())]
    for tree in widget.findChildren(QTreeWidget):
        waiting = [tree.topLevelItem(row) for row in range(tree.topLevelItemCount())]
        while waiting:
            item = waiting.pop()
            tips.append(item.toolTip(0))
            waiting += [item.child(row) for row in range(item.childCount())]
    return tips


@pytest.mark.parametrize("step", ["hides", "pieces", "choose", "plan", "cut"])
def test_no_label_or_tip_of_a_step_takes_a_name_for_markup(window, qtbot, step):
    window.document.open(work_with_markup(), {})
    window.go_to(step)
    settle(qtbot, window)
    window.document.select(window.document.contents.plan.placements[:1])
    window.session.messages.notify(f"Saved in {MARKUP}.")
    QApplication.processEvents()
    rich = [
        label.text()
        for label in window.findChildren(QLabel)
        if label.textFormat() != Qt.TextFormat.PlainText and label.text() not in ("", "mm")
    ]
    assert rich == []
    scene_tips = [item.toolTip() for item in window.table.scene().items()]
    assert [tip for tip in (*tips_in(window), *scene_tips) if is_markup(tip)] == []
    if step == "hides":
        assert any("&lt;b&gt;" in tip for tip in scene_tips), (
            "the flaw's name is in its tip, as it is written"
        )


def test_a_tip_shows_what_looks_like_markup_as_it_is_written():
    assert plain_tip("a & b, 20 > 10") == "a & b, 20 > 10"
    assert plain_tip(MARKUP) == "<qt>&lt;b&gt;oak&lt;/b&gt;&lt;br&gt;&lt;img src=&#x27;x&#x27;&gt;</qt>"
    assert plain_tip("one\n<b>two</b>") == "<qt>one<br>&lt;b&gt;two&lt;/b&gt;</qt>"


def test_questions_show_names_as_they_are_written(window, tmp_path, monkeypatch):
    asked = []
    monkeypatch.setattr(QMessageBox, "exec", lambda box: asked.append((box.text(), box.textFormat())) or 0)
    window.document.open(laid_work(4, sheet(), step=(200, 150)), {})
    assert window.session.files.save_in(tmp_path, {})
    window.go_to("cut")
    window.panels["cut"].book.click()
    assert asked
    assert all(form == Qt.TextFormat.PlainText for _, form in asked)


@pytest.mark.parametrize("path", sorted(DESK.rglob("*.py")), ids=lambda path: path.name)
def test_the_window_makes_only_plain_labels_and_plain_tips_of_words_it_is_given(path):
    """Written words may stand as they are; all else goes through `plain_label` and `plain_tip`."""
    if path.name == "plain_text.py":
        return
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if not isinstance(node, ast.Call):
            continue
        if isinstance(node.func, ast.Name) and node.func.id == "QLabel":
            assert len(node.args) == 1, f"{path}:{node.lineno}"
            assert isinstance(node.args[0], ast.Constant), f"{path}:{node.lineno}"
        if isinstance(node.func, ast.Attribute) and node.func.attr == "setToolTip":
            words = node.args[-1]
            wrapped = isinstance(words, ast.Call) and ast.unparse(words.func) in (
                "plain_tip",
                "widget.toolTip",
            )
            assert wrapped or isinstance(words, ast.Constant), f"{path}:{node.lineno}"
