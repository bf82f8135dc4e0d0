"""The command line: commands, their words, and errors told to people. No Qt unless `desk` is asked for."""

from __future__ import annotations

from nestplan.cli.app import main

__all__ = ["main"]
