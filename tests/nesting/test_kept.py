"""What is locked where a changed rule forbids it is named before anything is searched for."""

from __future__ import annotations

import pytest
from msgspec.structs import replace

from nestplan.errors import RuleError
from nestplan.model import Disc, Flaw
from nestplan.nesting.nest import nest
from tests.small_jobs import one_piece_job, plain_hide

JOB = one_piece_job(sets=3)


def first_piece(**changes):
    placement = nest(JOB, [plain_hide()]).placements[0]
    return replace(placement, **changes)


def holed_under(placement):
    x, y = placement.finished_ring.mean(axis=0).tolist()
    return plain_hide(flaws=(Flaw(spoils="through", name="a new hole", disc=Disc(at=(x, y), diameter=20.0)),))


def test_a_locked_piece_on_a_flaw_found_since_is_named_with_what_to_do():
    locked = first_piece(locked=True)
    with pytest.raises(RuleError) as caught:
        nest(JOB, [holed_under(locked)], keep=[locked])
    said = str(caught.value)
    assert "'square' (copy 1) on 'plain' is locked" in said
    assert "a new hole" in said
    assert "Unlock it" in said
    assert "report" not in said


def test_of_a_piece_that_is_cut_already_it_says_so():
    cut = first_piece(done=True)
    with pytest.raises(RuleError, match="is cut already"):
        nest(JOB, [holed_under(cut)], keep=[cut])


def test_two_locked_pieces_on_each_other_are_both_named():
    locked = first_piece(locked=True)
    with pytest.raises(RuleError, match=r"\(copy 1\).* and .*\(copy 2\).* are locked"):
        nest(JOB, [plain_hide()], keep=[locked, replace(locked, copy=2)])


def test_more_locked_than_the_job_now_asks_for_is_said():
    plan = nest(JOB, [plain_hide()])
    keep = [replace(placement, locked=True) for placement in plan.placements]
    with pytest.raises(RuleError, match="placed 3 times; the job asks for 2"):
        nest(one_piece_job(sets=2), [plain_hide()], keep=keep)


def test_what_is_locked_rightly_stays():
    locked = first_piece(locked=True)
    assert locked in nest(JOB, [plain_hide()], keep=[locked]).placements
