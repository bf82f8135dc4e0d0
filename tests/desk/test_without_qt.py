"""The core runs without Qt, the tools of the window too, and the window calls what the command line calls."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

import nestplan

PACKAGE = Path(nestplan.__file__).parent
BELOW = ("geometry", "model", "yields", "nesting", "intake", "sheets", "estimate", "tasks", "cli")
TOOLS = ("held_piece", "table.tracing", "table.placing", "document.plan_edits")


def run(code: str) -> str:
    return subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout


def test_every_module_below_the_window_imports_with_qt_barred():
    modules = [
        f"nestplan.{path.relative_to(PACKAGE).with_suffix('').as_posix().replace('/', '.')}"
        for folder in BELOW
        for path in sorted((PACKAGE / folder).glob("*.py"))
    ]
    modules = [name.removesuffix(".__init__") for name in modules]
    code = f"import sys; sys.modules['PySide6'] = None\nfor m in {modules!r}: __import__(m)\nprint('all')"
    assert run(code).strip() == "all"


@pytest.mark.parametrize("name", TOOLS)
def test_the_tools_in_the_hand_need_no_qt(name):
    code = f"import sys; sys.modules['PySide6'] = None\nimport nestplan.desk.{name}\nprint('without')"
    assert run(code).strip() == "without"


def calls_of(folder: str, names: set[str]) -> set[str]:
    """Which of the core's functions a folder imports."""
    found = set()
    for path in (PACKAGE / folder).rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ImportFrom) and node.module and node.module.startswith("nestplan."):
                found |= {alias.name for alias in node.names} & names
    return found


def test_the_window_and_the_command_line_call_the_same_functions():
    shared = {"search_plan", "find_cut", "cut_plan", "take_back_cut", "compare", "count", "buy", "cheapest"}
    shared |= {
        "open_crew",
        "purchase_plot",
        "write_comparison",
        "trace_photo",
        "suggested_flaws",
        "hide_of_photo",
    }
    assert calls_of("desk", shared) == shared
    assert calls_of("cli", shared) == shared


def test_neither_the_window_nor_the_command_line_searches_checks_or_writes_plans_itself():
    own = {
        "nest",
        "check",
        "commit_cut",
        "undo_cut",
        "write_hide",
        "write_job",
        "write_plan",
        "write_cut_sheet",
    }
    own |= {"write_plan_png", "write_plan_svg", "write_sheets", "write_svg", "write_png", "figures_of"}
    assert calls_of("tasks", own) == own
    assert calls_of("desk", own) == set()
    assert calls_of("cli", own) == set()


def test_the_window_loads_neither_kernels_nor_imaging_before_they_are_asked_for():
    code = (
        "import os, sys; os.environ['QT_QPA_PLATFORM'] = 'offscreen'\n"
        "import nestplan.desk.window\n"
        "print(sorted({'numba', 'skimage', 'ezdxf', 'reportlab', 'scipy', 'PIL'} & set(sys.modules)))"
    )
    assert run(code).strip() == "[]"
