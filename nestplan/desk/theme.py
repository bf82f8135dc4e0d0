"""The window's theme: inks, pens and patterns on the table, dark and light, fonts and icons.

Colours are those of `nestplan.drawing.colors` (Okabe and Ito 2008), so that screen and paper say the same
thing the same way; every meaning also has its pattern, letter or words.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import lru_cache

from PySide6.QtCore import QByteArray, QSize, Qt
from PySide6.QtGui import QBrush, QColor, QIcon, QPainter, QPalette, QPen, QPixmap
from PySide6.QtWidgets import QAbstractButton, QApplication, QWidget

from nestplan.drawing import colors
from nestplan.model.flaw_kinds import FlawKind
from nestplan.resources import resource

__all__ = [
    "DARK",
    "LIGHT",
    "Theme",
    "apply_theme",
    "chip",
    "current_theme",
    "flaw_pattern",
    "icon",
    "pattern",
    "pen",
    "renew_icons",
    "set_icon",
    "style_sheet",
    "style_sheet_put_off",
]


@dataclass(frozen=True)
class Theme:
    """Colours of the window in one light. `tints` fill the pieces, one article after another."""

    name: str
    table: str
    panel: str
    raised: str
    ink: str
    soft: str
    line: str
    accent: str
    on_accent: str
    leather: str
    edge: str
    flaw: str
    region: str
    stretch: str
    offcut: str
    alarm: str
    good: str
    tints: tuple[str, ...]
    piece_ink: str
    tape: str


LIGHT = Theme(
    name="light", table="#dcd8d0", panel="#f7f5f1", raised="#ffffff", ink="#1d1b18", soft="#575149",
    line="#c4bdb1", accent=colors.BLUE, on_accent="#ffffff", leather="#f3e6cf", edge="#4a3a22",
    flaw="#a84a00", region="#6b5d45", stretch=colors.BLUE, offcut="#00745a", alarm="#b84900", good="#00745a",
    tints=("#a9d6f3", "#f5cf7d", "#9fdcc6", "#e8c3d7", "#f5ee9e", "#a8c8e0"), piece_ink="#14120f",
    tape="#ffffff",
)  # fmt: skip
DARK = Theme(
    name="dark", table="#1b1a18", panel="#272522", raised="#33302c", ink="#f3efe8", soft="#bdb5a9",
    line="#55504a", accent=colors.SKY, on_accent="#0d1a22", leather="#4b4033", edge="#d9c6a3",
    flaw="#ff9a5c", region="#c7b795", stretch=colors.SKY, offcut="#4fd0a8", alarm="#ff9a5c", good="#4fd0a8",
    tints=("#2b6a92", "#8a6612", "#1b6f57", "#80506a", "#7a7520", "#34597a"), piece_ink="#ffffff",
    tape="#33302c",
)  # fmt: skip

_ICON = "icon_name"
"""The property of a button that holds the name of its icon."""

_current = LIGHT


def current_theme() -> Theme:
    """The theme in use."""
    return _current


def pen(color: str, width: float = 1.0, style: Qt.PenStyle = Qt.PenStyle.SolidLine) -> QPen:
    """A pen of a width in screen pixels, whatever the zoom."""
    made = QPen(QColor(color), width, style)
    made.setCosmetic(True)
    made.setJoinStyle(Qt.PenJoinStyle.RoundJoin)
    return made


def pattern(color: str, style: Qt.BrushStyle) -> QBrush:
    """A pattern in one colour."""
    return QBrush(QColor(color), style)


def flaw_pattern(kind: FlawKind) -> Qt.BrushStyle:
    """The pattern of a kind of flaw on the screen, as near as Qt has it to the hatching on the sheets."""
    if kind.hatch.style == "cross":
        return Qt.BrushStyle.DiagCrossPattern
    if kind.hatch.style == "dots":
        return Qt.BrushStyle.Dense6Pattern
    return Qt.BrushStyle.BDiagPattern if kind.hatch.angle % 180.0 < 90.0 else Qt.BrushStyle.FDiagPattern


def apply_theme(application: QApplication, asked: str) -> Theme:
    """Dress the application in `light`, `dark` or, for `system`, what the desktop asks for; gives the theme."""
    global _current
    if asked == "system":
        dark = application.styleHints().colorScheme() == Qt.ColorScheme.Dark
        asked = "dark" if dark else "light"
    theme = DARK if asked == "dark" else LIGHT
    _current = theme
    icon.cache_clear()
    roles = QPalette.ColorRole
    colors = QPalette()
    for role, color in (
        (roles.Window, theme.panel),
        (roles.WindowText, theme.ink),
        (roles.Base, theme.raised),
        (roles.AlternateBase, theme.panel),
        (roles.Text, theme.ink),
        (roles.Button, theme.raised),
        (roles.ButtonText, theme.ink),
        (roles.ToolTipBase, theme.raised),
        (roles.ToolTipText, theme.ink),
        (roles.PlaceholderText, theme.soft),
        (roles.Highlight, theme.accent),
        (roles.HighlightedText, theme.on_accent),
        (roles.Link, theme.accent),
        (roles.Mid, theme.line),
        (roles.Light, theme.raised),
        (roles.Dark, theme.line),
    ):
        colors.setColor(role, QColor(color))
    for role in (roles.WindowText, roles.Text, roles.ButtonText):
        colors.setColor(QPalette.ColorGroup.Disabled, role, QColor(theme.soft))
    application.setStyle("Fusion")
    application.setPalette(colors)
    application.setStyleSheet(style_sheet(theme))
    return theme


@contextmanager
def style_sheet_put_off() -> Iterator[None]:
    """While a whole window is built it is not styled: each part that is put into another would be styled anew with all
    that is in it, so that four times as long is spent on it as on all of it at the end."""
    application = QApplication.instance()
    if not isinstance(application, QApplication):
        yield
        return
    sheet = application.styleSheet()
    application.setStyleSheet("")
    try:
        yield
    finally:
        application.setStyleSheet(sheet)


def style_sheet(theme: Theme) -> str:
    """What Qt's own style leaves to be said about our widgets."""
    return f"""
    QToolTip {{ color: {theme.ink}; background: {theme.raised}; border: 1px solid {theme.line}; padding: 4px; }}
    QMainWindow::separator {{ width: 0; height: 0; }}
    #rack, #side {{ background: {theme.panel}; border: 0; }}
    #side {{ border-left: 1px solid {theme.line}; }}
    #rack {{ border-right: 1px solid {theme.line}; }}
    #steps {{ background: {theme.raised}; border-top: 1px solid {theme.line}; }}
    QLabel[role="title"] {{ font-size: 24px; font-weight: 600; color: {theme.ink}; }}
    QLabel[role="card"] {{ font-weight: 600; color: {theme.ink}; }}
    QPushButton[card="plain"], QPushButton[card="main"] {{ border-radius: 8px; padding: 0; text-align: left; }}
    QPushButton[card="main"] {{ border: 2px solid {theme.accent}; }}
    QPushButton[card="plain"]:focus, QPushButton[card="main"]:focus {{ border: 3px solid {theme.accent}; padding: 0; }}
    QLabel[role="heading"] {{ font-size: 15px; font-weight: 600; color: {theme.ink}; }}
    QLabel[role="section"] {{ font-weight: 600; color: {theme.ink}; padding-top: 8px; }}
    QLabel[role="soft"] {{ color: {theme.soft}; }}
    QLabel[role="number"] {{ font-size: 17px; font-weight: 600; color: {theme.ink}; }}
    QToolButton[details="true"] {{ border: 0; background: transparent; color: {theme.soft}; text-align: left;
        padding: 2px 0; }}
    QToolButton[details="alarm"] {{ border: 0; background: transparent; color: {theme.alarm}; font-weight: 600;
        text-align: left; padding: 2px 0; }}
    QToolButton[details="true"]:hover {{ color: {theme.ink}; }}
    QToolButton[details="true"]:focus {{ border: 2px solid {theme.accent}; border-radius: 4px; padding: 0; }}
    QListWidget::item, QTreeWidget::item {{ min-height: 26px; }}
    QLabel[role="figure"] {{ font-size: 14px; color: {theme.ink}; }}
    QLabel[role="alarm"] {{ color: {theme.alarm}; font-weight: 600; }}
    QLabel[role="good"] {{ color: {theme.good}; font-weight: 600; }}
    #notice {{ background: {theme.raised}; border: 1px solid {theme.line}; border-left: 5px solid {theme.accent}; }}
    #notice[tone="alarm"] {{ border-left: 5px solid {theme.alarm}; }}
    #legend {{ background: {theme.raised}; border: 1px solid {theme.line}; border-radius: 6px; }}
    #legend QLabel {{ font-size: 11px; }}
    #hint {{ color: {theme.soft}; font-size: 12px; padding: 0 6px; }}
    QGraphicsView {{ border: 0; background: {theme.table}; }}
    QScrollArea {{ border: 0; background: {theme.panel}; }}
    #column {{ background: {theme.panel}; }}
    QListWidget, QTreeWidget {{ border: 1px solid {theme.line}; border-radius: 4px; background: {theme.raised}; }}
    #rack QListWidget {{ border: 0; background: transparent; }}
    #rack QListWidget::item {{ border: 2px solid transparent; border-radius: 6px; color: {theme.ink}; }}
    #rack QListWidget::item:selected {{ border: 2px solid {theme.accent}; background: {theme.raised}; }}
    #rack QListWidget::item:hover {{ background: {theme.raised}; }}
    QPushButton, QToolButton {{ background: {theme.raised}; color: {theme.ink}; border: 1px solid {theme.line};
        border-radius: 4px; padding: 4px 8px; }}
    QPushButton:hover, QToolButton:hover {{ border-color: {theme.accent}; }}
    QPushButton:pressed, QToolButton:pressed {{ background: {theme.line}; }}
    QPushButton:focus, QToolButton:focus {{ border: 2px solid {theme.accent}; padding: 3px 7px; }}
    QPushButton:checked {{ border-color: {theme.accent}; border-bottom: 3px solid {theme.accent}; font-weight: 600; }}
    QToolButton[tool="true"] {{ padding: 4px 1px; }}
    QToolButton[tool="true"]:focus {{ padding: 3px 0; }}
    QToolButton:checked {{ background: {theme.accent}; color: {theme.on_accent}; border-color: {theme.accent}; }}
    QToolButton[switch="true"]:checked {{ background: {theme.panel}; color: {theme.ink};
        border: 2px solid {theme.accent}; padding: 3px 7px; }}
    QPushButton:disabled, QToolButton:disabled {{ color: {theme.soft}; background: {theme.panel}; }}
    QToolButton::menu-indicator, QPushButton::menu-indicator {{ width: 8px; subcontrol-position: right center; }}
    QLineEdit {{ background: {theme.raised}; border: 1px solid {theme.line}; border-radius: 3px; padding: 3px 5px; }}
    QLineEdit:focus {{ border: 2px solid {theme.accent}; padding: 2px 4px; }}
    QLineEdit:disabled {{ background: {theme.panel}; color: {theme.soft}; }}
    QCheckBox::indicator, QListView::indicator {{ width: 13px; height: 13px; border: 1px solid {theme.soft};
        border-radius: 3px; background: {theme.raised}; }}
    QCheckBox::indicator:checked, QListView::indicator:checked {{ background: {theme.accent};
        border-color: {theme.accent}; image: url({_check(theme)}); }}
    QCheckBox::indicator:disabled {{ border-color: {theme.line}; }}
    QCheckBox {{ min-height: 24px; }}
    QCheckBox:focus {{ color: {theme.accent}; }}
    #card {{ background: {theme.raised}; border: 1px solid {theme.line}; border-radius: 6px; padding: 2px; }}
    #card[selected="true"] {{ border: 3px solid {theme.accent}; padding: 0; }}
    #card:focus {{ border: 3px solid {theme.ink}; padding: 0; }}
    QProgressBar {{ background: {theme.line}; border: 0; border-radius: 4px; }}
    QProgressBar::chunk {{ background: {theme.accent}; border-radius: 4px; }}
    QScrollBar:vertical {{ background: transparent; width: 11px; margin: 0; }}
    QScrollBar::handle:vertical {{ background: {theme.line}; border-radius: 4px; min-height: 30px; margin: 2px; }}
    QScrollBar::handle:vertical:hover {{ background: {theme.soft}; }}
    QScrollBar::add-line, QScrollBar::sub-line, QScrollBar::add-page, QScrollBar::sub-page {{
        height: 0; background: transparent; }}
    QLineEdit[wrong="true"] {{ border: 2px solid {theme.alarm}; }}
    QPushButton[main="true"] {{ background: {theme.accent}; color: {theme.on_accent}; font-weight: 600;
        padding: 6px 14px; border: 1px solid {theme.accent}; border-radius: 4px; }}
    QPushButton[main="true"]:disabled {{ background: {theme.line}; color: {theme.soft}; border-color: {theme.line}; }}
    QPushButton[main="true"]:focus {{ border: 2px solid {theme.ink}; }}
    QToolButton[step="true"] {{ border: 0; border-radius: 0; border-top: 4px solid transparent;
        padding: 6px 10px; text-align: left; color: {theme.ink}; background: transparent; }}
    QToolButton[step="true"]:hover {{ background: {theme.panel}; }}
    QToolButton[step="true"]:checked {{ color: {theme.ink}; border: 0;
        border-top: 4px solid {theme.accent}; background: {theme.panel}; }}
    QToolButton[step="true"]:focus {{ border: 2px solid {theme.accent}; border-top: 4px solid {theme.accent};
        padding: 6px 8px 4px 8px; }}
    """


