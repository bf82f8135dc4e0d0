"""Drawings written by other writers read back: area to 0.1 %, points to 0.05 mm, units included.

Writers: ezdxf (DXF of several versions and units, ASCII and binary; its SVG drawing backend), shapely's SVG,
reportlab's SVG, and matplotlib's SVG where it is installed. The reference for curves is the closed formula or,
for splines, SciPy's B-spline evaluated densely.
"""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import ezdxf
import numpy as np
import pytest
import shapely
from scipy.interpolate import BSpline

from nestplan.geometry.ring import Ring, area
from nestplan.intake.drawings.polylines import FrameError
from nestplan.intake.drawings.reader import read_drawing
from tests.small_hides import RINGS

# $INSUNITS codes of the DXF reference and their millimetres.
UNITS = {"in": (1, 25.4), "ft": (2, 304.8), "mm": (4, 1.0), "cm": (5, 10.0), "m": (6, 1000.0)}


def assert_same(found: Ring, true: Ring) -> None:
    """Area to 0.1 %; every point of each ring within 0.05 mm of the other."""
    assert area(found) == pytest.approx(area(true), rel=1e-3)
    for one, other in ((found, true), (true, found)):
        middles = (one + np.roll(one, 1, axis=0)) / 2
        spots = shapely.points(np.vstack([one, middles]))
        assert shapely.distance(spots, shapely.LinearRing(other)).max() < 0.05


def only(path: Path, **options: Any) -> Ring:
    (outline,) = read_drawing(path, **options).outlines
    return outline.ring


@pytest.mark.parametrize("binary", [False, True])
@pytest.mark.parametrize("version", ["R12", "R2000", "R2018"])
@pytest.mark.parametrize("unit", sorted(UNITS))
def test_polylines_in_every_unit_and_version(tmp_path: Path, unit: str, version: str, binary: bool) -> None:
    code, scale = UNITS[unit]
    document = ezdxf.new(version)
    document.header["$INSUNITS"] = code
    space = document.modelspace()
    for number, ring in enumerate(RINGS.values()):
        points = [(x / scale + 2000 * number / scale, y / scale) for x, y in ring[:: 1 if number % 2 else -1]]
        if version == "R12":
            space.add_polyline2d(points, close=True)
        else:
            space.add_lwpolyline(points, close=True)
    path = tmp_path / "rings.dxf"
    document.saveas(path, fmt="bin" if binary else "asc")
    # R12 has no $INSUNITS, so there the unit is told.
    drawing = read_drawing(path, units=unit if version == "R12" else None)
    assert drawing.units == unit
    found = sorted(drawing.outlines, key=lambda shape: float(shape.ring[:, 0].mean()))
    for number, (shape, ring) in enumerate(zip(found, RINGS.values(), strict=True)):
        assert_same(shape.ring - [2000 * number, 0], ring)


