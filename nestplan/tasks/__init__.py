"""What a user does, from data and files to data and files: open, search, check, compare, count, buy, cut, put back,
export, save, import, trace. One module for each family of tasks.

No window and no terminal here. A task takes data or paths, returns a typed record of what was done, raises the
errors of `nestplan.errors`, and reports progress to an observer; `cli` and `desk` ask for it and put it into words.
"""

from __future__ import annotations

__all__: list[str] = []
