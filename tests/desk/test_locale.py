"""Numbers, days, paper and units as they are usual in the desktop's country, or as they were chosen; remembered."""

from __future__ import annotations

import subprocess
import sys

import pytest
from PySide6.QtCore import QLocale, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from nestplan.desk.locale_format import in_form, plain, use_numbers
from nestplan.desk.settings import Settings
from tests.desk.small_work import laid_work, sheet

_ASK = """
from PySide6.QtCore import QCoreApplication, QSettings
import sys
QSettings.setPath(QSettings.Format.IniFormat, QSettings.Scope.UserScope, sys.argv[1])
application = QCoreApplication([])
from nestplan.desk.settings import Settings
from nestplan.desk.locale_format import show_date
settings = Settings()
area, money = settings.short_area(227.65e4), settings.money(1234.5, "EUR")
print("|".join([settings.unit, settings.paper, area, money, show_date("2026-03-04")]))
"""


@pytest.fixture(autouse=True)
def numbers_as_before():
    yield
    use_numbers("system")


@pytest.mark.parametrize(
    ("language", "told"),
    [
        ("de_DE.UTF-8", "mm|a4|227,7 dm²|1.234,50 EUR"),
        ("en_US.UTF-8", "in|letter|24.5 ft²|1,234.50 EUR"),
        ("en_CA.UTF-8", "mm|letter|227.7 dm²|1,234.50 EUR"),
        ("C.UTF-8", "mm|a4|227.7 dm²|1,234.50 EUR"),
    ],
)
def test_the_land_of_the_desktop_says_how_things_are_written(tmp_path, language, told):
    done = subprocess.run(
        [sys.executable, "-c", _ASK, str(tmp_path)],
        env={"LANG": language, "LC_ALL": language, "QT_QPA_PLATFORM": "offscreen", **_paths()},
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    unit, paper, area, money, day = done.stdout.strip().split("|")
    assert [unit, paper, area, money] == told.split("|")
    # How a day is written differs between versions of Unicode's data; but the year is always in it.
    assert "26" in day


def _paths() -> dict[str, str]:
    import os

    return {name: os.environ[name] for name in ("PATH", "PYTHONPATH", "HOME") if name in os.environ}


def test_numbers_change_their_form_and_what_is_typed_in_it_is_read_back(window):
    window.document.open(laid_work(2, sheet("oak")), {})
    window.settings.numbers = "comma"
    QApplication.processEvents()
    assert QLocale().decimalPoint() == ","
    window.go_to("plan")
    minutes = window.panels["plan"].minutes
    minutes.setFocus()
    minutes.selectAll()
    QTest.keyClicks(minutes, "2,5")
    QTest.keyClick(minutes, Qt.Key.Key_Return)
    assert minutes.value == 2.5
    assert minutes.text() == "2,5"
    assert "," in window.panels["hides"].area.text()
    assert Settings().numbers == "comma"


def test_only_numbers_are_put_into_another_form():
    use_numbers("comma")
    assert in_form("Measured 227.7 dm² (24.51 ft²). See p. 3.") == "Measured 227,7 dm² (24,51 ft²). See p. 3."
    assert plain("12,5 mm") == "12.5 mm"
    use_numbers("point")
    assert in_form("227.7 dm²") == "227.7 dm²"


def test_a_name_with_a_number_in_it_is_left_as_it_is(window):
    window.settings.numbers = "comma"
    window.document.open(laid_work(2, sheet("lot 3.5")), {})
    window.go_to("hides")
    assert window.panels["hides"].name.text() == "lot 3.5"
    assert window.document.hide.name == "lot 3.5"
