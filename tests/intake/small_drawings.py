"""Small drawing files built by hand or by ezdxf, by name; each is easy to check on paper."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import ezdxf

from nestplan.geometry.ring import area
from nestplan.intake.drawings.reader import Drawing

#: $INSUNITS of the DXF reference.
INCHES, MILLIMETRES, CENTIMETRES, UNITLESS = 1, 4, 5, 0


def dxf(
    path: Path, build: Callable[[Any, Any], object], *, units: int = MILLIMETRES, version: str = "R2010"
) -> Path:
    """A DXF file; `build(document, modelspace)` draws it."""
    document = ezdxf.new(version)
    document.header["$INSUNITS"] = units
    build(document, document.modelspace())
    document.saveas(path)
    return path


def svg(path: Path, body: str, *, size: str = 'width="200mm" height="100mm" viewBox="0 0 200 100"') -> Path:
    """An SVG file of 200 × 100 mm whose user unit is 1 mm, unless `size` says otherwise."""
    head = f'<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" {size}>'
    path.write_text(f"{head}{body}</svg>", encoding="utf-8")
    return path


def areas(drawing: Drawing) -> list[float]:
    """Net areas of a drawing's outlines, mm², the largest first."""
    nets = [area(each.ring) - sum(area(hole.ring) for hole in each.holes) for each in drawing.outlines]
    return sorted(nets, reverse=True)
