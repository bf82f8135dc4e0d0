from __future__ import annotations

from dataclasses import dataclass

import pytest

from nestplan.model.registry import Registry


@dataclass(frozen=True)
class Tool:
    name: str
    teeth: int = 0


def test_records_are_found_by_name_and_keep_their_order() -> None:
    tools = Registry(Tool("knife"), Tool("saw", 12))
    tools.register(Tool("awl"))
    assert tools.names == ("knife", "saw", "awl")
    assert tools["saw"].teeth == 12
    assert [tool.name for tool in tools] == ["knife", "saw", "awl"]
    assert len(tools) == 3
    assert "awl" in tools
    assert "axe" not in tools


def test_a_name_is_registered_once_and_can_be_taken_out() -> None:
    tools = Registry(Tool("knife"))
    with pytest.raises(ValueError, match="'knife' is registered already"):
        tools.register(Tool("knife", 3))
    tools.unregister("knife")
    tools.register(Tool("knife", 3))
    assert tools["knife"].teeth == 3
    with pytest.raises(KeyError):
        tools.unregister("saw")


def test_records_may_be_taken_out_while_they_are_gone_through() -> None:
    tools = Registry(Tool("knife"), Tool("saw"))
    for tool in tools:
        tools.unregister(tool.name)
    assert len(tools) == 0