def rounded_ring(radius: float, count: int = 4000) -> Ring:
    """A rectangle of 200 × 80 with round corners, densely."""
    corners = [
        (200 - radius, radius, -90),
        (200 - radius, 80 - radius, 0),
        (radius, 80 - radius, 90),
        (radius, radius, 180),
    ]
    turns = np.linspace(0, 90, count // 4)
    return np.vstack(
        [
            np.column_stack(
                [x + radius * np.cos(np.radians(a + turns)), y + radius * np.sin(np.radians(a + turns))]
            )
            for x, y, a in corners
        ]
    )


@pytest.mark.parametrize("radius", [0.5, 3.0, 20.0, 39.9])
def test_bulges_against_densely_sampled_arcs(tmp_path: Path, radius: float) -> None:
    document = ezdxf.new("R2010")
    document.header["$INSUNITS"] = 4
    bulge = math.tan(math.radians(90 / 4))
    r = radius
    points = [
        (r, 0, 0),
        (200 - r, 0, bulge),
        (200, r, 0),
        (200, 80 - r, bulge),
        (200 - r, 80, 0),
        (r, 80, bulge),
    ]
    points += [(0, 80 - r, 0), (0, r, bulge)]
    document.modelspace().add_lwpolyline(points, format="xyb", close=True)
    document.saveas(tmp_path / "a.dxf")
    assert_same(only(tmp_path / "a.dxf"), rounded_ring(radius))


@pytest.mark.parametrize("size", [5.0, 60.0, 1500.0])
@pytest.mark.parametrize("degree", [2, 3, 5])
def test_splines_against_scipy(tmp_path: Path, size: float, degree: int) -> None:
    turns = np.linspace(0, 2 * math.pi, 9)
    controls = size * np.column_stack([np.cos(turns) * (1 + 0.3 * np.cos(3 * turns)), np.sin(turns)])
    document = ezdxf.new("R2010")
    document.header["$INSUNITS"] = 4
    document.modelspace().add_open_spline([(x, y, 0) for x, y in controls], degree=degree)
    document.saveas(tmp_path / "a.dxf")
    spans = len(controls) - degree
    knots = np.concatenate([np.zeros(degree), np.linspace(0, 1, spans + 1), np.ones(degree)])
    assert_same(only(tmp_path / "a.dxf"), BSpline(knots, controls, degree)(np.linspace(0, 1, 4001)[:-1]))


@pytest.mark.parametrize("unit", ["in", "mm"])
def test_nested_blocks_with_uneven_scales_against_matrices(tmp_path: Path, unit: str) -> None:
    code, scale = UNITS[unit]
    document = ezdxf.new("R2010")
    document.header["$INSUNITS"] = code
    inner = document.blocks.new("INNER")
    inner.add_ellipse((2, 1), (4, 0), 0.4)
    outer = document.blocks.new("OUTER")
    outer.add_blockref("INNER", (3, -1), dxfattribs={"xscale": 1.5, "yscale": 0.5, "rotation": 25})
    document.modelspace().add_blockref(
        "OUTER", (10, 20), dxfattribs={"xscale": -2, "yscale": 2, "rotation": -70}
    )
    document.saveas(tmp_path / "a.dxf")
    turns = np.linspace(0, 2 * math.pi, 4001)[:-1]
    points = np.column_stack([2 + 4 * np.cos(turns), 1 + 1.6 * np.sin(turns)])
    for (x, y), factors, angle in (((3, -1), (1.5, 0.5), 25), ((10, 20), (-2, 2), -70)):
        c, s = math.cos(math.radians(angle)), math.sin(math.radians(angle))
        points = points * factors @ np.array([[c, s], [-s, c]]) + (x, y)
    assert_same(only(tmp_path / "a.dxf"), points * scale)


@pytest.mark.parametrize("seed", range(8))
def test_bezier_loops_under_uneven_transforms_against_dense_sampling(tmp_path: Path, seed: int) -> None:
    rng = np.random.default_rng(seed)
    count, size = int(rng.integers(3, 7)), 10 ** rng.uniform(0.5, 2.8)
    turns = np.linspace(0, 2 * math.pi, count, endpoint=False)
    knots = (
        size * np.column_stack([np.cos(turns), np.sin(turns)]) * (1 + 0.2 * rng.uniform(-1, 1, (count, 1)))
    )
    handles = np.column_stack([-np.sin(turns), np.cos(turns)]) * size * 2 / count
    u = np.linspace(0, 1, 2001)[:-1, None]
    data, dense = f"M{knots[0, 0]} {knots[0, 1]}", []
    for k in range(count):
        a, d = knots[k], knots[(k + 1) % count]
        b, c = a + handles[k], d - handles[(k + 1) % count]
        data += f"C{b[0]} {b[1]} {c[0]} {c[1]} {d[0]} {d[1]}"
        dense.append((1 - u) ** 3 * a + 3 * (1 - u) ** 2 * u * b + 3 * (1 - u) * u**2 * c + u**3 * d)
    angle, (wide, high) = float(rng.uniform(0, 360)), rng.uniform(0.3, 2, 2)
    path = tmp_path / "a.svg"
    path.write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="10in" height="10in" viewBox="0 0 500 500">'
        f'<g transform="translate(250 250) rotate({angle})"><g transform="scale({wide},{high})">'
        f'<path d="{data}z"/></g></g></svg>'
    )
    cosine, sine = math.cos(math.radians(angle)), math.sin(math.radians(angle))
    true = (np.vstack(dense) * [wide, high] @ np.array([[cosine, sine], [-sine, cosine]]) + 250) * 254 / 500
    assert_same(only(path), true * [1, -1] + [0, 254])


