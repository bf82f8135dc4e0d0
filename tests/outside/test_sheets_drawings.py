"""Drawing files judged by others: DXF by ezdxf's auditor, areas by GEOS, SVG by an XML parser."""

from __future__ import annotations

import math
import re
import xml.etree.ElementTree as ElementTree
from pathlib import Path

import ezdxf
import numpy as np
import pytest
import shapely

from nestplan.drawing import colors
from nestplan.sheets.drawing_files import hide_lines, piece_lines, plan_lines, write_drawing_file
from tests.sheets.sample_plans import belt_plan, many_plan


def dxf(tmp_path: Path, picture: object) -> ezdxf.document.Drawing:
    write_drawing_file(picture, tmp_path / "drawing.dxf")  # type: ignore[arg-type]
    document = ezdxf.readfile(tmp_path / "drawing.dxf")
    auditor = document.audit()
    assert not auditor.errors
    assert not auditor.fixes
    # $INSUNITS 4 means millimetres in the DXF reference.
    assert document.header["$INSUNITS"] == 4
    return document


def test_a_plan_in_dxf_has_the_plans_areas_to_a_tenth_of_a_percent(tmp_path: Path) -> None:
    plan, job, hides = many_plan(60)
    document = dxf(tmp_path, plan_lines(plan, job, hides[0]))
    shapes = [
        shapely.Polygon([point[:2] for point in entity.get_points()])
        for entity in document.modelspace().query('LWPOLYLINE[layer=="cut_outline"]')
    ]
    wanted = [shapely.Polygon(placed.cut_ring) for placed in plan.placements]
    assert len(shapes) == len(wanted)
    assert all(entity.closed for entity in document.modelspace().query('LWPOLYLINE[layer=="cut_outline"]'))
    for shape in wanted:
        twin = min(shapes, key=lambda other: other.centroid.distance(shape.centroid))
        assert twin.area == pytest.approx(shape.area, rel=1e-3)
        assert shapely.hausdorff_distance(twin, shape) < 0.01


def test_strips_in_dxf_enclose_their_areas_though_each_line_stands_once(tmp_path: Path) -> None:
    plan, job, hides = belt_plan()
    document = dxf(tmp_path, plan_lines(plan, job, hides[0]))
    lines = []
    for entity in document.modelspace().query('LWPOLYLINE[layer=="cut_strips"]'):
        points = [point[:2] for point in entity.get_points()]
        lines.append(shapely.LineString([*points, points[0]] if entity.closed else points))
    merged = shapely.union_all(lines)
    assert merged.length == pytest.approx(sum(line.length for line in lines), rel=1e-9)
    faces = shapely.get_parts(shapely.polygonize([merged]))
    strips = [face for face in faces if face.area == pytest.approx(1100.0 * 40.0, rel=1e-3)]
    assert len(strips) == 4


def test_hide_and_piece_files_pass_the_auditor_and_are_read_again_by_nestplan(tmp_path: Path) -> None:
    from nestplan.intake.drawings.to_model import read_hide_drawing, read_piece_drawing

    _, job, hides = belt_plan()
    dxf(tmp_path, piece_lines(job))
    pieces = {piece.name: piece for piece in read_piece_drawing(tmp_path / "drawing.dxf")}
    assert set(pieces) == {piece.name for piece in job.articles[0].pieces}
    for piece in job.articles[0].pieces:
        again = pieces[piece.name]
        assert again.net_area == pytest.approx(piece.net_area, rel=1e-3)
        assert sorted(mark.do for mark in again.marks) == sorted(mark.do for mark in piece.marks)
    assert pieces["front"].cuts[0].stretch is not None
    assert pieces["front"].cuts[0].stretch.axis == pytest.approx(90.0, abs=0.01)
    dxf(tmp_path, hide_lines(hides[0]))
    hide = read_hide_drawing(tmp_path / "drawing.dxf", leather=hides[0].leather, name="again")
    assert hide.gross_area == pytest.approx(hides[0].gross_area, rel=1e-3)
    assert sorted(flaw.spoils for flaw in hide.flaws) == sorted(flaw.spoils for flaw in hides[0].flaws)
    assert {region.name for region in hide.regions} == {region.name for region in hides[0].regions}
    assert hide.backbone is not None
    assert np.allclose(hide.backbone, hides[0].backbone)


def test_a_plan_in_svg_is_valid_and_true_to_size(tmp_path: Path) -> None:
    plan, job, hides = many_plan(60)
    write_drawing_file(plan_lines(plan, job, hides[0]), tmp_path / "plan.svg")
    root = ElementTree.parse(tmp_path / "plan.svg").getroot()
    width, height = (float(str(root.get(side)).removesuffix("mm")) for side in ("width", "height"))
    view = [float(number) for number in str(root.get("viewBox")).split()]
    # One user unit is one millimetre: the view box has the size that the page has in millimetres.
    assert view == pytest.approx([0.0, 0.0, width, height])
    areas = []
    for group in root.iter("{http://www.w3.org/2000/svg}g"):
        if group.get("class") == "cut_outline":
            for path in group:
                d = str(path.get("d"))
                assert d.count("M") == 1
                assert d.endswith("Z")
                numbers = np.array([float(number) for number in re.findall(r"-?[\d.]+", d)]).reshape(-1, 2)
                areas.append(shapely.Polygon(numbers).area)
    wanted = [shapely.Polygon(placed.cut_ring).area for placed in plan.placements]
    assert sorted(areas) == pytest.approx(sorted(wanted), rel=1e-3)


def test_the_colours_are_those_that_okabe_and_ito_published() -> None:
    # Okabe and Ito 2008, "Color Universal Design", figure 16: red, green, blue from 0 to 255.
    published = {
        "BLACK": (0, 0, 0),
        "ORANGE": (230, 159, 0),
        "SKY": (86, 180, 233),
        "GREEN": (0, 158, 115),
        "YELLOW": (240, 228, 66),
        "BLUE": (0, 114, 178),
        "VERMILLION": (213, 94, 0),
        "PURPLE": (204, 121, 167),
    }
    for name, values in published.items():
        color = getattr(colors, name)
        assert tuple(int(color[n : n + 2], 16) for n in (1, 3, 5)) == values


def test_the_laces_spiral_is_as_long_as_archimedes_says() -> None:
    plan, job, hides = belt_plan()
    from nestplan.drawing.primitives import Outline

    spiral = max(
        (
            item.rings[0]
            for item in plan_lines(plan, job, hides[0]).on("cut_strips")
            if isinstance(item, Outline)
        ),
        key=len,
    )
    width = job.strip("lace").width
    ours = float(np.hypot(*np.diff(spiral, axis=0).T).sum())
    radii = np.hypot(*(spiral - np.array((700.0, 520.0))).T)
    high, low = float(radii[0]), float(radii[-1])
    # Arc length of r = a t between two radii, a = w / (2 pi): exact integral, any calculus table.
    a = width / (2.0 * math.pi)

    def integral(r: float) -> float:
        t = r / a
        return a / 2.0 * (t * math.sqrt(1.0 + t * t) + math.asinh(t))

    assert ours == pytest.approx(integral(high) - integral(low), rel=2e-3)
