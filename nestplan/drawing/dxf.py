"""A drawing as DXF (R2010, millimetres, one named layer for each of ours).

Closed outlines become closed polylines, circles true circles, open lines polylines, texts texts. Patterns and
fills are not written: a plotter or a blade would follow them.
"""

from __future__ import annotations

import io
import math
from collections.abc import Iterable, Mapping
from pathlib import Path

import ezdxf
from ezdxf.document import Drawing
from ezdxf.enums import TextEntityAlignment
from ezdxf.layouts import Modelspace

from nestplan.drawing.lettering import CAP_HEIGHT
from nestplan.drawing.primitives import Circle, Primitive, Text
from nestplan.storage import write_atomically

__all__ = [
    "MILLIMETRES",
    "dxf_document",
    "write_dxf",
]

MILLIMETRES = 4
"""What $INSUNITS says for millimetres (DXF reference)."""
_ALIGN = {
    "left": TextEntityAlignment.LEFT,
    "middle": TextEntityAlignment.CENTER,
    "right": TextEntityAlignment.RIGHT,
}


def write_dxf(
    items: Iterable[Primitive], path: str | Path, *, layer_colors: Mapping[str, int] | None = None
) -> None:
    """Write the drawing to `path`, whole or not at all, its entities in the order given.

    `layer_colors` gives layers their DXF colour index (ACI, 1-255); others get 7, black or white.

    Raises InputError if it cannot be written.
    """
    document = dxf_document(items, layer_colors=layer_colors)
    stream = io.StringIO()
    document.write(stream)
    write_atomically(path, stream.getvalue().encode(document.output_encoding, errors="replace"))


def dxf_document(items: Iterable[Primitive], *, layer_colors: Mapping[str, int] | None = None) -> Drawing:
    """The drawing as an ezdxf document: `$INSUNITS` millimetres, `$MEASUREMENT` metric."""
    document = ezdxf.new("R2010", setup=False)
    document.units = MILLIMETRES
    document.header["$MEASUREMENT"] = 1
    space = document.modelspace()
    for item in items:
        layer = item.layer or "0"
        if layer not in document.layers:
            document.layers.add(layer, color=(layer_colors or {}).get(layer, 7))
        _draw(space, item, layer)
    return document


def _draw(space: Modelspace, item: Primitive, layer: str) -> None:
    looks = {"layer": layer}
    if isinstance(item, Circle):
        space.add_circle((item.x, item.y), item.radius, dxfattribs=looks)
    elif isinstance(item, Text):
        words = "".join(letter for letter in item.words if letter >= " ")
        entity = space.add_text(
            words, height=item.size * CAP_HEIGHT, rotation=math.fmod(item.angle, 360.0), dxfattribs=looks
        )
        entity.set_placement((item.x, item.y), align=_ALIGN[item.anchor])
    else:
        for ring in item.rings:
            if len(ring) == 2 and not item.closed:
                space.add_line(tuple(ring[0]), tuple(ring[1]), dxfattribs=looks)
            else:
                space.add_lwpolyline(ring.tolist(), close=item.closed, dxfattribs=looks)
