"""An article in other sizes: who takes which share, seams that still meet, and names that say the size."""

from __future__ import annotations

import math
from itertools import pairwise

import msgspec
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nestplan.errors import InputError, RuleError
from nestplan.estimate.article_sizes import SEAM_TOLERANCE, meeting_edges, seam_lengths, sized_article
from nestplan.geometry.ring import mirror
from nestplan.model.job import Article, Job
from nestplan.model.piece import Mark, Piece, Strip
from nestplan.model.sizes import Edge, Growth, Measure, Seam, Size, Sizes, edge_line


def seam(first: str, second: str) -> Seam:
    def edges(text: str) -> tuple[Edge, ...]:
        return tuple(Edge(piece=part.split()[0], side=part.split()[1]) for part in text.split("+"))  # type: ignore[arg-type]

    return Seam(first=edges(first), second=edges(second))


def panel(
    name: str, width: float, slants: tuple[float, float], length: float, wave: float = 0.0, **more: object
) -> Piece:
    """A panel whose slanting sides are both `length` long, its lower edge a wave."""
    left, right = (math.radians(slant) for slant in slants)
    points = np.linspace(0.0, 1.0, 11)[1:-1]
    lower = [(width * share, -wave * math.sin(math.pi * share) ** 2) for share in points]
    outline = (
        (0.0, 0.0),
        *lower,
        (width, 0.0),
        (width + length * math.sin(right), length * math.cos(right)),
        (-length * math.sin(left), length * math.cos(left)),
    )
    return Piece(name=name, outline=tuple((round(x, 3), round(y, 3)) for x, y in outline), **more)  # type: ignore[arg-type]


def belt(*panels: Piece, **more: object) -> Article:
    """Panels in a row, each sewn to the next."""
    seams = tuple(seam(f"{one.name} right", f"{other.name} left") for one, other in pairwise(panels))
    return Article(name="belt", sets=1, pieces=panels, seams=seams, **more)  # type: ignore[arg-type]


@st.composite
def articles(draw: st.DrawFn) -> Article:
    length = draw(st.floats(80, 200))
    panels = [
        panel(
            f"panel{number}",
            draw(st.floats(90, 260)),
            (draw(st.floats(-14, 14)), draw(st.floats(-14, 14))),
            length,
            draw(st.floats(0, 25)),
            pair=draw(st.booleans()),
        )
        for number in range(draw(st.integers(2, 5)))
    ]
    return belt(*panels, fits={"waist": (700.0, 760.0)})


@given(articles(), st.floats(-60, 120), st.floats(-15, 30))
def test_edges_that_meet_are_as_long_as_each_other_in_every_size(
    article: Article, waist: float, length: float
) -> None:
    sized = sized_article(article, Size(name="L", changes={"waist": waist, "length": length})).article
    for each in sized.seams:
        first, second = seam_lengths(sized, each)
        assert abs(first - second) <= SEAM_TOLERANCE
        assert first == pytest.approx(seam_lengths(article, article.seams[0])[0] + length, abs=1.5)


@given(articles(), st.floats(-60, 120))
def test_the_panels_together_change_by_what_the_measure_does(article: Article, waist: float) -> None:
    sized = sized_article(article, Size(name="L", changes={"waist": waist})).article

    def round_about(each: Article) -> float:
        return sum(float(np.ptp(piece.ring[:, 0])) * piece.copies_in_set for piece in each.pieces)

    assert round_about(sized) - round_about(article) == pytest.approx(waist, abs=0.01)
    assert sized.fits["waist"] == pytest.approx((700.0 + waist, 760.0 + waist))


@given(articles(), st.floats(-60, 120), st.floats(-15, 30))
def test_mates_are_still_mirror_images(article: Article, waist: float, length: float) -> None:
    sized = sized_article(article, Size(name="L", changes={"waist": waist, "length": length})).article
    job = Job(name="belts", articles=(sized,))
    hands: dict[str, list[np.ndarray]] = {}
    for cut in job.cut_pieces:
        if cut.piece.pair:
            hands.setdefault(cut.piece.name, []).append(cut.finished)
    for left, right in hands.values():
        assert mirror(left) == pytest.approx(right)


def test_a_size_that_changes_nothing_is_the_drawn_one() -> None:
    article = belt(panel("front", 110, (3, 5), 130), panel("side", 140, (-4, 2), 130))
    sized = sized_article(article, Size(name="M")).article
    for piece, other in zip(article.pieces, sized.pieces, strict=True):
        assert other.ring == pytest.approx(piece.ring, abs=0.03)


