from __future__ import annotations

import msgspec
import pytest

from nestplan.model import Article, Job, Layer, LayerCut, Overcut, Piece, Region, StretchRule, Strip, Unplaced
from nestplan.tasks.relaxations import hides_without_direction, relaxations
from tests.small_jobs import SQUARE, one_piece_job, plain_hide, strap_job

CUT = LayerCut(
    overcut=Overcut(least=6.0, wished=9.0), stretch=StretchRule(axis=90, tolerance=15), regions=("bend",)
)
RULED = one_piece_job(Piece(name="panel", outline=SQUARE, cuts=(CUT,)))


def missing(reason: str, *, piece: str = "panel", strip: str = "", layer: str = "leather") -> Unplaced:
    return Unplaced(piece=piece, strip=strip, layer=layer, count=1, reason=reason, why="")  # type: ignore[arg-type]


def words(reason: str, job: Job = RULED, **named: str) -> list[str]:
    return [each.words for each in relaxations(missing(reason, **named), job, (plain_hide(),))]


def cut_of(job: Job) -> LayerCut:
    return job.piece("panel").cuts[0]


def test_a_stretch_limit_is_loosened_a_little_then_wholly() -> None:
    wider, free, *_ = relaxations(missing("stretch"), RULED, ())
    assert wider.words == "Let panel lie up to 30° off the stretch"
    assert cut_of(wider.job).stretch == StretchRule(axis=90, tolerance=30)
    assert cut_of(free.job).stretch is None
    assert cut_of(free.job).regions == ("bend",)


def test_where_no_hide_has_a_direction_a_wider_angle_is_not_offered() -> None:
    bare = plain_hide("bare", backbone=None)
    (free,) = relaxations(missing("stretch"), RULED, (bare,))
    assert free.words == "Let panel lie any way to the stretch"
    assert hides_without_direction(missing("stretch"), RULED, (bare,)) == ("bare",)
    assert hides_without_direction(missing("no room"), RULED, (bare,)) == ()
    assert hides_without_direction(missing("stretch"), RULED, (bare, plain_hide())) == ("bare",)
    assert len(relaxations(missing("stretch"), RULED, (bare, plain_hide()))) == 2
    region = Region(name="back", outline=SQUARE, stretch=90.0)
    assert (
        hides_without_direction(missing("stretch"), RULED, (plain_hide(backbone=None, regions=(region,)),))
        == ()
    )


def test_a_region_is_let_go_where_it_kept_the_piece_out() -> None:
    (free,) = relaxations(missing("region"), RULED, ())
    assert (cut_of(free.job).regions, cut_of(free.job).least_firmness) == ((), 1)


def test_flaws_may_be_hidden_or_lie_in_the_overcut_and_the_overcut_halved() -> None:
    hidden, band, slim = relaxations(missing("flaws"), RULED, ())
    assert cut_of(hidden.job).shows == "hidden"
    assert band.job.permissions.through_flaws_in_overcut
    assert cut_of(slim.job).overcut == Overcut(least=3.0, wished=9.0)


def test_where_there_is_no_room_the_gap_and_the_side_are_offered_too() -> None:
    assert f"Leave a gap of {RULED.gap / 2:g} mm for the knife instead of {RULED.gap:g} mm" in words(
        "no room"
    )
    assert "Let panel be turned over" in words("no room")
    paired = one_piece_job(Piece(name="panel", outline=SQUARE, pair=True))
    assert "Let panel be turned over" not in words("no room", paired)


def test_a_layer_takes_another_leather_or_any_thickness() -> None:
    layer = Layer(name="leather", leather=("goat",), thickness=(1.0, 1.2))
    job = msgspec.structs.replace(RULED, layers=(layer,))
    other, thick = relaxations(missing("no leather"), job, (plain_hide(),))
    assert other.job.layer("leather").leather == ("goat", "cow side")
    assert thick.job.layer("leather").thickness is None


def test_a_strap_may_lie_across_and_a_lace_may_be_joined() -> None:
    straps = strap_job()
    assert words("no room", straps, piece="", strip="strap")[0] == "Let strap lie across the backbone too"
    lace = Strip(name="lace", width=5.0, length=900.0, use="lace", along="any")
    laces = Job(name="laces", articles=(Article(name="belt", sets=1, strips=(lace,)),))
    (joined, *_) = relaxations(missing("flaws", piece="", strip="lace"), laces, ())
    assert joined.words == "Let lace be made of 2 parts"
    assert joined.job.strip("lace").joins == 1


@pytest.mark.parametrize("reason", ["stretch", "region", "flaws", "no room", "too large", "no leather"])
def test_what_the_job_does_not_know_has_nothing_to_loosen(reason: str) -> None:
    assert words(reason, piece="hat") == []


def test_the_job_itself_stays_as_it_is() -> None:
    before = msgspec.json.encode(RULED)
    relaxations(missing("no room"), RULED, (plain_hide(),))
    assert msgspec.json.encode(RULED) == before
