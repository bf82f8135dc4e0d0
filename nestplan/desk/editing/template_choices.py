"""What a person has said so far of the templates in a photograph, each word of it a step that can be undone."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from nestplan.intake.photo.templates_to_model import Meaning
    from nestplan.model.piece import Piece
    from nestplan.tasks.templates import TemplatePhoto

__all__ = ["TemplateChoices", "TemplateTalk"]


@dataclass(frozen=True)
class TemplateChoices:
    """What was said: by a template's number its `names`, mended `outlines` (mm on the ground), whether it is
    `left_out` or made `symmetric`; what drawn marks mean by group; whether mirror images are joined."""

    names: Mapping[int, str] = field(default_factory=dict)
    outlines: Mapping[int, NDArray[np.float64]] = field(default_factory=dict)
    left_out: frozenset[int] = frozenset()
    symmetric: frozenset[int] = frozenset()
    meanings: Mapping[str, Meaning] = field(default_factory=dict)
    join_pairs: bool = False


class TemplateTalk:
    """The templates that were read and what is said of them, with undo and redo."""

    def __init__(self, read: TemplatePhoto) -> None:
        self.read = read
        self.choices = TemplateChoices()
        self._before: list[tuple[str, TemplateChoices]] = []
        self._after: list[tuple[str, TemplateChoices]] = []

    def say(self, words: str, **changes: object) -> None:
        """Change what is said, as one step called `words`."""
        self._before.append((words, self.choices))
        self._after.clear()
        self.choices = replace(self.choices, **changes)  # type: ignore[arg-type]

    def undo(self) -> str:
        """Take the last step back; gives its words, or none."""
        return self._step(self._before, self._after)

    def redo(self) -> str:
        """Do a step again that was taken back; gives its words, or none."""
        return self._step(self._after, self._before)

    def _step(
        self, source: list[tuple[str, TemplateChoices]], target: list[tuple[str, TemplateChoices]]
    ) -> str:
        if not source:
            return ""
        words, choices = source.pop()
        target.append((words, self.choices))
        self.choices = choices
        return words

    def name(self, number: int) -> str:
        """What a template is called."""
        return self.choices.names.get(number, self.read.letters[number])

    def outline(self, number: int) -> NDArray[np.float64]:
        """A template's outline (n, 2), mm on the ground, as it was mended."""
        return self.choices.outlines.get(number, self.read.found[number].outline)

    @property
    def open_groups(self) -> tuple[str, ...]:
        """The groups of drawn marks whose meaning is not said, of templates that are taken."""
        drawn = {
            spot.group
            for number, each in enumerate(self.read.found)
            if number not in self.choices.left_out
            for spot in each.inside.spots
        }
        return tuple(sorted(drawn - set(self.choices.meanings)))

    def pieces(self) -> tuple[Piece, ...]:
        """The pieces as they were answered for.

        Raises InputError if two have one name, ShapeError if a mended outline crosses itself or leaves a mark outside.
        """
        from nestplan.intake.photo.templates_to_model import TemplateAnswers
        from nestplan.tasks.templates import TemplatePhoto, pieces_of

        read, said = self.read, self.choices
        found = tuple(
            replace(each, outline=said.outlines[number]) if number in said.outlines else each
            for number, each in enumerate(read.found)
        )
        pairs = read.pairs if said.join_pairs else ()
        answers = TemplateAnswers(
            names=said.names,
            meanings=said.meanings,
            pairs=tuple((first, second) for first, second, _ in pairs if not {first, second} & said.left_out),
            symmetric={number: read.axes[number] for number in said.symmetric if number not in said.outlines},
            left_out=said.left_out,
        )
        return pieces_of(TemplatePhoto(read.photo, read.straight, found, read.warnings), answers)
