"""What a job sheet needs to know of supplies, as shapes of data: whoever counts them hands them in.

The counting itself (hardware, thread, glue, lace, waiting times, costs) is an estimate's work and not known here;
any object with these fields will do.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

__all__ = ["ArticleLine", "ShoppingLines", "StackLine", "StackWords", "SupplyLine"]


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
    @property
    def words(self) -> str: ...


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


class ShoppingLines(Protocol):
    """The whole job's supplies."""

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