def test_every_name_says_the_size_and_the_seams_follow() -> None:
    article = Article(
        name="belt M",
        size="M",
        sets=2,
        pieces=(panel("front_M", 110, (0, 0), 130),),
        strips=(Strip(name="lace M", width=5.0, length=900.0),),
    )
    sized = sized_article(article, Size(name="L", changes={"waist": 20.0})).article
    assert (sized.name, sized.size, sized.graded_from) == ("belt L", "L", "belt M")
    assert sized.pieces[0].name == "front_M L"
    assert (sized.strips[0].name, sized.strips[0].length) == ("lace L", 900.0)


def test_a_share_that_is_said_counts_and_a_strip_that_is_named_takes_it_all() -> None:
    measure = Measure(
        name="waist",
        pieces=(
            Growth(name="front", where="right"),
            Growth(name="side"),
            Growth(name="band", share=0.5),
            Growth(name="tie"),
        ),
    )
    article = Article(
        name="belt",
        sets=1,
        pieces=(
            panel("front", 100, (0, 0), 120, pair=True),
            panel("side", 100, (0, 0), 120, pair=True),
            panel("band", 200, (0, 0), 40, pair=True),
            panel("pocket", 60, (0, 0), 60),
        ),
        strips=(Strip(name="tie", width=20.0, length=900.0),),
        sizes=Sizes(others=(Size(name="L"),), measures=(measure,)),
    )
    sized = sized_article(article, Size(name="L", changes={"waist": 40.0})).article
    assert [float(np.ptp(piece.ring[:, 0])) for piece in sized.pieces] == pytest.approx([110, 110, 220, 60])
    assert sized.strips[0].length == pytest.approx(940.0)


def test_where_a_piece_is_spread_decides_what_stays_by_which_edge() -> None:
    stud = (Mark(at=(50.0, 60.0)),)
    for where, at in (("left", 70.0), ("right", 50.0), ("both sides", 60.0), ("middle", 60.0)):
        article = Article(
            name="flap",
            sets=1,
            pieces=(Piece(name="flap", outline=((0, 0), (100, 0), (100, 120), (0, 120)), marks=stud),),
            sizes=Sizes(
                others=(Size(name="L"),),
                measures=(Measure(name="width", pieces=(Growth(name="flap", where=where),)),),  # type: ignore[arg-type]
            ),
        )
        sized = sized_article(article, Size(name="L", changes={"width": 20.0})).article
        assert sized.pieces[0].marks[0].at[0] == pytest.approx(at), where


def test_edges_that_cannot_meet_are_refused_with_both_lengths_and_the_mend() -> None:
    article = belt(panel("front", 110, (0, 0), 130), panel("side", 140, (0, 0), 130))
    only = Sizes(
        others=(Size(name="L"),),
        measures=(Measure(name="length", along="length", pieces=(Growth(name="front"),)),),
    )
    article = Article(name="belt", sets=1, pieces=article.pieces, seams=article.seams, sizes=only)
    with pytest.raises(
        RuleError, match=r"size L .*front, right edge, 140 mm; side, left edge, 130 mm.*same share"
    ):
        sized_article(article, Size(name="L", changes={"length": 10.0}))


def test_a_seam_that_does_not_meet_as_drawn_is_told_before_anything_is_made() -> None:
    article = belt(panel("front", 110, (0, 0), 130), panel("side", 140, (0, 0), 127))
    with pytest.raises(RuleError, match="In the drawn size the edges of a seam differ"):
        sized_article(article, Size(name="L"))


def test_a_band_sewn_along_several_panels_grows_with_all_of_them() -> None:
    pieces = (
        panel("front", 100, (0, 0), 120),
        panel("side", 150, (0, 0), 120),
        panel("band", 250, (0, 0), 40),
    )
    seams = (seam("front right", "side left"), seam("front top+side top", "band bottom"))
    takes = Measure(
        name="waist", pieces=(Growth(name="front"), Growth(name="side"), Growth(name="band", share=1.0))
    )
    article = Article(
        name="skirt",
        sets=1,
        pieces=pieces,
        seams=seams,
        sizes=Sizes(others=(Size(name="L"),), measures=(takes,)),
    )
    sized = sized_article(article, Size(name="L", changes={"waist": 50.0})).article
    assert seam_lengths(sized, sized.seams[1]) == pytest.approx((300.0, 300.0), abs=0.05)


