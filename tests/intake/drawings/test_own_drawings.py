"""What nestplan writes as DXF and SVG it reads back: area to 0.1 %, points to 0.05 mm, flaws, regions, marks."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import shapely

from nestplan.geometry.ring import Ring, area
from nestplan.intake.drawings.to_model import read_hide_drawing, read_piece_drawing
from nestplan.model import Article, Job, Layer, LayerCut, Mark, Opening, Piece
from nestplan.model.files import read_hide, read_job
from nestplan.model.layer_work import layers_of, time_of
from nestplan.resources import demo_folder
from nestplan.sheets import hide_lines, piece_lines, write_drawing_file

HIDES = sorted(path.name for path in Path(demo_folder()).glob("*.hide.json"))


def punched(piece: Piece, shift: tuple[float, float] = (0.0, 0.0)) -> Ring:
    """(n, 3): x, y and diameter of the holes to punch, in order."""
    holes = [(m.at[0] + shift[0], m.at[1] + shift[1], m.diameter) for m in piece.all_marks if m.do == "punch"]
    return np.array(sorted(holes, key=lambda hole: (round(hole[0]), round(hole[1]))), dtype=float).reshape(
        -1, 3
    )


def apart(one: Ring, other: Ring) -> float:
    """The largest distance, mm, of a corner of either ring from the other ring."""
    rings = shapely.LinearRing(one), shapely.LinearRing(other)
    return max(
        float(shapely.distance(shapely.points(one), rings[1]).max()),
        float(shapely.distance(shapely.points(other), rings[0]).max()),
    )


@pytest.mark.parametrize("suffix", ["dxf", "svg"])
@pytest.mark.parametrize("name", HIDES)
def test_a_hide_comes_back_with_its_flaws_regions_and_backbone(
    tmp_path: Path, name: str, suffix: str
) -> None:
    hide = read_hide(Path(demo_folder()) / name)
    path = tmp_path / f"hide.{suffix}"
    write_drawing_file(hide_lines(hide), path)
    found = read_hide_drawing(path, leather=hide.leather)
    # An SVG page begins at the drawing's lower left corner.
    shift = hide.ring.min(axis=0) - found.ring.min(axis=0)
    assert apart(found.ring + shift, hide.ring) < 0.05
    assert found.gross_area == pytest.approx(hide.gross_area, rel=1e-3)
    assert sorted(flaw.spoils for flaw in found.flaws) == sorted(flaw.spoils for flaw in hide.flaws)
    assert sum(area(flaw.ring) for flaw in found.flaws) == pytest.approx(
        sum(area(flaw.ring) for flaw in hide.flaws), rel=1e-3
    )
    assert {region.name for region in found.regions} == {region.name for region in hide.regions}
    if hide.backbone is not None:
        assert found.backbone is not None
        assert np.asarray(found.backbone) + shift == pytest.approx(np.asarray(hide.backbone), abs=0.05)


@pytest.mark.parametrize("suffix", ["dxf", "svg"])
def test_pieces_come_back_with_their_holes_and_stretch(tmp_path: Path, suffix: str) -> None:
    job = read_job(Path(demo_folder()) / "quillmere.job.json")
    pieces = {piece.name: piece for article in job.articles for piece in article.pieces}
    path = tmp_path / f"pieces.{suffix}"
    write_drawing_file(piece_lines(job), path)
    found = read_piece_drawing(path)
    assert {piece.name for piece in found} == set(pieces)
    for piece in found:
        true = pieces[piece.name]
        shift = true.ring.min(axis=0) - piece.ring.min(axis=0)
        assert apart(piece.ring + shift, true.ring) < 0.05
        assert piece.net_area == pytest.approx(true.net_area, rel=1e-3)
        assert len(piece.parts) == len(true.parts)
        assert punched(piece, shift) == pytest.approx(punched(true), abs=0.05)
        axes = [cut.stretch.axis for cut in true.cuts if cut.stretch is not None]
        if axes:
            assert piece.cuts[0].stretch is not None
            assert piece.cuts[0].stretch.axis == pytest.approx(axes[0] % 180, abs=0.1)


@pytest.mark.parametrize("suffix", ["dxf", "svg"])
def test_layers_and_time_of_what_is_done_come_back(tmp_path: Path, suffix: str) -> None:
    window = ((20.0, 20.0), (50.0, 20.0), (50.0, 40.0), (20.0, 40.0))
    lined = Piece(
        name="flap",
        outline=((0.0, 0.0), (120.0, 0.0), (110.0, 80.0), (0.0, 80.0)),
        holes=(Opening(outline=window, layers=("outer", "lining"), when="after trimming"),),
        marks=(
            Mark(at=(80.0, 20.0), do="punch", diameter=5.0),
            Mark(at=(80.0, 40.0), do="slit", length=12.0, layers=("lining",)),
            Mark(at=(80.0, 60.0)),
        ),
        cuts=(LayerCut(layer="outer"), LayerCut(layer="lining", reversed=True, shows="hidden")),
    )
    job = Job(
        name="flaps",
        articles=(Article(name="flap", sets=1, pieces=(lined,)),),
        layers=(Layer(name="outer"), Layer(name="lining")),
    )
    path = tmp_path / f"flap.{suffix}"
    write_drawing_file(piece_lines(job), path)
    (found,) = read_piece_drawing(path, cut_from=("outer", "lining"))
    assert [cut.layer for cut in found.cuts] == ["outer", "lining"]

    def done(piece: Piece) -> set[tuple[object, ...]]:
        items = [("opening", opening) for opening in piece.openings] + [
            (mark.do, mark) for mark in piece.marks
        ]
        return {(what, layers_of(piece, item), time_of(piece, item)) for what, item in items}

    assert done(found) == done(lined)
    (single,) = read_piece_drawing(path)
    assert all(layers_of(single, mark) == ("leather",) for mark in single.marks)
