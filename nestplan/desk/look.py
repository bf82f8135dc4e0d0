"""How the window looks: inks, pens and patterns on the table, dark and light, fonts and icons.

Colours are those of `nestplan.sheets.hide_styles` (Okabe and Ito 2008), so that screen and paper say the same
thing the same way; every meaning also has its pattern, letter or words. Not here: what is drawn (items).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from PySide6.QtCore import QByteArray, QSize, Qt
from PySide6.QtGui import QBrush, QColor, QIcon, QPainter, QPalette, QPen, QPixmap
from PySide6.QtWidgets import QApplication

from nestplan.model.hide import Spoils
from nestplan.resources import resource
from nestplan.sheets import hide_styles as inks

__all__ = ["DARK", "LIGHT", "PATTERNS", "Look", "apply_look", "current", "icon", "pen", "style_sheet"]


@dataclass(frozen=True)
class Look:
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


LIGHT = Look(
    name="light", table="#dcd8d0", panel="#f7f5f1", raised="#ffffff", ink="#1d1b18", soft="#575149",
    line="#c4bdb1", accent=inks.BLUE, on_accent="#ffffff", leather="#f3e6cf", edge="#4a3a22",
    flaw="#a84a00", region="#6b5d45", stretch=inks.BLUE, offcut="#00745a", alarm="#c24e00", good="#00745a",
    tints=("#a9d6f3", "#f5cf7d", "#9fdcc6", "#e8c3d7", "#f5ee9e", "#a8c8e0"), piece_ink="#14120f",
    tape="#ffffff",
)  # fmt: skip
DARK = Look(
    name="dark", table="#1b1a18", panel="#272522", raised="#33302c", ink="#f3efe8", soft="#bdb5a9",
    line="#55504a", accent=inks.SKY, on_accent="#0d1a22", leather="#4b4033", edge="#d9c6a3",
    flaw="#ff9a5c", region="#c7b795", stretch=inks.SKY, offcut="#4fd0a8", alarm="#ff9a5c", good="#4fd0a8",
    tints=("#2b6a92", "#8a6612", "#1b6f57", "#80506a", "#7a7520", "#34597a"), piece_ink="#ffffff",
    tape="#33302c",
)  # fmt: skip

#: Cross hatching for through, lines leaning right for grain, left for flesh, dots for a mark: as on the sheets.
PATTERNS: dict[Spoils, Qt.BrushStyle] = {
    "through": Qt.BrushStyle.DiagCrossPattern,
    "grain": Qt.BrushStyle.BDiagPattern,
    "flesh": Qt.BrushStyle.FDiagPattern,
    "mark": Qt.BrushStyle.Dense6Pattern,
}

_current = LIGHT


def current() -> Look:
    """The look in use."""
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


def apply_look(application: QApplication, wish: str) -> Look:
    """Dress the application in `light`, `dark` or, for `system`, what the desktop asks for; gives the look."""
    global _current
    if wish == "system":
        dark = application.styleHints().colorScheme() == Qt.ColorScheme.Dark
        wish = "dark" if dark else "light"
    look = DARK if wish == "dark" else LIGHT
    _current = look
    icon.cache_clear()
    roles = QPalette.ColorRole
    colors = QPalette()
    for role, color in (
        (roles.Window, look.panel),
        (roles.WindowText, look.ink),
        (roles.Base, look.raised),
        (roles.AlternateBase, look.panel),
        (roles.Text, look.ink),
        (roles.Button, look.raised),
        (roles.ButtonText, look.ink),
        (roles.ToolTipBase, look.raised),
        (roles.ToolTipText, look.ink),
        (roles.PlaceholderText, look.soft),
        (roles.Highlight, look.accent),
        (roles.HighlightedText, look.on_accent),
        (roles.Link, look.accent),
        (roles.Mid, look.line),
        (roles.Light, look.raised),
        (roles.Dark, look.line),
    ):
        colors.setColor(role, QColor(color))
    for role in (roles.WindowText, roles.Text, roles.ButtonText):
        colors.setColor(QPalette.ColorGroup.Disabled, role, QColor(look.soft))
    application.setStyle("Fusion")
    application.setPalette(colors)
    application.setStyleSheet(style_sheet(look))
    return look


def style_sheet(look: Look) -> str:
    """What Qt's own style leaves to be said about our widgets."""
    return f"""
    QToolTip {{ color: {look.ink}; background: {look.raised}; border: 1px solid {look.line}; padding: 4px; }}
    QMainWindow::separator {{ width: 0; height: 0; }}
    #rack, #side {{ background: {look.panel}; border: 0; }}
    #side {{ border-left: 1px solid {look.line}; }}
    #rack {{ border-right: 1px solid {look.line}; }}
    #steps {{ background: {look.raised}; border-top: 1px solid {look.line}; }}
    QLabel[role="heading"] {{ font-size: 15px; font-weight: 600; color: {look.ink}; }}
    QLabel[role="section"] {{ font-weight: 600; color: {look.ink}; padding-top: 8px; }}
    QLabel[role="soft"] {{ color: {look.soft}; }}
    QLabel[role="figure"] {{ font-size: 14px; color: {look.ink}; }}
    QLabel[role="alarm"] {{ color: {look.alarm}; font-weight: 600; }}
    QLabel[role="good"] {{ color: {look.good}; font-weight: 600; }}
    #notice {{ background: {look.raised}; border: 1px solid {look.line}; border-left: 5px solid {look.accent}; }}
    #notice[tone="alarm"] {{ border-left: 5px solid {look.alarm}; }}
    #hint {{ color: {look.soft}; font-size: 12px; padding: 0 6px; }}
    QGraphicsView {{ border: 0; background: {look.table}; }}
    QScrollArea {{ border: 0; background: {look.panel}; }}
    #column {{ background: {look.panel}; }}
    QListWidget, QTreeWidget {{ border: 1px solid {look.line}; border-radius: 4px; background: {look.raised}; }}
    #rack QListWidget {{ border: 0; background: transparent; }}
    #rack QListWidget::item {{ border: 2px solid transparent; border-radius: 6px; color: {look.ink}; }}
    #rack QListWidget::item:selected {{ border: 2px solid {look.accent}; background: {look.raised}; }}
    #rack QListWidget::item:hover {{ background: {look.raised}; }}
    QPushButton, QToolButton {{ background: {look.raised}; color: {look.ink}; border: 1px solid {look.line};
        border-radius: 4px; padding: 4px 8px; }}
    QPushButton:hover, QToolButton:hover {{ border-color: {look.accent}; }}
    QPushButton:pressed, QToolButton:pressed {{ background: {look.line}; }}
    QPushButton:focus, QToolButton:focus {{ border: 2px solid {look.accent}; padding: 3px 7px; }}
    QPushButton:checked {{ border-color: {look.accent}; border-bottom: 3px solid {look.accent}; font-weight: 600; }}
    QPushButton:disabled, QToolButton:disabled {{ color: {look.soft}; background: {look.panel}; }}
    QToolButton::menu-indicator, QPushButton::menu-indicator {{ width: 8px; subcontrol-position: right center; }}
    QLineEdit {{ background: {look.raised}; border: 1px solid {look.line}; border-radius: 3px; padding: 3px 5px; }}
    QLineEdit:focus {{ border: 2px solid {look.accent}; padding: 2px 4px; }}
    QLineEdit:disabled {{ background: {look.panel}; color: {look.soft}; }}
    QCheckBox::indicator, QListView::indicator {{ width: 13px; height: 13px; border: 1px solid {look.soft};
        border-radius: 3px; background: {look.raised}; }}
    QCheckBox::indicator:checked, QListView::indicator:checked {{ background: {look.accent};
        border-color: {look.accent}; image: url({_check(look)}); }}
    QCheckBox::indicator:disabled {{ border-color: {look.line}; }}
    QCheckBox:focus {{ color: {look.accent}; }}
    #card {{ background: {look.raised}; border: 1px solid {look.line}; border-radius: 6px; padding: 2px; }}
    #card[picked="true"] {{ border: 3px solid {look.accent}; padding: 0; }}
    #card:focus {{ border: 3px solid {look.ink}; padding: 0; }}
    QProgressBar {{ background: {look.line}; border: 0; border-radius: 4px; }}
    QProgressBar::chunk {{ background: {look.accent}; border-radius: 4px; }}
    QScrollBar:vertical {{ background: transparent; width: 11px; margin: 0; }}
    QScrollBar::handle:vertical {{ background: {look.line}; border-radius: 4px; min-height: 30px; margin: 2px; }}
    QScrollBar::handle:vertical:hover {{ background: {look.soft}; }}
    QScrollBar::add-line, QScrollBar::sub-line, QScrollBar::add-page, QScrollBar::sub-page {{
        height: 0; background: transparent; }}
    QLineEdit[wrong="true"] {{ border: 2px solid {look.alarm}; }}
    QPushButton[main="true"] {{ background: {look.accent}; color: {look.on_accent}; font-weight: 600;
        padding: 6px 14px; border: 1px solid {look.accent}; border-radius: 4px; }}
    QPushButton[main="true"]:disabled {{ background: {look.line}; color: {look.soft}; border-color: {look.line}; }}
    QPushButton[main="true"]:focus {{ border: 2px solid {look.ink}; }}
    QToolButton[step="true"] {{ border: 0; border-radius: 0; border-top: 4px solid transparent;
        padding: 6px 10px; text-align: left; color: {look.ink}; background: transparent; }}
    QToolButton[step="true"]:hover {{ background: {look.panel}; }}
    QToolButton[step="true"]:checked {{ border-top: 4px solid {look.accent}; background: {look.panel}; }}
    QToolButton[step="true"]:focus {{ border: 0; border-top: 4px solid {look.ink}; padding: 6px 10px; }}
    """


def _check(look: Look) -> str:
    """The file of the tick in a box."""
    return resource("icons", f"check_{look.name}.svg").as_posix()


@lru_cache(maxsize=128)
def icon(name: str) -> QIcon:
    """Our icon of that name (resources/icons/NAME.svg) in the ink of the look; empty where there is none."""
    from PySide6.QtSvg import QSvgRenderer

    path = resource("icons", f"{name}.svg")
    if not path.is_file():
        return QIcon()
    made = QIcon()
    for mode, color in ((QIcon.Mode.Normal, _current.ink), (QIcon.Mode.Disabled, _current.line)):
        drawing = path.read_text(encoding="utf-8").replace("currentColor", color)
        renderer = QSvgRenderer(QByteArray(drawing.encode()))
        for size in (20, 40):
            pixmap = QPixmap(QSize(size, size))
            pixmap.fill(Qt.GlobalColor.transparent)
            painter = QPainter(pixmap)
            renderer.render(painter)
            painter.end()
            made.addPixmap(pixmap, mode)
    return made
