"""Each module of the core has a test module named after it, in the same place under tests/."""

from __future__ import annotations

from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
CORE = ("geometry", "model", "yields", "nesting", "estimate")
MODULES = sorted(
    path.relative_to(ROOT / "nestplan")
    for folder in CORE
    for path in (ROOT / "nestplan" / folder).rglob("*.py")
    if path.name != "__init__.py"
)


@pytest.mark.parametrize("module", MODULES, ids=str)
def test_a_module_of_the_core_has_a_test_module_of_its_name(module: Path) -> None:
    beside = ROOT / "tests" / module.parent / f"test_{module.name}"
    assert beside.is_file(), f"{module} is not tested by {beside.relative_to(ROOT)}"
    assert "def test_" in beside.read_text(encoding="utf-8")
