"""Which layer of a drawing means what: a small table that the user can edit, and the words we guess from.

A table is a CSV file of two columns, `layer` (a name, `*` and `?` stand for any letters) and `role`. Rows are
tried from the top; a layer that no row names falls back to the usual words below, then to its place in the
drawing (an outermost ring is an outline, a ring inside it a hole). Nothing here reads drawings.
"""

from __future__ import annotations

import csv
import fnmatch
import io
from collections.abc import Iterable, Mapping
from pathlib import Path

from nestplan.errors import InputError
from nestplan.model.flaw_kinds import FLAW_KINDS
from nestplan.storage import read_regular_file

__all__ = [
    "FRAME_LAYER",
    "NO_LAYER",
    "LayerTable",
    "check_table",
    "is_left_out_unasked",
    "layer_roles",
    "layer_table_text",
    "read_layer_table",
    "role_of",
    "usual_layers",
]

LayerTable = Mapping[str, str]

_ROLES_BEFORE_FLAWS: dict[str, str] = {
    "outline": "the edge of a hide or of a piece",
    "hole": "an opening: a circle is a hole to punch, any other ring an inner edge",
    "mark": "a spot, a line or a slit marked on a piece",
    "slit": "a slit to cut in a piece",
    "part": "a part of a piece with demands of its own",
}
_ROLES_AFTER_FLAWS: dict[str, str] = {
    "region": "a region of a hide, named by its shape or its layer",
    "backbone": "the line of the spine, drawn from neck to tail",
    "stretch": "a line in the direction in which the leather gives, or is to give, most",
    "ignore": "nothing for us",
}

_USUAL_BEFORE_FLAWS: dict[str, str] = {
    "outline*": "outline",
    "edge*": "outline",
    "hole*": "hole",
    "punch*": "hole",
    "slit*": "slit",
    "mark*": "mark",
    "spot*": "mark",
    "fold*": "mark",
    "stitch*": "mark",
    "part*": "part",
}
_USUAL_AFTER_FLAWS: dict[str, str] = {
    "region*": "region",
    "backbone*": "backbone",
    "spine*": "backbone",
    "stretch*": "stretch",
    "ignore*": "ignore",
    "note*": "ignore",
    "text*": "ignore",
    "dim*": "ignore",
    "defpoints": "ignore",
    "construct*": "ignore",
    "frame*": "ignore",
    "guide*": "ignore",
}

NO_LAYER = "(none)"
"""What a table calls things that lie on no layer."""
FRAME_LAYER = "(frame)"
"""What a table calls the rectangles that go round all else, on whatever layer they are drawn; they can but be left
out."""

_MOST_ROWS = 1000
_MOST_BYTES = 1 << 20


def layer_roles() -> dict[str, str]:
    """The roles a layer can have, each with what lies on such a layer; every kind of flaw has its own."""
    flaws = {kind.layer: kind.layer_words for kind in FLAW_KINDS}
    return {**_ROLES_BEFORE_FLAWS, **flaws, **_ROLES_AFTER_FLAWS}


def usual_layers() -> dict[str, str]:
    """Layer words taken for granted when no table says otherwise, with their roles; upper and lower case are the
    same."""
    flaws = {pattern: kind.layer for kind in FLAW_KINDS for pattern in kind.layer_patterns}
    return {**_USUAL_BEFORE_FLAWS, **flaws, **_USUAL_AFTER_FLAWS}


def role_of(layer: str, table: LayerTable | None) -> str:
    """The role of a layer: by the user's table, else by the usual words, else `""` (judged by its place)."""
    name = layer.strip().lower() or NO_LAYER
    for rows in (table or {}, usual_layers()):
        for pattern, role in rows.items():
            if fnmatch.fnmatchcase(name, pattern.strip().lower()):
                return role
    return ""


def is_left_out_unasked(layer: str, table: LayerTable | None) -> bool:
    """Whether a layer is left out by its usual word alone, and may yet hold what is wanted."""
    asked = table is not None and any(
        fnmatch.fnmatchcase(layer.strip().lower() or NO_LAYER, pattern.strip().lower()) for pattern in table
    )
    return not asked and role_of(layer, table) == "ignore" and layer.strip().lower() != "defpoints"


def check_table(table: LayerTable) -> None:
    """Raise InputError if a role is unknown."""
    for pattern, role in table.items():
        if role not in layer_roles() and role != "":
            raise InputError(
                f"The layer '{pattern}' is given the role '{role}', which is none.",
                mend=f"Take one of: {', '.join(layer_roles())}; or leave it empty to judge by place.",
                place=f"layers[{pattern}]",
            )


def read_layer_table(path: str | Path) -> dict[str, str]:
    """The table in a CSV file. Raises InputError with file and line."""
    path = Path(path)
    content = read_regular_file(path, most_bytes=_MOST_BYTES, too_large="Give a table of fewer layers.")
    try:
        # Line ends of every system are made one.
        rows = list(csv.reader(io.StringIO(content.decode("utf-8-sig"), newline=None)))
    except (UnicodeDecodeError, csv.Error) as error:
        raise InputError(
            f"The table of layers cannot be read ({error}).",
            mend="Give a CSV file of two columns, layer and role.",
            file=str(path),
        ) from error
    table: dict[str, str] = {}
    for line, row in enumerate(rows, start=1):
        cells = [cell.strip() for cell in row]
        if not any(cells) or cells[0].startswith("#") or [c.lower() for c in cells[:2]] == ["layer", "role"]:
            continue
        if len(cells) < 2 or not cells[0] or line > _MOST_ROWS:
            raise InputError(
                "A row of the table needs a layer and a role."
                if line <= _MOST_ROWS
                else "The table is too long.",
                mend="Write one layer a line, a comma, and its role.",
                place=f"line {line}",
                file=str(path),
            )
        role = cells[1].lower()
        table[cells[0]] = role
        try:
            check_table({cells[0]: role})
        except InputError as error:
            error.place = f"line {line}"
            raise error.within(file=str(path)) from None
    return table


def layer_table_text(layers: Iterable[str], table: LayerTable | None = None) -> str:
    """A table (CSV text) of the given layers with the roles they would be read with, for the user to edit."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(["layer", "role"])
    out.write(f"# roles: {' '.join(layer_roles())}; empty: judged by its place\n")
    for layer in sorted(set(layers)):
        writer.writerow([layer or NO_LAYER, role_of(layer, table)])
    return out.getvalue()
