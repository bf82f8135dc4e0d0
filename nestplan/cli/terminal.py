"""Words on the terminal: signs that would steer it, or turn the direction of what follows, are shown as codes.

Names come from files, and files from strangers; a name must not move the cursor, colour the text, or make a line read
otherwise than it is.
"""

from __future__ import annotations

import os
import re
import sys
from typing import TYPE_CHECKING, Any

import typer

if TYPE_CHECKING:
    from nestplan.model.cut_journal import RackRepair

__all__ = ["harmless", "say", "say_json", "say_repair"]

_STEERING = re.compile(
    "[\x00-\x08\x0b-\x1f\x7f-\x9f"  # control codes but for tab and line end
    "\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069"  # direction marks (Unicode, UAX 9)
    "\u2028\u2029\ufeff\ud800-\udfff\ufff9-\ufffb\U000e0000-\U000e007f]"  # line ends, unseen marks, halves of pairs
)
_STEERING_IN_A_LINE = re.compile(f"\n|{_STEERING.pattern}")


def harmless(text: str, *, lines: bool = False) -> str:
    """The text with each steering sign as its code, such as `\\u001b`; in JSON that means the same sign.

    A line end is one too, for a name with one could put words of its own on a line of their own, unless the text is
    meant to have several `lines`.
    """
    return (_STEERING if lines else _STEERING_IN_A_LINE).sub(lambda found: _code(ord(found[0])), text)


def _code(number: int) -> str:
    if number <= 0xFFFF:
        return f"\\u{number:04x}"
    # As JSON writes it: two halves of a pair.
    high, low = divmod(number - 0x10000, 0x400)
    return f"\\u{0xD800 + high:04x}\\u{0xDC00 + low:04x}"


def say(words: object, *, err: bool = False, nl: bool = True, lines: bool = False) -> None:
    """Print words on standard output, or with `err` on standard error: a line, or several `lines` such as a table.

    Where whoever read them has left, as `head` does, nothing is said any more, and the work goes on to its end.
    """
    try:
        typer.echo(harmless(str(words), lines=lines), err=err, nl=nl)
    except BrokenPipeError:
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, (sys.stderr if err else sys.stdout).fileno())
        os.close(nowhere)


def say_json(value: Any) -> None:
    """Print a value as JSON."""
    import msgspec

    # Lengths and thicknesses that remember how they were written are numbers too: mm.
    text = msgspec.json.encode(value, enc_hook=float)
    say(msgspec.json.format(text, indent=2).decode(), lines=True)


def say_repair(repair: RackRepair) -> None:
    """Tell on standard error what was put right in a rack."""
    what = f"'{repair.plan}', {repair.date[:10]}"
    if repair.was == "cut":
        say(
            f"A cut ({what}) in {repair.folder} had broken off; its files were put back. Book it again.",
            err=True,
        )
    else:
        say(f"An undo of a cut ({what}) in {repair.folder} had broken off; it was finished.", err=True)