def test_a_seam_with_a_piece_that_is_not_there_is_named() -> None:
    article = Article(
        name="belt",
        sets=1,
        pieces=(panel("front", 110, (0, 0), 130),),
        seams=(seam("front left", "back right"),),
    )
    with pytest.raises(InputError, match="'back'"):
        sized_article(article, Size(name="L"))


@given(st.floats(-400, 400))
def test_whatever_is_asked_is_made_or_refused_in_words(waist: float) -> None:
    article = belt(panel("front", 110, (3, 5), 130), panel("side", 140, (-4, 2), 130))
    size = Size(name="L", changes={"waist": waist})
    if waist > -100.0:
        assert sized_article(article, size).article.size == "L"
    elif waist < -150.0:
        with pytest.raises(RuleError, match=r"size L, front: .* Take out at most"):
            sized_article(article, size)


def _laced_panels(slants: tuple[float, float]) -> Article:
    """A front and a side laced to each other along edges of other slants, as long as each other."""
    from nestplan.model.laced_joins import LacedJoin, LacedRow
    from nestplan.model.mark_rows import Row

    front, side = panel("front", 110, (0, slants[0]), 130), panel("side", 140, (slants[1], 0), 130)
    right, left = front.ring[-2].tolist(), side.ring[-1].tolist()
    rows = {
        "front": Row(
            name="edge", start=(110.0, 0.0), end=(right[0], right[1]), inset=10.0, pitch=12.0, diameter=4.0
        ),
        "side": Row(
            name="edge",
            start=(0.0, 0.0),
            end=(left[0], left[1]),
            inset=10.0,
            pitch=12.0,
            diameter=4.0,
            clockwise=True,
        ),
    }
    return Article(
        name="belt",
        sets=1,
        pieces=tuple(msgspec.structs.replace(piece, rows=(rows[piece.name],)) for piece in (front, side)),
        laced_joins=(
            LacedJoin(
                name="beside", rows=(LacedRow(piece="front", row="edge"), LacedRow(piece="side", row="edge"))
            ),
        ),
    )


@given(st.floats(-14, 14), st.floats(-14, 14), st.floats(-40, 90), st.floats(-15, 30))
def test_edges_laced_together_stay_as_long_as_each_other_with_as_many_holes(
    first: float, second: float, waist: float, length: float
) -> None:
    article = _laced_panels((first, second))
    assert len(meeting_edges(article)) == 1
    sized = sized_article(article, Size(name="L", changes={"waist": waist, "length": length})).article
    (laced,) = meeting_edges(sized)
    one, other = seam_lengths(sized, laced)
    assert abs(one - other) <= SEAM_TOLERANCE
    assert len(sized.pieces[0].all_marks) == len(sized.pieces[1].all_marks)


@given(articles(), st.floats(-60, 120), st.floats(-15, 30))
def test_parts_of_an_outline_meet_as_sides_do(article: Article, waist: float, length: float) -> None:
    pieces = {piece.name: piece for piece in article.pieces}

    def by_points(edge: Edge) -> Edge:
        line = edge_line(pieces[edge.piece], edge)
        start, end = line[0].tolist(), line[-1].tolist()
        return Edge(piece=edge.piece, start=(start[0], start[1]), end=(end[0], end[1]))

    seams = tuple(
        Seam(first=tuple(map(by_points, each.first)), second=tuple(map(by_points, each.second)))
        for each in article.seams
    )
    size = Size(name="L", changes={"waist": waist, "length": length})
    sized = sized_article(msgspec.structs.replace(article, seams=seams), size).article
    for each in sized.seams:
        first, second = seam_lengths(sized, each)
        assert abs(first - second) <= SEAM_TOLERANCE
    sides = sized_article(article, size).article
    assert seam_lengths(sized, sized.seams[0]) == pytest.approx(seam_lengths(sides, sides.seams[0]), abs=0.05)


def test_lines_across_a_piece_may_be_said_by_their_shares() -> None:
    marks = tuple(Mark(at=(x, 60.0), what=str(x)) for x in (10.0, 50.0, 90.0))
    takes = Measure(name="waist", pieces=(Growth(name="flap", lines=(0.3, 0.7)),))
    article = Article(
        name="flap",
        sets=1,
        pieces=(Piece(name="flap", outline=((0, 0), (100, 0), (100, 120), (0, 120)), marks=marks),),
        sizes=Sizes(others=(Size(name="L"),), measures=(takes,)),
    )
    sized = sized_article(article, Size(name="L", changes={"waist": 20.0})).article
    assert [mark.at[0] for mark in sized.pieces[0].marks] == pytest.approx([10.0, 60.0, 110.0])
