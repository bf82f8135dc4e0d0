"""Each kind of flaw means one thing everywhere, and a kind registered from outside is found wherever kinds are."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from nestplan.errors import InputError
from nestplan.geometry.pose import Pose
from nestplan.model import Disc, Flaw, Hide, LayerCut, Piece
from nestplan.model.audit import check
from nestplan.model.files import read_hide, schema, write_hide
from nestplan.model.flaw_kinds import (
    FLAW_KINDS,
    FlawKind,
    HatchPattern,
    register_flaw_kind,
    unregister_flaw_kind,
)
from nestplan.model.piece import Shows
from nestplan.model.rules import PlacementRules, flaws_against_face, flaws_against_strip
from tests.small_jobs import SQUARE, flawed_hide, laid, one_piece_job, plan_of, strap_job

ROOT = Path(__file__).resolve().parent.parent.parent

TOY = FlawKind(
    name="toy",
    faces=frozenset({"grain", "flesh"}),
    goes_through=False,
    letter="Y",
    hatch=HatchPattern("lines", 2.0, 90.0),
    words="spoils both sides",
    clause="spoils both sides",
    choice="spoils both sides",
    layer="toy",
    layer_words="a flaw of both sides",
    layer_patterns=("toy*",),
)


@pytest.fixture
def toy() -> Iterator[FlawKind]:
    register_flaw_kind(TOY)
    yield TOY
    unregister_flaw_kind(TOY.name)


SPOILED = {
    "through": {"grain", "flesh", "both", "hidden"},
    "grain": {"grain", "both"},
    "flesh": {"flesh", "both"},
    "mark": set(),
}


@pytest.mark.parametrize("spoils", SPOILED)
@pytest.mark.parametrize("shows", ["grain", "flesh", "both", "hidden"])
def test_rules_and_audit_agree_on_what_a_flaw_forbids_to_a_piece(spoils: str, shows: Shows) -> None:
    hide = flawed_hide(spoils)
    piece = Piece(name="square", outline=SQUARE, cuts=(LayerCut(shows=shows),))
    job = one_piece_job(piece)
    forbidden = shows in SPOILED[spoils]
    assert bool(flaws_against_face(hide, shows)) == forbidden
    plan = plan_of(job, (hide,), [laid(job, piece, Pose(450, 350))])
    assert bool([fault for fault in check(plan, job, (hide,)) if fault.rule == "flaw"]) == forbidden


@pytest.mark.parametrize(
    ("spoils", "over_flaws", "hinders"),
    [(spoils, False, True) for spoils in SPOILED]
    + [("through", True, True), ("grain", True, False), ("flesh", True, False), ("mark", True, False)],
)
def test_a_strip_keeps_off_every_flaw_unless_the_job_lets_it_run_over_those_of_a_face_or_a_mark(
    spoils: str, over_flaws: bool, hinders: bool
) -> None:
    from tests.model.test_audit import strap

    hide, job = flawed_hide(spoils), strap_job(over_flaws=over_flaws)
    (strip,) = job.articles[0].strips
    assert bool(flaws_against_strip(hide, strip)) == hinders
    faults = check(plan_of(job, (hide,), [strap(10, 390)]), job, (hide,))
    assert {fault.rule for fault in faults} == ({"flaw"} if hinders else set())


def test_only_the_mark_only_warns() -> None:
    assert [kind.name for kind in FLAW_KINDS if kind.only_warns] == ["mark"]


def test_letters_layers_and_words_are_told_apart() -> None:
    for field in ("name", "letter", "words", "choice", "layer", "hatch"):
        values = [getattr(kind, field) for kind in FLAW_KINDS]
        assert len(set(values)) == len(values), field


def test_the_guide_tells_every_kind_by_its_letter() -> None:
    guide = (ROOT / "resources" / "guide" / "guide.md").read_text(encoding="utf-8")
    rows = dict(re.findall(r"^\| \*\*(\w)\*\*,.*\|(.*)\|$", guide, flags=re.MULTILINE))
    assert list(rows) == [kind.letter for kind in FLAW_KINDS]
    for kind in FLAW_KINDS:
        keeps_off = rows[kind.letter]
        assert ("straps and laces only" in keeps_off) == kind.only_warns
        assert ("everything" in keeps_off) == kind.goes_through
        assert all(face in keeps_off for face in kind.faces)


def test_a_kind_nobody_registered_is_refused_with_its_place() -> None:
    with pytest.raises(InputError, match="'toy' is none of the words allowed here") as caught:
        Flaw(spoils="toy", disc=Disc(at=(5.0, 5.0), diameter=2.0))
    assert caught.value.mend == "Use one of: flesh, grain, mark, through."


def test_a_registered_kind_is_obeyed_and_audited(toy: FlawKind) -> None:
    hide = flawed_hide(toy.name)
    for shows, allowed in (("grain", False), ("flesh", False), ("hidden", True)):
        piece = Piece(name="square", outline=SQUARE, cuts=(LayerCut(shows=shows),))
        job = one_piece_job(piece)
        (found,) = PlacementRules(hide, job).for_piece(job.cut_pieces[0])
        room = found.constraints[0].area
        assert (room.area == pytest.approx(hide.gross_area)) == allowed
        faults = check(plan_of(job, (hide,), [laid(job, piece, Pose(450, 350))]), job, (hide,))
        assert (not faults) == allowed


def test_a_registered_kind_is_read_written_and_in_the_schema(toy: FlawKind, tmp_path: Path) -> None:
    path = tmp_path / "toy.hide.json"
    write_hide(path, flawed_hide(toy.name))
    assert read_hide(path).flaws[0].kind is toy
    assert b'"toy"' in schema(Hide)
    assert b"toy: spoils both sides" in schema(Hide)


def test_a_registered_kind_is_counted_in_the_figures(toy: FlawKind) -> None:
    from nestplan.yields import figures_of

    piece = Piece(name="square", outline=SQUARE)
    job = one_piece_job(piece)
    hide = flawed_hide(toy.name)
    plan = plan_of(job, (hide,), [laid(job, piece, Pose(10, 10))])
    (row,) = figures_of(plan, job, (hide,)).hides
    assert row.flaws == pytest.approx(row.gross - row.usable)
    assert row.flaws > 1250.0


def test_a_registered_kind_has_its_layer_in_drawing_files_and_its_hatching_on_paper(
    toy: FlawKind, tmp_path: Path
) -> None:
    from nestplan.intake.drawings.layers import layer_roles, role_of
    from nestplan.intake.drawings.to_model import read_hide_drawing
    from nestplan.sheets.drawing_files import hide_lines, write_drawing_file
    from nestplan.sheets.hide_styles import PAPER_STYLE

    hide = flawed_hide(toy.name)
    assert layer_roles()["toy"] == "a flaw of both sides"
    assert role_of("Toys", None) == "toy"
    path = tmp_path / "toy.dxf"
    write_drawing_file(hide_lines(hide), path)
    assert [flaw.spoils for flaw in read_hide_drawing(path).flaws] == ["toy"]
    hatch = PAPER_STYLE.flaw_fill(hide.flaws[0]).hatch
    assert hatch is not None
    assert (hatch.spacing, hatch.angle) == (2.0, 90.0)


def test_a_registered_kind_has_its_line_in_the_legend_and_its_letter_on_the_drawing(toy: FlawKind) -> None:
    from nestplan.drawing.primitives import Text
    from nestplan.sheets.hide_labels import label_flaws
    from nestplan.sheets.hide_pages import draw_planned_hide
    from nestplan.sheets.hide_styles import PAPER_STYLE
    from nestplan.sheets.legend import legend_entries

    job, hide = one_piece_job(), flawed_hide(toy.name)
    plan = plan_of(job, (hide,), [])
    drawing = draw_planned_hide(plan, job, hide, (), style=PAPER_STYLE, ratio=7.0)
    assert "Y: spoils both sides" in [words for _, words in legend_entries(drawing, plan, ())]
    label_flaws(drawing)
    assert "Y" in [item.words for item in drawing.picture if isinstance(item, Text)]


def test_names_letters_and_layers_are_registered_once(toy: FlawKind) -> None:
    with pytest.raises(ValueError, match="letter or the layer"):
        register_flaw_kind(TOY)
    assert FLAW_KINDS.names[-1] == "toy"