def _check(theme: Theme) -> str:
    """The file of the tick in a box."""
    return resource("icons", f"check_{theme.name}.svg").as_posix()


@lru_cache(maxsize=128)
def icon(name: str, *, filled: bool = True) -> QIcon:
    """Our icon of that name (resources/icons/NAME.svg) in the ink of the theme; empty where there is none.

    On a button that is down it has the ink of what is `filled` with the accent, unless that is not.
    """
    from PySide6.QtSvg import QSvgRenderer

    path = resource("icons", f"{name}.svg")
    if not path.is_file():
        return QIcon()
    made = QIcon()
    inks = (
        (QIcon.Mode.Normal, QIcon.State.Off, _current.ink),
        (QIcon.Mode.Normal, QIcon.State.On, _current.on_accent if filled else _current.ink),
        (QIcon.Mode.Disabled, QIcon.State.Off, _current.line),
    )
    for mode, state, color in inks:
        drawing = path.read_text(encoding="utf-8").replace("currentColor", color)
        renderer = QSvgRenderer(QByteArray(drawing.encode()))
        for size in (20, 40):
            pixmap = QPixmap(QSize(size, size))
            pixmap.fill(Qt.GlobalColor.transparent)
            painter = QPainter(pixmap)
            renderer.render(painter)
            painter.end()
            made.addPixmap(pixmap, mode, state)
    return made


