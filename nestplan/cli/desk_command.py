"""The command that opens the window: `desk`."""

from __future__ import annotations

from pathlib import Path

import typer

__all__ = ["register"]


def register(app: typer.Typer) -> None:
    """Add the command `desk`."""

    @app.command(short_help="Open the window.")
    def desk(
        files: list[Path] = typer.Argument(
            None, help="Hides, jobs, plans, drawings, photographs or folders to open.", exists=True
        ),
    ) -> None:
        """Open the window: draw hides and pieces, see the plan, change it with your hands."""
        from nestplan.desk import open_desk

        raise typer.Exit(open_desk(files or ()))
