"""Imports point down, and foreign libraries come in by one door.

The table is the layer rule; DEVELOPERS.md shows the same one.
"""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
PACKAGE = ROOT / "nestplan"
FILES = sorted(PACKAGE.rglob("*.py"))

BELOW = {
    "errors": set(),
    "resources": set(),
    "storage": {"errors"},
    "geometry": {"errors"},
    "model": {"geometry", "storage", "errors"},
    "yields": {"model", "geometry", "errors"},
    "nesting": {"yields", "model", "geometry", "errors"},
    "intake": {"model", "geometry", "storage", "errors"},
    "drawing": {"geometry", "storage", "errors", "resources"},
    "sheets": {"drawing", "yields", "model", "geometry", "storage", "errors", "resources"},
    "estimate": {"nesting", "yields", "model", "geometry", "errors"},
}
EVERY_FLOOR = set(BELOW)
BELOW["tasks"] = EVERY_FLOOR
BELOW["scripting"] = EVERY_FLOOR | {"tasks"}
BELOW["cli"] = EVERY_FLOOR | {"tasks"}
BELOW["desk"] = EVERY_FLOOR | {"tasks"}

INSIDE = {
    "nesting": [
        ["problem", "matching", "set_targets", "progress", "budget", "proofs", "leather_problem", "kept"],
        ["arrays"],
        ["candidate", "context"],
        ["construct"],
        ["search"],
        ["steps"],
        ["result"],
        ["nest", "precompile"],
    ],
    "intake": [["measured", "panels"], ["drawings", "photo"]],
    "drawing": [
        ["colors", "lettering", "primitives", "shelf_packing"],
        ["clipping", "hatching", "label_placement", "shared_cuts", "table_projection", "tiling"],
        ["pages"],
        ["booklet_builder", "dxf", "pdf", "png", "svg"],
    ],
    "sheets": [
        [
            "cautions",
            "definitions",
            "hide_styles",
            "piece_region",
            "placement_names",
            "sheet_input",
            "shopping",
            "unit_formatting",
        ],
        [
            "cutting_order",
            "inner_work",
            "lacing_diagram",
            "mate_words",
            "piece_layers",
            "placement_reasons",
            "size_words",
            "tape_positions",
            "unplaced_words",
            "template_caption",
            "work_steps",
            "work_words",
        ],
        ["captioned_template", "full_size_frame", "lacing_blocks", "piece_template"],
        ["hide_drawing", "hide_labels", "hide_pages", "legend", "number_labels"],
        ["cutting_table", "drawing_files", "projector"],
        ["buying_plot", "comparison_pages", "cut_sheet", "full_size", "job_sheet", "lesson_sheet"],
        ["photo_marks", "plan_pictures"],
        ["export_files"],
        ["catalogue"],
    ],
    "tasks": [
        ["contents", "job_edits", "output_paths", "settling"],
        ["hide_pictures"],
        ["opening"],
        ["checking", "planning", "saving", "save_conflicts", "cutting", "rack"],
        [
            "article_sizes",
            "estimating",
            "hide_kinds",
            "importing",
            "job_layers",
            "job_needs",
            "laced_work",
            "relaxations",
            "tracing",
        ],
        ["retracing", "templates"],
        ["exporting"],
    ],
    "cli": [
        ["terminal"],
        [
            "estimate_words",
            "option_values",
            "option_words",
            "photo_options",
            "piece_words",
            "plain_values",
            "plan_words",
            "progress_line",
            "size_words",
        ],
        ["template_pieces"],
        [
            "desk_command",
            "drawing_commands",
            "fit_commands",
            "lacing_commands",
            "plan_commands",
            "rack_commands",
            "sheet_commands",
            "size_commands",
        ],
        ["estimate_commands", "trace_commands"],
        ["retrace_commands"],
        ["app"],
    ],
    "intake/drawings": [
        ["layers", "polylines", "read_limits", "units"],
        ["flattening", "joining"],
        ["apparel", "coordinate_files", "dxf_shapes", "svg_shapes"],
        ["dxf", "svg"],
        ["reader"],
        ["to_model"],
    ],
    "intake/photo": [
        ["photo_drawing", "picture_file"],
        ["camera", "gaussian_mixture", "least_squares", "raster", "reading"],
        ["leather_pattern", "line_segments", "subpixel"],
        ["distortion", "quadrilaterals", "reference_corners", "sheet_evidence"],
        ["floor_lines"],
        ["reference_candidates", "sheet_sizes"],
        ["reference"],
        ["rectification"],
        ["edge_path", "markers", "outline_match", "segmentation", "template_ground"],
        ["registration", "template_edges"],
        ["template_marks"],
        ["templates"],
        ["template_lens", "template_likeness"],
        ["retrace_preview", "template_preview", "templates_to_model"],
        ["openings", "outline_checks", "pointing"],
        ["outline"],
        ["brush", "flaws"],
        ["preview", "to_model"],
    ],
    "desk": [
        ["theme", "settings", "recent_jobs", "locale_format", "messages", "navigation", "plain_text"],
        ["document"],
        ["held_piece", "sentences"],
        ["background"],
        ["table"],
        ["controls"],
        ["editing"],
        ["output"],
        ["dialogs"],
        ["actions"],
        ["pages", "panels"],
        ["session"],
        ["menus"],
        ["steps"],
        ["frame"],
        ["window"],
        ["app"],
    ],
}
"""The order inside a folder: what stands in a row may import from its own row and from those before it; folders that
share a row do not import each other."""

