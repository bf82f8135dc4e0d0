"""Write resources/schema anew from the model: `python -m tests.write_schemas`."""

from __future__ import annotations

from pathlib import Path

from nestplan.model import Hide, Job, Plan
from nestplan.model.files import schema
from nestplan.storage import write_atomically

FOLDER = Path(__file__).resolve().parent.parent / "resources" / "schema"
KINDS = {"hide": Hide, "job": Job, "plan": Plan}


def main() -> None:
    FOLDER.mkdir(parents=True, exist_ok=True)
    for name, kind in KINDS.items():
        write_atomically(FOLDER / f"{name}.schema.json", schema(kind))


if __name__ == "__main__":
    main()
