"""The goals: one list that everyone reads, to which one may be added from outside."""

from __future__ import annotations

import json
from collections.abc import Iterator

import msgspec
import pytest
from jsonschema import Draft202012Validator, ValidationError
from typer.testing import CliRunner

from nestplan.cli.app import build_app
from nestplan.errors import InputError
from nestplan.model import Plan
from nestplan.model.audit import check
from nestplan.model.files import read_plan, schema, to_text, write_plan
from nestplan.model.goals import (
    COMPLETE,
    FILL,
    GATHER,
    GOALS,
    INSERT,
    Goal,
    LayoutCounts,
    find_goal,
    register_goal,
    unregister_goal,
)
from nestplan.nesting.nest import nest
from tests.small_jobs import one_piece_job, plain_hide


@pytest.fixture
def toy_goal() -> Iterator[Goal]:
    """A goal from outside that may hold more than is asked."""
    goal = Goal(name="toy", words="a toy of a goal", steps=(INSERT,), may_exceed_asked=True)
    register_goal(goal)
    yield goal
    unregister_goal(goal.name)


def counts(
    *whole: int, placed: int = 10, missing: int = 0, area: float = 1.0, hides: int = 1
) -> LayoutCounts:
    return LayoutCounts(whole, (2,) * len(whole), placed, missing, area, hides)


def test_the_goals_are_three_and_the_usual_one_stands_first():
    assert tuple(GOALS) == (COMPLETE, FILL, GATHER)
    assert GOALS.names == ("complete", "fill", "gather")


def test_sets_beyond_those_asked_count_only_where_the_goal_makes_extra_sets():
    assert COMPLETE.merit(counts(3)) == COMPLETE.merit(counts(2))
    assert FILL.merit(counts(3)) > FILL.merit(counts(2))
    assert [goal.extra_sets for goal in GOALS] == [goal is FILL for goal in GOALS]


def test_whole_sets_outweigh_pieces_which_outweigh_area_which_outweighs_hides():
    for goal in GOALS:
        assert goal.merit(counts(2, placed=5)) > goal.merit(counts(1, placed=9))
        assert goal.merit(counts(1, placed=9)) > goal.merit(counts(1, placed=9, missing=1, area=5.0))
        assert goal.merit(counts(1, area=2.0, hides=3)) > goal.merit(counts(1, area=1.0))
        assert goal.merit(counts(1, hides=2)) > goal.merit(counts(1, hides=3))


def test_a_name_is_given_once():
    with pytest.raises(ValueError, match="complete"):
        register_goal(COMPLETE)


def test_a_goal_that_is_none_is_refused_with_those_there_are():
    with pytest.raises(InputError, match="complete, fill, gather"):
        find_goal("tidy")
    with pytest.raises(InputError, match="no goal 'tidy'"):
        nest(one_piece_job(), [plain_hide()], goal="tidy")


@pytest.mark.parametrize(
    ("goal", "words"),
    [
        ('"tidy"', "goal: 'tidy' is none of the words allowed here. Use one of: complete, fill, gather."),
        ("7", "goal: A text is expected here, not a whole number. Correct the value."),
        ("null", "goal: A text is expected here, not null. Correct the value."),
    ],
)
def test_a_plan_file_with_another_goal_is_refused(tmp_path, goal, words):
    path = tmp_path / "plan.json"
    write_plan(path, nest(one_piece_job(), [plain_hide()], goal="fill"))
    text = path.read_text()
    assert read_plan(path).goal == "fill"
    path.write_text(text.replace('"goal": "fill"', f'"goal": {goal}'))
    with pytest.raises(InputError) as caught:
        read_plan(path)
    assert str(caught.value) == f"{path}, {words}"


def test_a_plan_read_from_its_file_is_written_as_it_was(tmp_path):
    path = tmp_path / "plan.json"
    write_plan(path, nest(one_piece_job(), [plain_hide()], goal="gather"))
    assert to_text(read_plan(path)) == path.read_text()


def test_only_the_goal_that_exceeds_what_is_asked_may_hold_more():
    job, hide = one_piece_job(sets=2), plain_hide()
    more = nest(job, [hide], goal="fill")
    assert len(more.placements) > 2
    assert check(more, job, [hide]) == ()
    for goal in (COMPLETE, GATHER):
        faults = check(msgspec.structs.replace(more, goal=goal.name), job, [hide])
        assert {fault.rule for fault in faults} == {"count"}


def test_a_goal_from_outside_is_in_the_commands_help(toy_goal):
    shown = CliRunner().invoke(build_app(), ["plan", "--help"], env={"COLUMNS": "200"}).output
    assert "complete, fill, gather or toy." in shown


def test_a_goal_from_outside_is_planned_for_and_judged(toy_goal):
    job, hide = one_piece_job(sets=3), plain_hide()
    plan = nest(job, [hide], goal="toy", passes=1)
    assert plan.goal == "toy"
    assert len(plan.placements) == 3
    few = one_piece_job(sets=2)
    assert check(plan, few, [hide]) == ()
    assert check(msgspec.structs.replace(plan, goal="complete"), few, [hide]) != ()


def test_a_goal_from_outside_is_in_the_schema_and_in_plan_files(toy_goal, tmp_path):
    path = tmp_path / "plan.json"
    write_plan(path, nest(one_piece_job(), [plain_hide()], goal="toy"))
    assert read_plan(path).goal == "toy"
    said = json.loads(path.read_text())
    Draft202012Validator(json.loads(schema(Plan))).validate(said)
    unregister_goal("toy")
    with pytest.raises(ValidationError, match="toy"):
        Draft202012Validator(json.loads(schema(Plan))).validate(said)
    with pytest.raises(InputError, match="none of the words"):
        read_plan(path)
    register_goal(toy_goal)
