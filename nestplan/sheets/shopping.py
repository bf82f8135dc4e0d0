"""What a job sheet needs to know of supplies, as shapes of data: whoever counts them hands them in.

The counting itself (hardware, thread, glue, lace, waiting times, costs) is an estimate's work and not known here;
any object with these fields will do.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

from nestplan.sheets.unit_formatting import LengthUnit

__all__ = ["ArticleLine", "LeatherLine", "ShoppingLines", "StackLine", "StackWords", "SupplyLine", "ToolLine"]


class SupplyLine(Protocol):
    """So much of something: `amount` in `unit`, the price of one unit and of all, or None.

    `cut` tells what comes from the job's own leather.
    """

    @property
    def what(self) -> str: ...
    @property
    def amount(self) -> float: ...
    @property
    def unit(self) -> str: ...
    @property
    def price(self) -> float | None: ...
    @property
    def cost(self) -> float | None: ...
    @property
    def cut(self) -> bool: ...


class StackWords(Protocol):
    """A glued stack of layers and its thickness in words."""

    @property
    def layers(self) -> Sequence[object]: ...
    def in_words(self, units: LengthUnit) -> str: ...


class StackLine(Protocol):
    """The stack of one piece, and what to look at again in it."""

    @property
    def piece(self) -> str: ...
    @property
    def stack(self) -> StackWords: ...
    @property
    def warnings(self) -> Sequence[str]: ...


class ArticleLine(Protocol):
    """One set of an article: its supplies, sewn length in mm, glued joint in mm², labour and cost in money."""

    @property
    def article(self) -> str: ...
    @property
    def sets(self) -> int: ...
    @property
    def per_set(self) -> Sequence[SupplyLine]: ...
    @property
    def seam(self) -> float: ...
    @property
    def glued(self) -> float: ...
    @property
    def labour(self) -> float: ...
    @property
    def cost(self) -> float: ...


class LeatherLine(Protocol):
    """What is cut for one layer: areas in mm², finished and with what is trimmed; the leather and thickness asked."""

    @property
    def layer(self) -> str: ...
    @property
    def leather(self) -> Sequence[str]: ...
    @property
    def thickness(self) -> tuple[float, float] | None: ...
    @property
    def net(self) -> float: ...
    @property
    def cut(self) -> float: ...


class ToolLine(Protocol):
    """A tool, how many of it, and what it is for."""

    @property
    def tool(self) -> str: ...
    @property
    def number(self) -> int: ...
    @property
    def what_for(self) -> str: ...


class ShoppingLines(Protocol):
    """The whole job's leather, supplies and tools."""

    @property
    def leather(self) -> Sequence[LeatherLine]: ...
    @property
    def tools(self) -> Sequence[ToolLine]: ...

    @property
    def articles(self) -> Sequence[ArticleLine]: ...
    @property
    def totals(self) -> Sequence[SupplyLine]: ...
    @property
    def stacks(self) -> Sequence[StackLine]: ...
    @property
    def waits(self) -> Sequence[str]: ...
    @property
    def warnings(self) -> Sequence[str]: ...
    @property
    def cost(self) -> float: ...
    @property
    def unpriced(self) -> Sequence[str]: ...
