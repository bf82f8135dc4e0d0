"""The question before a file is written over that someone else changed: keep both, take theirs, or neither."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QMessageBox, QWidget

from nestplan.desk.controls.open_dialog import ask_dialog
from nestplan.tasks.save_conflicts import SaveConflict, difference_words

__all__ = ["ask_about_conflicts"]

Answer = Literal["both", "theirs", "cancel"]
"""What is to become of ours and theirs."""


def ask_about_conflicts(conflicts: Sequence[SaveConflict], parent: QWidget) -> Answer:
    """Show how ours and theirs differ, and ask what is to become of them."""
    box = QMessageBox(parent)
    box.setIcon(QMessageBox.Icon.Warning)
    box.setWindowTitle("Changed meanwhile")
    box.setTextFormat(Qt.TextFormat.PlainText)
    box.setText(
        "Another window or program changed this since it was opened here:\n\n"
        + "\n".join(
            f"{conflict.file.name}\n" + "\n".join(f"   {line}" for line in difference_words(conflict))
            for conflict in conflicts
        )
    )
    box.setInformativeText(
        "Keep both: yours is saved beside it under a new name. Take theirs: yours is left, and Undo brings it back."
    )
    both = box.addButton("Keep both", QMessageBox.ButtonRole.AcceptRole)
    theirs = box.addButton("Take theirs", QMessageBox.ButtonRole.DestructiveRole)
    theirs.setEnabled(all(conflict.theirs is not None for conflict in conflicts))
    box.addButton(QMessageBox.StandardButton.Cancel)
    box.setDefaultButton(both)
    ask_dialog(box)
    if box.clickedButton() is both:
        return "both"
    return "theirs" if box.clickedButton() is theirs else "cancel"