def chip(color: str, style: Qt.BrushStyle = Qt.BrushStyle.SolidPattern, letter: str = "") -> QIcon:
    """A small field of a colour or a pattern, for a row of a list; with a letter on it where it has one."""
    picture = QPixmap(QSize(32, 32))
    picture.setDevicePixelRatio(2.0)
    picture.fill(Qt.GlobalColor.transparent)
    painter = QPainter(picture)
    painter.setPen(QColor(_current.ink))
    painter.setBrush(QBrush(QColor(color), style))
    painter.drawRect(1, 1, 13, 13)
    if letter:
        painter.fillRect(4, 3, 8, 10, QColor(_current.raised))
        painter.setPen(QColor(color))
        font = painter.font()
        font.setPixelSize(11)
        font.setBold(True)
        painter.setFont(font)
        painter.drawText(1, 1, 14, 14, Qt.AlignmentFlag.AlignCenter, letter)
    painter.end()
    made = QIcon(picture)
    made.addPixmap(picture, QIcon.Mode.Selected)
    return made


def set_icon(button: QAbstractButton, name: str) -> None:
    """Give a button one of our icons, which is drawn anew when the theme changes."""
    button.setIcon(icon(name, filled=button.property("switch") is None))
    button.setProperty(_ICON, name)


def renew_icons(window: QWidget) -> None:
    """Draw the icons of all buttons in a window anew, in the ink of the theme."""
    for button in window.findChildren(QAbstractButton):
        name = button.property(_ICON)
        if name:
            set_icon(button, name)
