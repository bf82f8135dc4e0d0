"""Numbers, dates and money as people where the window stands write them; which way that is can be chosen.

Fields and sentences are made with a decimal point and put into the chosen form here, and what is typed back.
"""

from __future__ import annotations

import re

from PySide6.QtCore import QDate, QLocale, Qt

__all__ = [
    "NUMBER_FORMS",
    "in_form",
    "plain",
    "show_date",
    "show_money",
    "show_whole",
    "use_numbers",
    "usual_paper",
    "usual_unit",
]

NUMBER_FORMS = {"system": "As the desktop", "point": "1,234.5", "comma": "1.234,5", "space": "1 234,5"}
"""The forms of numbers one can choose, in words."""

_LANGUAGES = {
    "point": QLocale(QLocale.Language.English, QLocale.Country.UnitedKingdom),
    "comma": QLocale(QLocale.Language.German, QLocale.Country.Germany),
    "space": QLocale(QLocale.Language.French, QLocale.Country.France),
}
_LETTER = frozenset(
    {
        QLocale.Country.UnitedStates, QLocale.Country.Canada, QLocale.Country.Mexico, QLocale.Country.Philippines,
        QLocale.Country.Chile, QLocale.Country.Colombia, QLocale.Country.Venezuela, QLocale.Country.Guatemala,
        QLocale.Country.CostaRica, QLocale.Country.Panama, QLocale.Country.DominicanRepublic,
    }
)  # fmt: skip
"""Where letter paper is the usual one (Unicode CLDR, paper sizes by territory)."""


def use_numbers(form: str) -> None:
    """Write numbers in this form from now on (a key of NUMBER_FORMS)."""
    locale = _LANGUAGES.get(form) or QLocale.system()
    if locale.language() == QLocale.Language.C:
        locale = _LANGUAGES["point"]
    QLocale.setDefault(locale)


def usual_unit() -> str:
    """`in` where the desktop's country measures in inches, else `mm`."""
    return "mm" if QLocale.system().measurementSystem() == QLocale.MeasurementSystem.MetricSystem else "in"


def usual_paper() -> str:
    """`letter` where that is the usual paper in the desktop's country, else `a4`."""
    return "letter" if QLocale.system().territory() in _LETTER else "a4"


def in_form(words: str) -> str:
    """Words in which numbers have a decimal point, with these numbers in the chosen form."""
    point = QLocale().decimalPoint()
    return words if point == "." else re.sub(r"(?<=\d)\.(?=\d)", point, words)


def plain(words: str) -> str:
    """Words as they were typed, with the decimal sign of the chosen form as a point."""
    point = QLocale().decimalPoint()
    return words if point == "." else re.sub(rf"(?<=\d){re.escape(point)}(?=\d)", ".", words)


def show_whole(number: int) -> str:
    """A whole number, its thousands parted as in the chosen form."""
    return QLocale().toString(number)


def show_money(amount: float) -> str:
    """An amount of money with two decimals."""
    return QLocale().toString(float(amount), "f", 2)


def show_date(day: str) -> str:
    """A day (ISO date or time) as the desktop writes days, short."""
    date = QDate.fromString(day[:10], Qt.DateFormat.ISODate)
    return QLocale.system().toString(date, QLocale.FormatType.ShortFormat) if date.isValid() else day
