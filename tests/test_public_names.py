"""Each folder lists what its users may import, and whatever is listed is there, once."""

from __future__ import annotations

import importlib
import pkgutil

import pytest

import nestplan

MODULES = sorted(
    found.name
    for found in pkgutil.walk_packages(nestplan.__path__, "nestplan.")
    if not found.name.startswith("nestplan.desk")
)


@pytest.mark.parametrize("name", MODULES)
def test_public_names_are_listed_and_exist(name: str) -> None:
    module = importlib.import_module(name)
    names = getattr(module, "__all__", None)
    if names is None:
        assert not hasattr(module, "__path__"), f"the folder {name} lists no public names"
        return
    assert len(set(names)) == len(names)
    for public in names:
        assert hasattr(module, public), f"{name} has no {public}"
