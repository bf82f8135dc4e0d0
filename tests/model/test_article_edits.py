"""What names a piece or a strip in its article goes along when it is replaced."""

from __future__ import annotations

import msgspec

from nestplan.model.article_edits import with_pieces
from nestplan.model.job import Article
from nestplan.model.piece import Piece, Strip
from nestplan.model.sizes import Edge, Growth, Measure, Seam, Size, Sizes
from tests.small_jobs import SQUARE, laced_job

FRONT = Piece(name="front", outline=SQUARE)
BACK = Piece(name="back", outline=SQUARE)
TIE = Strip(name="tie", width=20.0, length=600.0)
BELT = Article(
    name="belt",
    sets=1,
    pieces=(FRONT, BACK),
    strips=(TIE,),
    seams=(Seam(first=(Edge(piece="front", side="right"),), second=(Edge(piece="back", side="left"),)),),
    sizes=Sizes(
        others=(Size(name="L"),),
        measures=(Measure(name="waist", pieces=(Growth(name="front"), Growth(name="tie"))),),
    ),
)


def test_seams_and_sizes_name_a_piece_and_a_strip_anew() -> None:
    other = with_pieces(
        BELT,
        {
            "front": msgspec.structs.replace(FRONT, name="vorne"),
            "tie": msgspec.structs.replace(TIE, name="band", width=25.0),
        },
    )
    assert [piece.name for piece in other.pieces] == ["vorne", "back"]
    assert other.strips[0].width == 25.0
    assert [edge.piece for edge in other.seams[0].edges] == ["vorne", "back"]
    assert other.sizes is not None
    assert [growth.name for growth in other.sizes.measures[0].pieces] == ["vorne", "band"]


def test_laced_joins_name_pieces_and_rows_anew() -> None:
    article = laced_job().articles[0]
    front = next(piece for piece in article.pieces if piece.name == "front")
    rows = tuple(msgspec.structs.replace(row, name=f"{row.name} L") for row in front.rows)
    other = with_pieces(article, {"front": msgspec.structs.replace(front, name="front L", rows=rows)})
    named = {
        (row.piece, row.row) for join in other.laced_joins for row in join.rows if row.piece == "front L"
    }
    assert named
    assert all(row.endswith(" L") for _, row in named)


def test_nothing_replaced_is_the_article_itself() -> None:
    assert with_pieces(BELT, {}) == BELT
