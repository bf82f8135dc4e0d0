"""Damaged drawings of every format: whatever bytes are wrong, only an InputError comes out, with file and mend."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from nestplan.errors import InputError
from nestplan.intake.drawings.to_model import read_piece_drawing
from tests.intake.small_drawings import dxf, svg

pytestmark = pytest.mark.security

WORDS = [
    b"nan",
    b"inf",
    b"1e999",
    b"-1",
    b"9" * 30,
    b"0",
    b"1e-300",
    b"\x00",
    b"\xff",
    b"&a;",
    b"[[[[",
    b"null",
    b"\n",
]
DAMAGES = 40


def sound(folder: Path, suffix: str) -> Path:
    path = folder / f"sound{suffix}"
    if suffix == ".dxf":

        def build(document: Any, space: Any) -> None:
            block = document.blocks.new("B")
            block.add_lwpolyline(
                [(0, 0, 0), (100, 0, 0.5), (100, 60, 0), (0, 60, 0)], format="xyb", close=True
            )
            block.add_circle((20, 20), 2)
            space.add_blockref("B", (5, 5), dxfattribs={"rotation": 20, "xscale": 2})
            space.add_spline([(300, 0), (330, 30), (360, 0), (330, -30), (300, 0)])

        return dxf(path, build)
    if suffix == ".svg":
        return svg(
            path,
            "<defs><path id='p' d='M0 0h20v10a5 5 0 0 1 -5 5h-15z'/></defs><g id='outline' transform='rotate(5)'>"
            "<rect width='50' height='40' rx='5'/><circle cx='9' cy='9' r='2'/></g><use href='#p' x='90'/>",
        )
    if suffix == ".csv":
        path.write_text("x_mm,y_mm,ring\n0,0,a\n100,0,a\n100,50,a\n0,50,a\n10,10,b\n20,10,b\n20,20,b\n")
    else:
        square = [[0, 0], [10, 0], [10, 10], [0, 10], [0, 0]]
        feature = {
            "type": "Feature",
            "properties": {},
            "geometry": {"type": "Polygon", "coordinates": [square]},
        }
        path.write_text(json.dumps({"type": "FeatureCollection", "units": "in", "features": [feature]}))
    return path


@pytest.mark.parametrize("suffix", [".csv", ".dxf", ".geojson", ".svg"])
@pytest.mark.parametrize("repair", [False, True])
def test_damaged_bytes_never_come_out_as_anything_but_an_input_error(
    tmp_path: Path, suffix: str, repair: bool
) -> None:
    whole = sound(tmp_path, suffix).read_bytes()
    assert read_piece_drawing(tmp_path / f"sound{suffix}")
    rng = np.random.default_rng(5)
    refused: list[InputError] = []
    for _ in range(DAMAGES):
        content = bytearray(whole)
        for _ in range(int(rng.integers(1, 5))):
            at, kind = int(rng.integers(len(content))), int(rng.integers(4))
            if kind == 0:
                content[at] = int(rng.integers(256))
            elif kind == 1:
                del content[at : at + int(rng.integers(1, min(200, len(content) - 1)))]
            elif kind == 2:
                other = int(rng.integers(len(content)))
                content[at:at] = content[other : other + int(rng.integers(1, 200))]
            else:
                word = WORDS[int(rng.integers(len(WORDS)))]
                content[at : at + len(word)] = word
            if len(content) < 3:
                break
        path = tmp_path / f"damaged{suffix}"
        path.write_bytes(content)
        try:
            read_piece_drawing(path, repair=repair)
        except InputError as error:
            refused.append(error)
    assert refused
    assert {error.file for error in refused} == {str(tmp_path / f"damaged{suffix}")}
    assert all(error.mend or error.place for error in refused)
