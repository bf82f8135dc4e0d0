"""The leather of a job layer by layer, and the tools its marks, seams, glue and lace ask for."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from nestplan.estimate.leather_and_tools import leather_needs, tool_needs
from nestplan.model.job import Article, Job, Layer
from nestplan.model.piece import LayerCut, Mark, Overcut, Piece, Strip
from nestplan.model.supplies import Supplies

PANEL = Piece(
    name="panel",
    outline=((0.0, 0.0), (200.0, 0.0), (200.0, 100.0), (0.0, 100.0)),
    pair=True,
    marks=(
        Mark(at=(20.0, 20.0), do="punch", diameter=4.7625, what="eyelet"),
        Mark(at=(40.0, 20.0), do="punch", diameter=4.7625, what="eyelet"),
        Mark(at=(60.0, 50.0), do="punch", diameter=3.175),
        Mark(at=(100.0, 50.0), do="slit", length=25.4),
        Mark(at=(140.0, 50.0), what="stud", layers=("outer",)),
    ),
    cuts=(LayerCut(layer="outer", overcut=Overcut(least=5.0, wished=9.0)), LayerCut(layer="lining")),
)
LACE = Strip(name="lace", width=5.0, length=1000.0, count=2, use="lace", layer="outer")
JOB = Job(
    name="belts",
    articles=(Article(name="belt", sets=3, pieces=(PANEL,), strips=(LACE,)),),
    layers=(
        Layer(name="outer", leather=("cow side",), thickness=(2.0, 2.4)),
        Layer(name="lining"),
        Layer(name="x"),
    ),
    units="in",
)


def test_leather_is_what_is_cut_from_each_layer_that_is_used() -> None:
    outer, lining = leather_needs(JOB)
    assert (outer.layer, outer.leather, outer.thickness) == ("outer", ("cow side",), (2.0, 2.4))
    assert lining.net == lining.cut == pytest.approx(3 * 2 * 200 * 100)
    assert outer.net == pytest.approx(3 * (2 * 200 * 100 + 2 * 5 * 1000))
    # A band of 5 mm all round, its corners rounded.
    assert outer.cut - outer.net == pytest.approx(3 * 2 * (5 * 600 + 3.1416 * 25), rel=0.01)


def test_punches_and_setters_are_listed_by_size_with_how_much_they_are_for() -> None:
    tools = {need.tool: need.what_for for need in tool_needs(JOB)}
    assert tools["punch 1/8 in"] == "6 holes"
    assert tools["punch 3/16 in"] == "12 holes"
    assert tools["slit chisel 1 in, or a knife"] == "6 slits"
    assert tools["setter for eyelet"] == "12 to set"
    assert tools["setter for stud"] == "6 to set"
    assert "joints" in tools.values()
    assert any(tool.startswith("lacing needle") for tool in tools)


def test_needles_follow_the_way_of_sewing() -> None:
    def needles(job: Job) -> list[str]:
        return [need.tool for need in tool_needs(job) if "needle" in need.tool and need.what_for != "lacing"]

    assert needles(JOB)[0].startswith("leather-point machine needle")
    assert needles(replace(JOB, supplies=Supplies(stitch="saddle"))) == ["blunt harness needle"]
    plain = replace(PANEL, cuts=(LayerCut(layer="outer"),), marks=())
    assert tool_needs(replace(JOB, articles=(Article(name="a", sets=1, pieces=(plain,)),))) == ()