@pytest.mark.parametrize("name", sorted(RINGS))
def test_the_svg_that_shapely_draws(tmp_path: Path, name: str) -> None:
    ring = RINGS[name]
    path = tmp_path / "a.svg"
    body = shapely.Polygon(ring).svg()
    path.write_text(
        f'<svg xmlns="http://www.w3.org/2000/svg" width="1in" viewBox="0 0 25.4 25.4">{body}</svg>'
    )
    assert_same(only(path) * [1, -1] + [0, 25.4], ring)


def test_the_svg_that_ezdxf_draws_is_the_dxf_it_was_drawn_from(tmp_path: Path) -> None:
    from ezdxf.addons.drawing import Frontend, RenderContext, layout
    from ezdxf.addons.drawing.config import Configuration
    from ezdxf.addons.drawing.svg import SVGBackend

    document = ezdxf.new("R2010")
    document.header["$INSUNITS"] = 4
    space = document.modelspace()
    space.add_lwpolyline([(0, 0, 0), (150, 0, 0.5), (150, 80, 0), (0, 80, -0.3)], format="xyb", close=True)
    space.add_circle((60, 40), 15)
    document.saveas(tmp_path / "a.dxf")
    backend = SVGBackend()
    Frontend(RenderContext(document), backend, config=Configuration()).draw_layout(space)
    page = layout.Page(0, 0, layout.Units.mm, margins=layout.Margins.all(5))
    (tmp_path / "a.svg").write_text(backend.get_string(page, settings=layout.Settings(fit_page=False)))
    # The writer lays a sheet under the drawing, which goes round all of it.
    with pytest.raises(FrameError, match="looks like a frame") as refused:
        read_drawing(tmp_path / "a.svg")
    (drawn,) = read_drawing(tmp_path / "a.svg", layers={refused.value.layer: "ignore"}).outlines
    (circle,) = drawn.holes
    (true,) = read_drawing(tmp_path / "a.dxf").outlines
    shift = true.ring.min(axis=0) - drawn.ring.min(axis=0)
    assert_same(drawn.ring + shift, true.ring)
    assert circle.circle is not None
    assert circle.circle[2] == pytest.approx(30, abs=0.05)


def test_the_svg_that_reportlab_draws(tmp_path: Path) -> None:
    from reportlab.graphics import renderSVG
    from reportlab.graphics.shapes import Circle, Drawing, Group, Polygon
    from reportlab.graphics.shapes import Path as Curve

    sheet = Drawing(400, 300)
    sheet.add(Polygon(RINGS["hide"].ravel().tolist(), strokeWidth=1))
    inner = Group(Circle(0, 0, 20), transform=(1, 0, 0, 1, 200, 250))
    sheet.add(Group(inner, transform=(2, 0, 0, 2, 0, -200)))
    curve = Curve()
    curve.moveTo(600, 0)
    curve.curveTo(650, 100, 750, -50, 800, 0)
    curve.lineTo(800, -80)
    curve.closePath()
    sheet.add(curve)
    renderSVG.drawToFile(sheet, str(tmp_path / "a.svg"))
    point = 25.4 / 72
    drawing = read_drawing(tmp_path / "a.svg", units="pt")
    whole = max(drawing.outlines, key=lambda shape: area(shape.ring))
    assert area(whole.ring) == pytest.approx(area(RINGS["hide"]) * point**2, rel=1e-3)
    assert [hole.circle and hole.circle[2] for hole in whole.holes] == [pytest.approx(80 * point)]


def test_the_svg_that_matplotlib_saves(tmp_path: Path) -> None:
    pytest.importorskip("matplotlib")
    from matplotlib.backends.backend_svg import FigureCanvasSVG
    from matplotlib.figure import Figure
    from matplotlib.patches import Circle, Polygon

    # A figure of 10 × 10 in whose axes fill it, with 254 mm on each side: data are millimetres.
    figure = Figure(figsize=(10, 10))
    FigureCanvasSVG(figure)
    axes = figure.add_axes((0, 0, 1, 1))
    axes.set_axis_off()
    axes.set(xlim=(0, 254), ylim=(0, 254))
    ring = RINGS["star"] + [120, 110]
    axes.add_patch(Polygon(ring, gid="outline"))
    axes.add_patch(Circle((120, 110), 10, gid="hole"))
    figure.savefig(tmp_path / "a.svg")
    (outline,) = read_drawing(tmp_path / "a.svg", layers={"figure_1": "ignore", "patch_1": "ignore"}).outlines
    assert_same(outline.ring, ring)
    assert outline.holes[0].circle == pytest.approx((120, 110, 20), abs=0.05)
