"""Menus put together: entries with their keys and icons, kept by their words so that they can be found again."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TypeVar

from PySide6.QtGui import QAction, QActionGroup, QKeySequence
from PySide6.QtWidgets import QMenu, QMenuBar

from nestplan.desk.theme import icon as icon_of

__all__ = ["MenuBuilder"]

Key = TypeVar("Key")
"""What stands for one of several choices."""


class MenuBuilder:
    """Fills a menu bar; `actions` are by their words, `menus` by their titles, both without their `&`."""

    def __init__(self, bar: QMenuBar) -> None:
        self._bar = bar
        self.actions: dict[str, QAction] = {}
        self.menus: dict[str, QMenu] = {}
        self._icons: dict[QAction, str] = {}

    def menu(self, title: str) -> QMenu:
        """The menu of that title, the last one of the bar where it is new."""
        name = title.replace("&", "")
        if name not in self.menus:
            self.menus[name] = self._bar.addMenu(title)
        return self.menus[name]

    def add(
        self,
        menu: QMenu,
        words: str,
        action: Callable[[], object],
        *,
        keys: str = "",
        icon: str = "",
    ) -> QAction:
        """An entry that does `action`."""
        made = menu.addAction(words)
        made.triggered.connect(lambda _=False: action())
        if keys:
            made.setShortcut(QKeySequence(keys))
        self.keep(words.replace("&", ""), made, icon)
        return made

    def add_choice(
        self, menu: QMenu, words: Mapping[Key, str], chosen: Key, choose: Callable[[Key], object]
    ) -> None:
        """One entry for each key, of which one at a time is chosen."""
        group = QActionGroup(menu)
        for key, text in words.items():
            made = menu.addAction(text)
            made.setCheckable(True)
            made.setChecked(key == chosen)
            made.triggered.connect(lambda _=False, key=key: choose(key))
            group.addAction(made)
            self.keep(text, made)

    def add_switch(
        self, menu: QMenu, name: str, words: str, on: bool, switch: Callable[[bool], object]
    ) -> None:
        """An entry that is on or off, kept under `name`."""
        made = menu.addAction(words)
        made.setCheckable(True)
        made.setChecked(on)
        made.toggled.connect(lambda on: switch(on))
        self.keep(name, made)

    def keep(self, name: str, action: QAction, icon: str = "") -> None:
        """Keep an action under a name, with its icon."""
        if icon:
            action.setIcon(icon_of(icon))
            self._icons[action] = icon
        self.actions[name] = action

    def renew_icons(self) -> None:
        """Draw the icons anew, in the ink of the theme."""
        for action, icon in self._icons.items():
            action.setIcon(icon_of(icon))
