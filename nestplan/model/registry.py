"""A list of named records that the program reads instead of naming each one: goals, kinds of flaw, kinds of mark."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Generic, Protocol, TypeVar

__all__ = ["Registry"]


class _Named(Protocol):
    @property
    def name(self) -> str: ...


Entry = TypeVar("Entry", bound=_Named)


class Registry(Generic[Entry]):
    """Records by their names, in the order in which they were registered."""

    def __init__(self, *entries: Entry) -> None:
        self._entries: dict[str, Entry] = {}
        for entry in entries:
            self.register(entry)

    def register(self, entry: Entry) -> None:
        """Add a record at the end. Raises ValueError if its name is taken."""
        if entry.name in self._entries:
            raise ValueError(f"'{entry.name}' is registered already")
        self._entries[entry.name] = entry

    def unregister(self, name: str) -> None:
        """Take a record out. Raises KeyError if there is none of that name."""
        del self._entries[name]

    @property
    def names(self) -> tuple[str, ...]:
        """The names in their order."""
        return tuple(self._entries)

    def __getitem__(self, name: str) -> Entry:
        return self._entries[name]

    def __contains__(self, name: object) -> bool:
        return name in self._entries

    def __iter__(self) -> Iterator[Entry]:
        return iter(tuple(self._entries.values()))

    def __len__(self) -> int:
        return len(self._entries)
