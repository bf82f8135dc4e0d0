from __future__ import annotations

from pathlib import Path

import pytest

from nestplan.errors import InputError, UnitError
from nestplan.geometry.units import MM2_PER_FT2
from nestplan.model.files import read_hide, read_job, to_text
from nestplan.tasks.importing import (
    DrawingOptions,
    PieceWishes,
    hide_from_file,
    import_pieces,
    layer_table,
    measure_hide,
    read_drawing_file,
    stem_of,
    write_layer_table,
    write_traced_hide,
)
from tests.intake.small_drawings import svg
from tests.small_jobs import plain_hide

PANELS = (
    '<g id="KNIFE"><rect x="0" y="0" width="60" height="40"/><rect x="80" y="0" width="60" height="40"/></g>'
)


def test_the_pieces_of_a_drawing_become_a_job_as_wished(tmp_path: Path) -> None:
    out = tmp_path / "belts.job.json"
    wishes = PieceWishes(sets=3, overcut=6.0, overcut_wish=9.0, pairs=True)
    made = import_pieces(svg(tmp_path / "belt.svg", PANELS), out, DrawingOptions(), wishes)
    assert read_job(out) == made.job
    assert (made.job.name, made.job.articles[0].sets) == ("belts", 3)
    assert [piece.name for piece in made.pieces] == ["belt 1", "belt 2"]
    for piece in made.pieces:
        assert piece.pair
        assert piece.net_area == pytest.approx(2400.0)
        overcut = piece.cuts[0].overcut
        assert overcut is not None
        assert (overcut.least, overcut.wished) == (6.0, 9.0)
    assert len(made.drawing.outlines) == 2


def test_without_wishes_pieces_have_no_overcut_and_one_wish_alone_is_least_or_wished(tmp_path: Path) -> None:
    drawing = svg(tmp_path / "belt.svg", PANELS)

    def overcut(wishes: PieceWishes) -> object:
        made = import_pieces(drawing, tmp_path / "a.job.json", DrawingOptions(), wishes)
        found = made.pieces[0].cuts[0].overcut
        return None if found is None else (found.least, found.wished)

    assert overcut(PieceWishes()) is None
    assert overcut(PieceWishes(overcut=4.0)) == (4.0, 4.0)
    assert overcut(PieceWishes(overcut_wish=4.0)) == (0.0, 4.0)


def test_a_drawing_that_cannot_be_read_leaves_no_job_behind(tmp_path: Path) -> None:
    out = tmp_path / "a.job.json"
    (tmp_path / "rings.csv").write_text("0,0\n100,0\n100,50\n")
    with pytest.raises(UnitError):
        import_pieces(tmp_path / "rings.csv", out, DrawingOptions(), PieceWishes())
    assert not out.exists()
    import_pieces(tmp_path / "rings.csv", out, DrawingOptions(units="cm"), PieceWishes())
    assert read_job(out).articles[0].pieces[0].net_area == pytest.approx(250_000)


def test_a_table_of_layers_is_made_edited_and_used(tmp_path: Path) -> None:
    drawing = svg(tmp_path / "belt.svg", PANELS)
    table, count = layer_table(drawing)
    assert count == 1
    path = tmp_path / "layers.csv"
    write_layer_table(path, table.replace("KNIFE,", "KNIFE,ignore"))
    with pytest.raises(InputError):
        import_pieces(drawing, tmp_path / "a.job.json", DrawingOptions(layers=path), PieceWishes())


def test_a_drawn_hide_is_taken_and_two_outlines_are_none(tmp_path: Path) -> None:
    one = svg(tmp_path / "hide.svg", '<rect x="0" y="0" width="180" height="90"/>')
    drawing = read_drawing_file(one, DrawingOptions())
    made = hide_from_file(drawing, one, name="barley", leather="goat")
    assert (made.hide.name, made.hide.leather) == ("barley", "goat")
    assert made.hide.gross_area == pytest.approx(180 * 90)
    two = svg(tmp_path / "two.svg", PANELS)
    with pytest.raises(InputError, match="2 outlines") as refused:
        hide_from_file(read_drawing_file(two, DrawingOptions()), two, name="b", leather="goat")
    assert refused.value.file.endswith("two.svg")


def test_tape_figures_become_a_hide_named_after_its_file(tmp_path: Path) -> None:
    out = tmp_path / "barley.hide.json"
    hide = measure_hide("side", out, length=2400.0, area=22 * MM2_PER_FT2, thickness=(2.0, 2.4))
    assert to_text(read_hide(out)) == to_text(hide)
    assert (hide.name, hide.thickness) == ("barley", (2.0, 2.4))
    assert hide.gross_area == pytest.approx(22 * MM2_PER_FT2)
    with pytest.raises(InputError, match="dragon"):
        measure_hide("dragon", tmp_path / "b.hide.json")


def test_a_traced_hide_is_written_with_what_its_seller_says(tmp_path: Path) -> None:
    out = tmp_path / "a.hide.json"
    bare = plain_hide(price=None, currency="")
    assert write_traced_hide(out, bare) == bare
    told = write_traced_hide(out, bare, thickness=(2.0, 2.4), stated_area=7e5, price=9.0, currency="crowns")
    assert read_hide(out) == told
    assert (told.thickness, told.price, told.currency) == ((2.0, 2.4), 9.0, "crowns")


@pytest.mark.parametrize(("name", "stem"), [("a.b.json", "a"), ("belt", "belt"), (".hidden", "drawing")])
def test_a_stem_ends_at_the_first_full_stop(name: str, stem: str) -> None:
    assert stem_of(Path("folder") / name) == stem
