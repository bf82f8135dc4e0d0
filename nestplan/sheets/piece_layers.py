"""A piece with those of its layers that one template serves: layers to which the same is done share a template."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from nestplan.model import Article, LayerCut, Piece, Plan
from nestplan.model.layer_work import LayerWork, work_at_table, work_drawn_for_later

__all__ = ["PieceLayers", "PlannedOvercuts", "piece_layers", "planned_overcuts"]

PlannedOvercuts = Mapping[tuple[str, str], float]
"""The widest overcut that a plan gave to each piece and layer, mm."""


@dataclass(frozen=True)
class PieceLayers:
    """A piece of an article and the layers that one template serves."""

    article: Article
    piece: Piece
    cuts: tuple[LayerCut, ...]

    @property
    def title(self) -> str:
        """The piece's name, with the layers where they are not all of its layers."""
        if len(self.cuts) == len(self.piece.cuts):
            return self.piece.name
        return ", ".join((self.piece.name, *(cut.layer for cut in self.cuts)))

    @property
    def at_table(self) -> LayerWork:
        """What is done to each of these layers at the table."""
        return work_at_table(self.piece, self.cuts[0].layer)

    @property
    def for_later(self) -> LayerWork:
        """What is drawn on them, to be done once all layers are glued and trimmed."""
        return work_drawn_for_later(self.piece, self.cuts[0].layer)

    def least_overcuts(self) -> dict[float, list[str]]:
        """The layers that are cut wider than the finished line, by their least overcut in mm."""
        layers: dict[float, list[str]] = {}
        for cut in self.cuts:
            if cut.overcut is not None and cut.overcut.least > 0.0:
                layers.setdefault(cut.overcut.least, []).append(cut.layer)
        return layers

    def widest_overcuts(self, planned: PlannedOvercuts) -> dict[float, list[str]]:
        """The layers that may be cut wider than their least overcut, by the widest in mm: as planned, or as wished."""
        layers: dict[float, list[str]] = {}
        for cut in self.cuts:
            if cut.overcut is None:
                continue
            widest = planned.get((self.piece.name, cut.layer), cut.overcut.wished)
            if widest > cut.overcut.least + 1e-6:
                layers.setdefault(widest, []).append(cut.layer)
        return layers


def piece_layers(article: Article, piece: Piece) -> tuple[PieceLayers, ...]:
    """The layers of a piece in groups, each of layers to which the same is done, in the order of the piece's cuts."""
    groups: list[tuple[tuple[LayerWork, LayerWork], list[LayerCut]]] = []
    for cut in piece.cuts:
        work = work_at_table(piece, cut.layer), work_drawn_for_later(piece, cut.layer)
        mine = next((cuts for other, cuts in groups if other == work), None)
        if mine is None:
            groups.append((work, [cut]))
        else:
            mine.append(cut)
    return tuple(PieceLayers(article, piece, tuple(cuts)) for _, cuts in groups)


def planned_overcuts(plan: Plan | None) -> dict[tuple[str, str], float]:
    """The widest overcut that a plan gave to each piece and layer, mm; nothing without a plan."""
    widest: dict[tuple[str, str], float] = {}
    for placed in plan.placements if plan is not None else ():
        if placed.piece:
            key = placed.piece, placed.layer
            widest[key] = max(widest.get(key, 0.0), placed.overcut)
    return widest
