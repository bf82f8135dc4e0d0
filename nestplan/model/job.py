"""A job: which articles and how many sets, from which layers of leather, with which gaps and permissions.

`cut_pieces` turns it into the list of shapes to be cut, the list everything else works from.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Literal

import msgspec
import numpy as np

from nestplan.errors import InputError
from nestplan.geometry.ring import FARTHEST_MM, mirror
from nestplan.model.hide import Hide
from nestplan.model.laced_joins import (
    LacedEdge,
    LacedJoin,
    WearerRange,
    WorkedEdge,
    WorkedJoin,
    check_lacing,
    wearer_range,
    worked_edge,
    worked_join,
)
from nestplan.model.layer_work import net_area_of_layer
from nestplan.model.piece import LayerCut, Piece, StretchRule, Strip, cut_ring
from nestplan.model.sizes import Seam, Sizes
from nestplan.model.supplies import Supplies
from nestplan.model.values import (
    LEAST_LENGTH,
    Length,
    Name,
    Record,
    Thickness,
    ThicknessRange,
    need,
    need_at_most,
    need_finite,
    need_range,
    need_thickness_range,
    need_unique,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

__all__ = ["MOST_ARTICLES", "Article", "CutPiece", "Job", "Layer", "Permissions", "WantedStrip"]


MOST_ARTICLES = 500
_MOST_LAYERS = 100
_MOST_THINGS = 1_000
_MOST_COPIES = 1_000_000
"""Bounds on what a file may hold, beyond any real job."""


class Layer(Record, frozen=True, kw_only=True):
    """A layer of the article and the leather it may be cut from.

    `leather` names kinds of leather (as hides name theirs), `hides` single hides; both empty: any hide.
    `thickness` (mm) is the range asked for: a hide whose own range does not meet it is not used.
    """

    name: Name
    leather: tuple[str, ...] = ()
    hides: tuple[str, ...] = ()
    thickness: ThicknessRange | None = None

    def __post_init__(self) -> None:
        need_thickness_range(self.thickness)

    def takes(self, hide: Hide) -> bool:
        """Whether pieces of this layer may be cut from `hide` (its kind, name and thickness; not its room)."""
        named = not (self.leather or self.hides) or hide.leather in self.leather or hide.name in self.hides
        if self.thickness is None or hide.thickness is None:
            return named
        return named and hide.thickness[0] <= self.thickness[1] and hide.thickness[1] >= self.thickness[0]


class Permissions(Record, frozen=True, kw_only=True):
    """What the job allows beyond the rules.

    `through_flaws_in_overcut`: the overcut band, which is cut away, may lie over holes and cuts.
    `run_off` (mm): the overcut band may run off the hide's edge by so much.
    """

    through_flaws_in_overcut: bool = False
    run_off: Length = 0.0

    def __post_init__(self) -> None:
        need_finite("run_off", self.run_off)
        need(
            0 <= self.run_off <= 100,
            "The run-off lies between 0 and 100 mm.",
            place="run_off",
            mend="Change it.",
        )


class Article(Record, frozen=True, kw_only=True):
    """One thing that is made: its pieces and strips, what of it is laced, and how many whole sets of it are wanted.

    `size` is the name of its size, `fits` the least and greatest of the wearer's measures (mm) that it fits, by their
    names. `seams` are edges that meet. An article drawn in one size has its other `sizes` here; each of them is an
    article of its own, `graded_from` the drawn one, and made anew from it when the drawn one or the sizes change. Taken
    out, `graded_from` leaves an article that follows no other.
    """

    name: Name
    sets: int
    pieces: tuple[Piece, ...] = ()
    strips: tuple[Strip, ...] = ()
    laced_joins: tuple[LacedJoin, ...] = ()
    laced_edges: tuple[LacedEdge, ...] = ()
    value: float | None = None
    note: str = ""
    size: str = ""
    fits: dict[Name, tuple[Length, Length]] = {}
    seams: tuple[Seam, ...] = ()
    sizes: Sizes | None = None
    graded_from: str = ""

    def __post_init__(self) -> None:
        need(
            1 <= self.sets <= 100_000,
            f"The job asks for {self.sets} sets.",
            place="sets",
            mend="Ask for 1 or more.",
        )
        need(
            bool(self.pieces or self.strips),
            "The article has no pieces and no strips.",
            mend="Add at least one.",
        )
        need_finite("value", self.value)
        need_range("value", self.value, -1e9, 1e9, "")
        need_at_most("pieces", self.pieces, _MOST_THINGS)
        need_at_most("strips", self.strips, _MOST_THINGS)
        need_at_most("seams", self.seams, _MOST_THINGS)
        for measure, (least, most) in self.fits.items():
            need_finite(f"fits.{measure}", least, most)
            need(
                0 < least <= most,
                "What it fits needs 0 < least ≤ most.",
                place=f"fits.{measure}",
                mend="Correct the two values.",
            )
        need_at_most("laced_joins", self.laced_joins, _MOST_THINGS)
        need_at_most("laced_edges", self.laced_edges, _MOST_THINGS)
        self._check_lacing()

    def _check_lacing(self) -> None:
        names = [join.name for join in self.laced_joins] + [edge.name for edge in self.laced_edges]
        need_unique(names, "laced_joins")
        if names:
            check_lacing({piece.name: piece for piece in self.pieces}, self.laced_joins, self.laced_edges)
        for number, strip in enumerate(self.strips):
            need(
                not strip.laces or strip.laces in names,
                f"The article has no laced join or edge '{strip.laces}'.",
                place=f"strips[{number}].laces",
                mend=f"Use one of: {', '.join(names)}." if names else "Add the join, or type the length.",
            )

    @property
    def wearer_range(self) -> WearerRange | None:
        """What it measures round its wearer; None where nothing is laced or no piece says what it makes up of it."""
        return wearer_range(self.pieces, self.laced_joins)

    def keeping(self, pieces: Iterable[Piece], strips: Iterable[Strip]) -> Article:
        """The article with these pieces and strips. A join, seam or edge that has lost a piece goes; its lace, if it
        stays, keeps the length it had. Sizes forget what is gone. Raises InputError if nothing is left."""
        pieces, strips = tuple(pieces), tuple(strips)
        kept = {piece.name for piece in pieces}
        joins = tuple(join for join in self.laced_joins if all(row.piece in kept for row in join.rows))
        edges = tuple(edge for edge in self.laced_edges if edge.piece in kept)
        names = {join.name for join in joins} | {edge.name for edge in edges}
        return msgspec.structs.replace(
            self,
            pieces=pieces,
            strips=tuple(
                strip if strip.laces in names else msgspec.structs.replace(strip, laces="")
                for strip in strips
            ),
            laced_joins=joins,
            laced_edges=edges,
            seams=tuple(seam for seam in self.seams if all(edge.piece in kept for edge in seam.edges)),
            sizes=self.sizes.keeping(kept | {strip.name for strip in strips}) if self.sizes else None,
        )


class Job(Record, frozen=True, kw_only=True):
    """What is wanted: articles in sets, their layers, the knife gap, and what is allowed.

    `mates_price` (mm² for a mm): where a piece asks for its mates near, a pair nearer by a millimetre may cost so much
    of the offcuts worth keeping; 20 is 2 dm² for a metre, 0 does not count distances. A left and right that ask to lie
    near are warned of when they lie farther apart than `mates_limit` (mm), from edge to edge
    of what is cut. The largest offcut of a hide counts twice in this. Both are ours.

    `units` is the unit in which everything is shown. `points` is the unit of every point in the file (`[x, y]`:
    outlines, holes, marks, ends of rows), whatever `units` says; lengths that are plain numbers are mm in any case.

    `gap` (mm) is left between cut shapes for the knife; no published figure was found, so the default of
    1.5 mm is ours and can be changed. `strip_gap` is left between strips cut side by side: 0, they share
    the cut. `useful_width` (mm) is the least width at which what is left counts as an offcut.
    """

    nestplan: int = 1
    kind: Literal["job"] = "job"
    name: Name
    articles: tuple[Article, ...]
    layers: tuple[Layer, ...] = (Layer(name="leather"),)
    gap: Length = 1.5
    strip_gap: Length = 0.0
    useful_width: Length = 50.0
    mates_price: float = 20.0
    mates_limit: Length = 500.0
    permissions: Permissions = Permissions()
    units: Literal["mm", "in"] = "mm"
    points: Literal["mm", "in"] = "mm"
    machine_limit: Thickness | None = None
    supplies: Supplies = Supplies()
    note: str = ""

    def __post_init__(self) -> None:
        need(bool(self.articles), "The job has no articles.", place="articles", mend="Add at least one.")
        # Before any of them is looked into: thousands that are alike would be measured one by one.
        need_at_most("articles", self.articles, MOST_ARTICLES)
        need_at_most("layers", self.layers, _MOST_LAYERS)
        need_unique((article.name for article in self.articles), "articles")
        self._measure_laces()
        need_finite("gap", self.gap, self.strip_gap, self.useful_width, self.machine_limit)
        need_range("machine_limit", self.machine_limit, LEAST_LENGTH, 1000.0)
        for place, amount in (("gap", self.gap), ("strip_gap", self.strip_gap)):
            need(0 <= amount <= 100, "It must lie between 0 and 100 mm.", place=place, mend="Change it.")
        need(
            LEAST_LENGTH <= self.useful_width <= 2000,
            "It must lie between 0 and 2000 mm.",
            place="useful_width",
            mend="Change.",
        )
        need_finite("mates_price", self.mates_price, self.mates_limit)
        need_range("mates_price", self.mates_price, 0.0, 1e6, "")
        need_range("mates_limit", self.mates_limit, 0.0, FARTHEST_MM)
        need_unique((layer.name for layer in self.layers), "layers")
        pieces = [piece.name for article in self.articles for piece in article.pieces]
        strips = [strip.name for article in self.articles for strip in article.strips]
        need_unique(pieces + strips, "articles")
        copies = sum(
            article.sets
            * (
                sum(piece.copies_in_set * len(piece.cuts) for piece in article.pieces)
                + sum(strip.count for strip in article.strips)
            )
            for article in self.articles
        )
        need(
            copies <= _MOST_COPIES,
            f"The job asks for {copies:,} cut shapes and strips; nestplan plans up to {_MOST_COPIES:,}.",
            place="articles",
            mend="Ask for fewer sets.",
        )
        known = {layer.name for layer in self.layers}
        for a, article in enumerate(self.articles):
            for p, piece in enumerate(article.pieces):
                for c, cut in enumerate(piece.cuts):
                    if cut.layer not in known:
                        raise InputError(
                            f"No layer is called '{cut.layer}'.",
                            place=f"articles[{a}].pieces[{p}].cuts[{c}].layer",
                            mend=f"Use one of {', '.join(sorted(known))}, or add it to layers.",
                        )
            for s, strip in enumerate(article.strips):
                if strip.layer not in known:
                    raise InputError(
                        f"No layer is called '{strip.layer}'.",
                        place=f"articles[{a}].strips[{s}].layer",
                        mend=f"Use one of {', '.join(sorted(known))}, or add it to layers.",
                    )

    def _measure_laces(self) -> None:
        """Give every strip that laces a join or an edge the length, use and count that follow from it."""
        if not any(strip.laces for article in self.articles for strip in article.strips):
            return
        articles = []
        for number, article in enumerate(self.articles):
            found = {
                each.join.name: (each.cut_length, each.join.count) for each in self.worked_joins(article)
            }
            found |= {
                each.edge.name: (each.cut_length, each.edge.count) for each in self.worked_edges(article)
            }
            try:
                strips = tuple(
                    msgspec.structs.replace(
                        strip, length=found[strip.laces][0], count=found[strip.laces][1], use="lace"
                    )
                    if strip.laces
                    else strip
                    for strip in article.strips
                )
            except InputError as error:
                raise error.within(f"articles[{number}].strips") from error
            articles.append(msgspec.structs.replace(article, strips=strips))
        msgspec.structs.force_setattr(self, "articles", tuple(articles))

    def worked_joins(self, article: Article) -> tuple[WorkedJoin, ...]:
        """The laced joins of one of its articles, with their holes and the lace they take."""
        pieces = {piece.name: piece for piece in article.pieces}
        return tuple(worked_join(join, pieces, self._thicknesses) for join in article.laced_joins)

    def worked_edges(self, article: Article) -> tuple[WorkedEdge, ...]:
        """The laced edges of one of its articles, with their holes and the lace they take."""
        pieces = {piece.name: piece for piece in article.pieces}
        return tuple(worked_edge(edge, pieces, self._thicknesses) for edge in article.laced_edges)

    @property
    def _thicknesses(self) -> dict[str, float | None]:
        """The greatest thickness of each layer, mm, since a lace that is too short is of no use."""
        return {layer.name: layer.thickness[1] if layer.thickness else None for layer in self.layers}

    def layer(self, name: str) -> Layer:
        """The layer of that name. Raises KeyError if there is none."""
        return next(layer for layer in self.layers if layer.name == name)

    def kind_of_copy(self, piece: str, layer: str, mirrored: bool) -> tuple[str, str, bool]:
        """What makes two copies of a piece alike: its name, its layer, its hand. One that may be turned over has no
        hand: it always counts as not mirrored."""
        return (piece, layer, mirrored and not self.piece(piece).turn_over)

    def piece(self, name: str) -> Piece:
        """The piece of that name. Raises KeyError if there is none."""
        return self._pieces[name]

    def strip(self, name: str) -> Strip:
        """The strip of that name. Raises KeyError if there is none."""
        return self._strips[name]

    @cached_property
    def _pieces(self) -> dict[str, Piece]:
        return {piece.name: piece for article in self.articles for piece in article.pieces}

    @cached_property
    def _strips(self) -> dict[str, Strip]:
        return {strip.name: strip for article in self.articles for strip in article.strips}

    @cached_property
    def cut_pieces(self) -> tuple[CutPiece, ...]:
        """Every different shape the knife follows, in the order of the file: one for each article, piece,
        layer and hand (a pair gives a left and a right)."""
        return tuple(
            CutPiece(article=number, piece=piece, cut=cut, mirrored=hand != cut.reversed, hand=int(hand))
            for number, article in enumerate(self.articles)
            for piece in article.pieces
            for cut in piece.cuts
            for hand in ((False, True) if piece.pair else (False,))
        )

    @cached_property
    def wanted_strips(self) -> tuple[WantedStrip, ...]:
        """Every different strip, in the order of the file."""
        return tuple(
            WantedStrip(article=number, strip=strip)
            for number, article in enumerate(self.articles)
            for strip in article.strips
        )


@dataclass(frozen=True, eq=False)
class CutPiece:
    """One shape to be cut: a piece, for one layer, in one hand. `piece.count` of it go into one set.

    `mirrored` says that it is the mirror image of the piece as drawn (the right of a pair, or a reversed
    lining). Rings here are in the frame of the unmirrored drawing with x → −x already applied if mirrored,
    so a pose with `mirrored` False lays them down; see `Placement` for the pose in a plan.
    """

    article: int
    piece: Piece
    cut: LayerCut
    mirrored: bool
    hand: int

    @property
    def key(self) -> tuple[str, str, bool]:
        """(piece name, layer name, mirrored): names it within the job."""
        return (self.piece.name, self.cut.layer, self.mirrored)

    @property
    def label(self) -> str:
        """Its name in the maker's words, such as `front, lining, right`."""
        parts = [self.piece.name]
        if len(self.piece.cuts) > 1:
            parts.append(self.cut.layer)
        if self.piece.pair:
            parts.append("right" if self.hand else "left")
        return ", ".join(parts)

    def in_hand(self, ring: NDArray[np.float64]) -> NDArray[np.float64]:
        """A ring of the piece as this cut piece has it: mirrored, or as drawn."""
        return mirror(ring) if self.mirrored else ring

    @cached_property
    def finished(self) -> NDArray[np.float64]:
        """The finished outline (n, 2), mm, in this hand."""
        return self.in_hand(self.piece.ring)

    @cached_property
    def net_area(self) -> float:
        """Area of the finished piece in this layer, less the openings of the layer, mm²."""
        return net_area_of_layer(self.piece, self.cut.layer)

    @cached_property
    def least_overcut(self) -> float:
        """The overcut that every plan guarantees, mm."""
        return self.cut.overcut.least if self.cut.overcut else 0.0

    @cached_property
    def wished_overcut(self) -> float:
        """The overcut that is widened to where there is room, mm."""
        return self.cut.overcut.wished if self.cut.overcut else 0.0

    @cached_property
    def shape(self) -> NDArray[np.float64]:
        """The cut shape at its least overcut (n, 2), mm, in this hand."""
        return self.in_hand(cut_ring(self.piece.ring, self.least_overcut))

    def shape_at(self, overcut: float) -> NDArray[np.float64]:
        """The cut shape at any overcut, mm, in this hand."""
        if math.isclose(overcut, self.least_overcut):
            return self.shape
        return self.in_hand(cut_ring(self.piece.ring, overcut))

    @property
    def stretch(self) -> StretchRule | None:
        """Its stretch rule with the axis as it lies in this hand (mirroring turns an axis a into −a)."""
        rule = self.cut.stretch
        if rule is None or not self.mirrored:
            return rule
        return StretchRule(axis=(180.0 - rule.axis) % 180.0, tolerance=rule.tolerance)


@dataclass(frozen=True, eq=False)
class WantedStrip:
    """A strip and the article it belongs to; `strip.count` of it go into one set."""

    article: int
    strip: Strip
