"""Where the files that come with nestplan lie: schemas, fonts, the guide, icons, the demo's hides.

An installed package carries them inside itself; a source tree has them beside the package.
"""

from __future__ import annotations

from pathlib import Path

__all__ = ["demo_folder", "resource"]

_PACKAGE = Path(__file__).resolve().parent


def resource(*parts: str) -> Path:
    """Path of a file or folder below resources, such as `resource("schema", "hide.schema.json")`.

    Errors: FileNotFoundError if the installation is incomplete.
    """
    return _find("_resources", "resources").joinpath(*parts)


def demo_folder() -> Path:
    """The folder with the demo's job and hides (the invented Quillmere harvest pageant)."""
    return _find("_demo_hides", "demo_hides")


def _find(installed: str, beside: str) -> Path:
    for folder in (_PACKAGE / installed, _PACKAGE.parent / beside):
        if folder.is_dir():
            return folder
    raise FileNotFoundError(f"nestplan is not fully installed: its {beside} folder is missing.")
