"""The shape in which supplies are handed to the job sheet: what the estimate counts has it."""

from __future__ import annotations

from nestplan.estimate.supplies import shopping_list
from nestplan.sheets.shopping import (
    ArticleLine,
    LeatherLine,
    ShoppingLines,
    StackLine,
    StackWords,
    SupplyLine,
    ToolLine,
)
from tests.sheets.sample_plans import belt_job


def lacking(thing: object, shape: type) -> list[str]:
    fields = [
        name for name, value in vars(shape).items() if isinstance(value, property) or name == "in_words"
    ]
    assert fields, shape
    return [name for name in fields if not hasattr(thing, name)]


def test_what_the_estimate_counts_has_every_field_that_the_sheet_reads() -> None:
    counted = shopping_list(belt_job())
    assert lacking(counted, ShoppingLines) == []
    assert counted.articles
    assert counted.totals
    assert counted.stacks
    for article in counted.articles:
        assert lacking(article, ArticleLine) == []
        assert [name for supply in article.per_set for name in lacking(supply, SupplyLine)] == []
    assert counted.leather
    assert counted.tools
    assert [name for need in counted.leather for name in lacking(need, LeatherLine)] == []
    assert [name for need in counted.tools for name in lacking(need, ToolLine)] == []
    for stack in counted.stacks:
        assert lacking(stack, StackLine) == []
        assert lacking(stack.stack, StackWords) == []


def test_a_thing_without_the_fields_is_found_out() -> None:
    assert "amount" in lacking(object(), SupplyLine)
