"""The goals as the window offers them."""

from __future__ import annotations

from nestplan.desk.sentences import search_words
from nestplan.model.goals import GOALS, INSERT, Goal, SearchStep, register_goal, unregister_goal
from nestplan.nesting.progress import Progress


def test_the_window_offers_every_goal_in_its_words(window):
    choice = window.panels["plan"].goal
    assert [choice.itemData(n) for n in range(choice.count())] == [goal.name for goal in GOALS]
    assert [choice.itemText(n) for n in range(choice.count())] == [goal.words for goal in GOALS]


def test_a_goal_from_outside_can_be_chosen_and_its_steps_have_words(request):
    step = SearchStep(INSERT.name, "toying", "Toying with what is left")
    register_goal(Goal(name="toy", words="a toy of a goal", steps=(step,)))
    try:
        choice = request.getfixturevalue("window").panels["plan"].goal
        assert choice.itemText(choice.count() - 1) == "a toy of a goal"
        choice.set_value("toy")
        assert choice.value == "toy"
        assert search_words(Progress(stage="toying", placed=1, asked=2)).startswith(
            "Toying with what is left"
        )
    finally:
        unregister_goal("toy")
