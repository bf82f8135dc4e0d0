"""Files made to exhaust the machine: each is refused by a bound, in time, with a mend. None may take long."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from nestplan.errors import InputError
from nestplan.intake.drawings.read_limits import ReadLimits
from nestplan.intake.drawings.reader import read_drawing
from tests.intake.small_drawings import dxf, svg
from tests.work_time import WorkTime

pytestmark = pytest.mark.security

# Small bounds, so that the tests are quick; what is bounded is the same.
TIGHT = ReadLimits(bytes=300_000, entities=3_000, points=20_000, seconds=5.0)
SECONDS = 20.0


def entity_bomb() -> str:
    levels = "".join(f'<!ENTITY l{k} "{(f"&l{k - 1};" if k else "lol") * 10}">' for k in range(9))
    return f'<?xml version="1.0"?><!DOCTYPE svg [{levels}]>'


SVG_BOMBS = {
    "nested use": "<defs><g id='a0'><rect width='1' height='1'/></g>"
    + "".join(f"<g id='a{k}'>" + f"<use href='#a{k - 1}'/>" * 10 + "</g>" for k in range(1, 12))
    + "</defs><use href='#a11'/>",
    "use of itself": "<g id='a'><use href='#b'/></g><g id='b'><use href='#a'/></g>",
    "deep groups": "<g>" * 20_000 + "</g>" * 20_000,
    "many elements": "<g/>" * 60_000,
    "endless number": f"<path d='M{'1' * 100_000}x'/>",
    "endless transform": f"<rect width='1' height='1' transform='matrix({'1' * 100_000}x'/>",
    "spaces for a length": f"<rect width='1{' ' * 100_000}x' height='1'/>",
    "long path": f"<path d='M0 0{'l1 1' * 50_000}'/>",
    "rings in rings": "".join(f"<circle cx='50' cy='50' r='{1 + k / 100}'/>" for k in range(2_000)),
    "star of lines": "".join(f"<path d='M50 50 L{k / 10} 90'/>" for k in range(2_000)),
    "scribble": "<path d='M0 0"
    + "".join(f"L{(k * 7919) % 200} {(k * 104729) % 97}" for k in range(1, 5_000))
    + "z'/>",
}


@pytest.mark.parametrize("name", sorted(SVG_BOMBS))
@pytest.mark.parametrize("repair", [False, True])
def test_svg_bombs_are_refused(tmp_path: Path, name: str, repair: bool) -> None:
    path = svg(tmp_path / "a.svg", SVG_BOMBS[name])
    refuse(path, repair=repair)


@pytest.mark.parametrize(
    "head",
    [
        entity_bomb(),
        '<?xml version="1.0"?><!DOCTYPE svg [<!ENTITY x SYSTEM "file:///etc/hostname">]>',
        '<!DOCTYPE svg [<!ENTITY % p SYSTEM "http://127.0.0.1/x"> %p;]>',
    ],
)
def test_entities_are_refused(tmp_path: Path, head: str) -> None:
    path = tmp_path / "a.svg"
    path.write_text(f'{head}<svg xmlns="http://www.w3.org/2000/svg" width="9mm"><text>&l8;&x;</text></svg>')
    with pytest.raises(InputError, match="refused for safety"):
        read_drawing(path, limits=TIGHT)


def test_a_doctype_without_entities_is_read(tmp_path: Path) -> None:
    path = tmp_path / "a.svg"
    path.write_text(
        '<?xml version="1.0"?><!DOCTYPE svg PUBLIC "-//W3C//DTD SVG 1.1//EN" '
        '"http://www.w3.org/Graphics/SVG/1.1/DTD/svg11.dtd">'
        '<svg xmlns="http://www.w3.org/2000/svg" width="9mm" viewBox="0 0 9 9"><rect width="5" height="4"/></svg>'
    )
    assert len(read_drawing(path).outlines) == 1


def block_bomb(document: Any, space: Any) -> None:
    document.blocks.new("B0").add_circle((0, 0), 1)
    for level in range(1, 12):
        block = document.blocks.new(f"B{level}")
        for _ in range(10):
            block.add_blockref(f"B{level - 1}", (level, level))
    space.add_blockref("B11", (0, 0))


def block_loop(document: Any, space: Any) -> None:
    one, other = document.blocks.new("A"), document.blocks.new("B")
    one.add_blockref("B", (1, 1))
    other.add_blockref("A", (0, 0))
    space.add_blockref("A", (0, 0))


def deep_blocks(document: Any, space: Any) -> None:
    document.blocks.new("B0").add_circle((0, 0), 1)
    for level in range(1, 100):
        document.blocks.new(f"B{level}").add_blockref(f"B{level - 1}", (0, 0))
    space.add_blockref("B99", (0, 0))


def endless_rows(document: Any, space: Any) -> None:
    document.blocks.new("B").add_circle((0, 0), 1)
    grid = {"row_count": 30_000, "column_count": 30_000, "row_spacing": 1, "column_spacing": 1}
    space.add_blockref("B", (0, 0), dxfattribs=grid)


def huge_circles(_document: Any, space: Any) -> None:
    for _ in range(100):
        space.add_circle((0, 0), 99_000)


def wild_spline(_document: Any, space: Any) -> None:
    space.add_spline().set_uniform([((k * 7919) % 99_000, (k * 104_729) % 99_000, 0) for k in range(500)])


def shrunk_block(document: Any, space: Any) -> None:
    document.blocks.new("B").add_circle((0, 0), 1e12)
    space.add_blockref("B", (0, 0), dxfattribs={"xscale": 1e-9, "yscale": 1e9})


@pytest.mark.parametrize(
    "build", [block_bomb, block_loop, deep_blocks, endless_rows, huge_circles, wild_spline, shrunk_block]
)
@pytest.mark.parametrize("repair", [False, True])
def test_dxf_bombs_are_refused(tmp_path: Path, build: Callable[[Any, Any], object], repair: bool) -> None:
    refuse(dxf(tmp_path / "a.dxf", build), repair=repair)


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("a.json", "[" * 100_000),
        ("a.json", "[" + "[[0,0],[1,0],[1,1]]," * 10_000 + "[]]"),
        ("a.csv", "1,2\n" * 60_000),
        ("a.csv", "1" * 200_000 + ",2\n"),
        ("a.csv", '"' + "1\n" * 100_000),
        ("a.dxf", "0\n" * 200_000),
        ("a.svg", " " * 400_000),
    ],
)
def test_long_files_are_refused(tmp_path: Path, name: str, content: str) -> None:
    path = tmp_path / name
    path.write_text(content)
    refuse(path, repair=False)


def refuse(path: Path, *, repair: bool) -> None:
    start = WorkTime()
    with pytest.raises(InputError) as caught:
        read_drawing(path, units="mm", repair=repair, limits=TIGHT)
    assert start.seconds < SECONDS
    assert caught.value.file == str(path)
    assert caught.value.mend
    assert len(str(caught.value)) < 2_000
