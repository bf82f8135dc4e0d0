"""The small print: each term once, each figure of the table explained."""

from __future__ import annotations

from nestplan.sheets.cut_sheet import cut_sheet_booklet
from nestplan.sheets.definitions import FIGURE_DEFINITIONS, TAPE_DEFINITIONS, definition_lines
from tests.sheets.looking import words_of
from tests.sheets.sample_plans import belt_plan


def test_a_definition_is_one_line_with_its_term() -> None:
    assert definition_lines([("net", "finished pieces.")]) == ["net: finished pieces."]
    terms = [term for term, _ in (*FIGURE_DEFINITIONS, *TAPE_DEFINITIONS)]
    assert len(terms) == len(set(terms)) + 1  # the overcut is a figure and a column of the tape's table


def test_every_column_of_the_figures_is_defined() -> None:
    defined = ", ".join(term for term, _ in FIGURE_DEFINITIONS)
    columns = (
        "whole hide",
        "seller’s",
        "usable",
        "finished",
        "cut shapes",
        "in pieces",
        "in shapes",
        "flaws",
        "overcut",
        "gaps",
        "too small",
        "hide bought",
        "leather used",
    )
    assert [column for column in columns if column not in defined] == []


def test_the_cut_sheet_carries_every_definition() -> None:
    told = "".join("".join(words_of(page.picture)) for page in cut_sheet_booklet(*belt_plan()).pages)
    told = "".join(told.split())
    lines = definition_lines((*FIGURE_DEFINITIONS, *TAPE_DEFINITIONS))
    assert [line for line in lines if "".join(line.split()) not in told] == []
