"""What is done inside a piece, in words."""

from __future__ import annotations

import msgspec

from nestplan.model import LayerCut
from nestplan.sheets.unit_formatting import UnitFormatter
from nestplan.sheets.work_words import piece_work_lines, through_lines, work_of_single_layers
from tests.sheets.sample_plans import layered_plan

MM = UnitFormatter("mm")


def test_layers_are_named_where_there_are_several() -> None:
    _, job, _ = layered_plan()
    piece = job.piece("front")
    assert piece_work_lines(piece, MM) == [
        "outer: 1 × opening",
        "outer: 1 × slit 22 mm (strap slit)",
        "outer: 1 × mark (badge)",
        "lining: 1 × opening",
        "lining: 1 × mark (label)",
        "through all: 4 × punch 5 mm (eyelet 5 mm)",
    ]
    marks = tuple(msgspec.structs.replace(mark, layers=()) for mark in piece.marks)
    single = msgspec.structs.replace(piece, cuts=(LayerCut(layer="outer"),), marks=marks, holes=())
    assert piece_work_lines(single, MM) == [
        "4 × punch 5 mm (eyelet 5 mm)",
        "1 × slit 22 mm (strap slit)",
        "1 × mark (badge)",
        "1 × mark (label)",
    ]


def test_nothing_is_told_twice_over_the_two_times() -> None:
    _, job, _ = layered_plan()
    pieces = [job.piece(name) for name in ("front", "back", "keeper")]
    early, late = work_of_single_layers(pieces, MM), through_lines(pieces, MM)
    assert [line.split(":")[0] for line in early] == ["front, outer", "front, lining"]
    assert late == ["front: 4 × punch 5 mm (eyelet 5 mm)"]