DOORS = {
    "PySide6": ("desk/",),
    "ezdxf": ("intake/drawings/", "drawing/dxf"),
    "svgelements": ("intake/drawings/",),
    "defusedxml": ("intake/drawings/",),
    "reportlab": ("drawing/pdf",),
    "skimage": ("intake/photo/",),
    "scipy": ("intake/photo/",),
    "numba": ("nesting/arrays/kernel_cache", "nesting/arrays/kernel_compilers"),
    "msgspec": ("model/", "cli/", "desk/", "yields/", "nesting/", "estimate/", "tasks/"),
    "typer": ("cli/",),
    "rich": ("cli/",),
    "distributed": ("estimate/workers",),
    "dask": ("estimate/workers",),
}


def imports_of(path: Path) -> list[tuple[str, bool]]:
    """(module, at module level) of every import in a file."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    top = set(map(id, tree.body))
    for node in tree.body:
        if isinstance(node, ast.If | ast.Try):
            top.update(map(id, node.body))
    found = []
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            found += [(alias.name, id(node) in top) for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            found.append((node.module or "", id(node) in top))
    return found


def folder_of(path: Path) -> str:
    return path.relative_to(PACKAGE).parts[0].removesuffix(".py")


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_imports_point_down(path: Path) -> None:
    folder = folder_of(path)
    if folder == "__init__":  # the public face
        return
    for module, at_top in imports_of(path):
        if not module.startswith("nestplan.") or module == "nestplan":
            continue
        target = module.split(".")[1]
        if target == folder:
            continue
        if folder == "cli" and target == "desk":
            assert not at_top, f"{path}: desk is opened inside its command only"
            continue
        assert target in BELOW[folder], f"{path}: {folder} may not import {target}"


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_foreign_libraries_come_in_by_their_door(path: Path) -> None:
    place = path.relative_to(PACKAGE).as_posix()
    for module, _ in imports_of(path):
        doors = DOORS.get(module.split(".")[0])
        if doors is not None:
            assert place.startswith(doors), f"{place} may not import {module}"
    if place == "desk/held_piece.py":
        assert not any(module.startswith("PySide6") for module, _ in imports_of(path))


@pytest.mark.parametrize("folder", sorted(INSIDE))
def test_imports_inside_a_folder_follow_its_order(folder: str) -> None:
    row_of = {name: row for row, names in enumerate(INSIDE[folder]) for name in names}
    inside = PACKAGE / folder
    for path in sorted(inside.rglob("*.py")):
        own = path.relative_to(inside).parts[0].removesuffix(".py")
        if own == "__init__":
            continue
        assert own in row_of, f"{path}: has no place in the order of {folder}"
        for module, _ in imports_of(path):
            if not module.startswith(f"nestplan.{folder.replace('/', '.')}."):
                continue
            target = module.split(".")[2 + folder.count("/")]
            both_folders = (inside / own).is_dir() and (inside / target).is_dir()
            allowed = row_of[target] < row_of[own] or (row_of[target] == row_of[own] and not both_folders)
            assert target == own or allowed, f"{path}: {own} may not import {target}"


def test_no_module_leads_back_to_itself() -> None:
    """Imports have no circles."""
    modules = {
        ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__"): path
        for path in FILES
    }
    imports = {name: _modules_imported(path, modules) for name, path in modules.items()}
    done: set[str] = set()

    def visit(name: str, way: tuple[str, ...]) -> None:
        assert name not in way, " -> ".join((*way[way.index(name) :], name))
        if name in done:
            return
        for target in sorted(imports[name]):
            visit(target, (*way, name))
        done.add(name)

    for name in sorted(modules):
        visit(name, ())


def _modules_imported(path: Path, modules: dict[str, Path]) -> set[str]:
    """Modules of ours that a file imports, at its head or inside a function."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            for alias in node.names:
                inner = f"{node.module}.{alias.name}"
                found.add(inner if inner in modules else node.module)
    return {name for name in found if name in modules}


def test_the_audit_shares_no_code_with_nesting_or_its_rules() -> None:
    """Whatever the audit imports, near or far, is neither nesting nor the rules that nesting obeys."""
    modules = {
        ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__"): path
        for path in FILES
    }
    reached, waiting = set(), ["nestplan.model.audit"]
    while waiting:
        module = waiting.pop()
        if module not in reached:
            reached.add(module)
            waiting += _modules_imported(modules[module], modules)
    assert "nestplan.model.audit_geometry" in reached
    assert not any(".nesting" in module or module.endswith(".rules") for module in reached), reached


def test_the_command_line_loads_nothing_heavy_before_a_command_runs() -> None:
    code = (
        "import sys, nestplan.cli.app as app; app.build_app();"
        "heavy = ('PySide6', 'numba', 'shapely', 'skimage', 'ezdxf', 'reportlab', 'scipy', 'PIL', 'distributed');"
        "print([name for name in heavy if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_everything_below_the_desk_runs_without_qt() -> None:
    code = (
        "import sys; sys.modules['PySide6'] = None\n"
        "import importlib, pkgutil, nestplan\n"
        "for found in pkgutil.walk_packages(nestplan.__path__, 'nestplan.'):\n"
        "    if not found.name.startswith('nestplan.desk'):\n"
        "        importlib.import_module(found.name)\n"
        "importlib.import_module('nestplan.desk.held_piece')\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
