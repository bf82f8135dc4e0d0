"""Values typed after a command that need no library to be read: words, paths and plain numbers.

The library for the command line may load another one, a tenth of a short run, to read any value whatever. What is
plain is read here; all else, and all that is wrong, is left to the library and its words.
"""

from __future__ import annotations

import os
import re
from pathlib import Path
from typing import Any, get_args, get_origin

__all__ = ["read_plain_values"]

_PLAIN_NUMBER = {int: re.compile(r"\d{1,9}", re.ASCII), float: re.compile(r"\d{1,9}(\.\d{1,9})?", re.ASCII)}
_PATH_REQUESTS = ("exists", "writable", "resolve_path", "allow_dash", "path_type", "parser", "click_type")
"""What may be asked of a path or of its reading that is left to the library."""


def read_plain_values(command: Any) -> None:
    """Have the parameters of a command, and of those below it, read plain values without the library's help."""
    # With `--help`, which each command makes when it is first asked for.
    for parameter in command.get_params(command.context_class(command)):
        # Other versions of the library read values in another way, and need nothing here.
        if hasattr(parameter, "get_runtime_param") and hasattr(parameter, "type_descriptor"):
            parameter.get_runtime_param = _PlainFirst(parameter).itself
    for each in getattr(command, "commands", {}).values():
        read_plain_values(each)


class _PlainFirst:
    """Reads the values of one parameter: plain ones by itself, others as the library does."""

    def __init__(self, parameter: Any) -> None:
        self._parameter = parameter

    def itself(self) -> _PlainFirst:
        return self

    def coerce(self, value: Any, *, param: Any, ctx: Any) -> Any:
        """The value in the type of its parameter. Raises what the library raises for a wrong one."""
        several = param.multiple or param.nargs == -1
        if value is None:
            return () if several else None
        told, kind = param.type_descriptor.parameter_info, param.type_descriptor.annotation
        if several and get_origin(kind) is list and isinstance(value, list | tuple):
            (kind,) = get_args(kind)
            plain = [_plain_value(each, kind, told) for each in value]
            if None not in plain:
                return plain
        elif not several and (read := _plain_value(value, kind, told)) is not None:
            return read
        return type(param).get_runtime_param(param).coerce(value, param=param, ctx=ctx)


def _plain_value(value: Any, kind: Any, told: Any) -> Any:
    """The value in its type, None where it is not plain."""
    if any(getattr(told, request, None) for request in _PATH_REQUESTS):
        return None
    if kind is str and isinstance(value, str):
        return value
    if kind is Path and isinstance(value, str | Path):
        return _plain_path(Path(value), told)
    if kind in _PLAIN_NUMBER:
        return _plain_number(value, kind, told)
    return None


def _plain_path(path: Path, told: Any) -> Path | None:
    """A path of something that is not there yet, or may be read."""
    if not (told.file_okay and told.dir_okay and "\0" not in str(path)):
        return None
    return path if not os.path.exists(path) or os.access(path, os.R_OK) else None


def _plain_number(value: Any, kind: Any, told: Any) -> Any:
    """A number without sign and exponent, between the least and the greatest that the parameter takes."""
    if isinstance(value, str) and _PLAIN_NUMBER[kind].fullmatch(value):
        value = kind(value)
    if type(value) is not kind or told.clamp:
        return None
    low, high = told.min, told.max
    return value if (low is None or value >= low) and (high is None or value <= high) else None
