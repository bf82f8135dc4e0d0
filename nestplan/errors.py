"""The one error tree. Every error says what is wrong, where, and how to mend it.

    NestplanError
      InputError (ValueError)     the user can mend the file or figure
        UnitError                 a length or area whose unit is missing or has two meanings
        ShapeError                an outline that crosses itself, has too few points, lies outside …
        VersionError              a file written by a newer nestplan
      RuleError (ValueError)      the job asks what the hides or the rules cannot give
      Cancelled                   the user stopped; carries the best result so far
      WrongPlanError              our own plan failed its audit: a bug in nestplan

Lower layers raise; `cli` and `desk.window` are the only places that put an error into words for people.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any, Literal, Self

__all__ = [
    "Cancelled",
    "InputError",
    "NestplanError",
    "RuleError",
    "ShapeError",
    "UnitError",
    "VersionError",
    "WrongPlanError",
    "told_length",
]

_LENGTH = re.compile("\x00(-?[0-9]+(?:\\.[0-9]+)?(?:e[-+]?[0-9]+)?|-?inf|nan)\x00")
"""As `told_length` writes it. Words from a file may stand between the same signs, which are left as they are."""
_MM_PER_INCH = 25.4


def told_length(mm: float) -> str:
    """A length in the words of an error: in mm, unless these are told in another unit (`NestplanError.told_in`)."""
    return f"\x00{float(mm)!r}\x00"


class NestplanError(Exception):
    """Base of every error nestplan raises on purpose.

    `what` is the fault in one sentence, `mend` what to do about it. `file` and `place` (a key path such as
    `pieces[2].outline`, a line, or a spot in mm) may be filled in by a caller that knows them: see `within`.
    """

    def __init__(self, what: str, *, mend: str = "", place: str = "", file: str = "") -> None:
        self._words = (what, mend)
        self._units: Literal["mm", "in"] = "mm"
        super().__init__(_with_lengths(what, "mm"))
        self.what = _with_lengths(what, "mm")
        self.mend = _with_lengths(mend, "mm")
        self.place = place
        self.file = file

    def told_in(self, units: Literal["mm", "in"]) -> Self:
        """The same error with the lengths in its words in another unit."""
        what, mend = self._words
        if self.what == _with_lengths(what, self._units):
            self.what = _with_lengths(what, units)
        if self.mend == _with_lengths(mend, self._units):
            self.mend = _with_lengths(mend, units)
        self._units = units
        return self

    def within(self, place: str = "", *, file: str = "") -> Self:
        """The same error with its place set inside `place`, and its file set if it had none."""
        if place:
            joint = "" if not self.place or self.place.startswith("[") else "."
            self.place = f"{place}{joint}{self.place}"
        self.file = self.file or file
        return self

    def __str__(self) -> str:
        where = ", ".join(part for part in (self.file, self.place) if part)
        text = f"{where}: {self.what}" if where else self.what
        return f"{text} {self.mend}" if self.mend else text

    def __reduce__(self) -> tuple[Any, ...]:
        # Keyword arguments would be lost when a worker process hands the error back.
        return (_rebuild, (type(self), self.what, self.__dict__))


class InputError(NestplanError, ValueError):
    """Something the user gave cannot be taken as it is, and the user can mend it."""


class UnitError(InputError):
    """A length, area or thickness whose unit is missing, unknown or has two meanings."""


class ShapeError(InputError):
    """An outline that is no simple closed shape, or lies where it may not."""


class VersionError(InputError):
    """A file written by a newer nestplan than this one."""


class RuleError(NestplanError, ValueError):
    """The job asks for something that the hides or the rules cannot give."""


class Cancelled(NestplanError):  # noqa: N818 - not a fault: the user's own wish
    """The user stopped the work. `best` is the best result so far, or None."""

    def __init__(self, what: str = "Stopped.", *, best: Any = None) -> None:
        super().__init__(what)
        self.best = best


class WrongPlanError(NestplanError):
    """The audit refused a plan that nestplan made itself: a bug. `faults` are the audit's findings."""

    def __init__(self, what: str, *, faults: Sequence[object] = (), mend: str = "") -> None:
        super().__init__(
            what, mend=mend or "This is a fault in nestplan: please report it with the job and hide files."
        )
        self.faults = tuple(faults)


def _with_lengths(words: str, units: str) -> str:
    def shown(length: re.Match[str]) -> str:
        mm = float(length[1])
        number, sign = (f"{mm / _MM_PER_INCH:.2f}", "in") if units == "in" else (f"{mm:.1f}", "mm")
        return f"{number.rstrip('0').rstrip('.')} {sign}"

    return _LENGTH.sub(shown, words)


def _rebuild(kind: type[NestplanError], what: str, fields: dict[str, Any]) -> NestplanError:
    error = kind(what)
    error.__dict__.update(fields)
    return error
