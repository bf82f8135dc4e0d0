"""Contrast of every pair of colours that words stand in: 4.5 to 1 at least (WCAG 2.2, success criterion 1.4.3)."""

from __future__ import annotations

import pytest
from PySide6.QtGui import QColor, QPalette

from nestplan.desk.theme import DARK, LIGHT, Theme, apply_theme

LEAST = 4.5

PAIRS = [
    ("ink", "panel"), ("ink", "raised"), ("soft", "panel"), ("soft", "raised"), ("on_accent", "accent"),
    ("alarm", "panel"), ("alarm", "raised"), ("good", "panel"), ("good", "raised"), ("flaw", "raised"),
    ("region", "raised"), ("offcut", "leather"), ("piece_ink", "leather"), ("ink", "tape"), ("ink", "line"),
    ("accent", "panel"),
]  # fmt: skip
"""Words in the first colour stand on the second."""


def luminance(color: str) -> float:
    """Relative luminance by WCAG 2.2."""
    parts = [value / 255.0 for value in QColor(color).getRgb()[:3]]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def test_the_measure_is_that_of_the_standard():
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.01)


@pytest.mark.parametrize("theme", [LIGHT, DARK], ids=lambda theme: theme.name)
@pytest.mark.parametrize(("words", "ground"), PAIRS)
def test_words_can_be_read_on_what_they_stand_on(theme: Theme, words: str, ground: str):
    assert contrast(getattr(theme, words), getattr(theme, ground)) >= LEAST


@pytest.mark.parametrize("theme", [LIGHT, DARK], ids=lambda theme: theme.name)
def test_names_can_be_read_on_every_article(theme: Theme):
    for tint in theme.tints:
        assert contrast(theme.piece_ink, tint) >= LEAST, tint


@pytest.mark.parametrize("name", ["light", "dark"])
def test_the_palette_in_use_has_the_contrast(qapp, name):
    before = qapp.palette()
    apply_theme(qapp, name)
    palette, role = qapp.palette(), QPalette.ColorRole
    for words, ground in (
        (role.WindowText, role.Window), (role.Text, role.Base), (role.ButtonText, role.Button),
        (role.HighlightedText, role.Highlight), (role.ToolTipText, role.ToolTipBase), (role.PlaceholderText, role.Base),
    ):  # fmt: skip
        for group in (QPalette.ColorGroup.Active, QPalette.ColorGroup.Disabled):
            pair = palette.color(group, words).name(), palette.color(group, ground).name()
            assert contrast(*pair) >= LEAST, (name, group, words, pair)
    apply_theme(qapp, "light")
    qapp.setPalette(before)
