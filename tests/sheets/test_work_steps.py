"""The order of work: only the steps that a job needs, in the order of the bench, with what is done to which layer."""

from __future__ import annotations

import msgspec
import pytest

from nestplan.model import Article, Job, LayerCut, Mark, Overcut, Piece
from nestplan.sheets.work_steps import WorkStep, work_steps
from tests.sheets.sample_plans import belt_job, layered_plan

SHAPE = ((0.0, 0.0), (90.0, 0.0), (90.0, 60.0), (0.0, 60.0))


def step_of(job: Job, name: str) -> WorkStep:
    return next(step for step in work_steps(job) if step.name == name)


def with_cuts(*cuts: LayerCut) -> Job:
    """The belts with a front cut like that."""
    _, job, _ = layered_plan()
    front = msgspec.structs.replace(job.piece("front"), cuts=cuts)
    article = msgspec.structs.replace(job.articles[0], pieces=(front,))
    return msgspec.structs.replace(job, articles=(article,))


def test_only_the_steps_that_a_job_needs_are_told_in_the_order_of_work() -> None:
    names = [step.name for step in work_steps(belt_job())]
    assert names == [
        "Look at the leather", "Mark out", "Straight edge and strips", "Cut the pieces", "Work on single layers",
        "Colour and finish", "Glue the layers", "Join and press", "Trim to the finished line", "Edges",
        "Holes and slits", "Sew", "Set the hardware", "Lace", "Put away",
    ]  # fmt: skip
    for step in work_steps(belt_job()):
        assert step.why
        assert step.wrong
        assert step.tools


def test_a_plain_piece_needs_no_glue_no_trimming_and_no_thread() -> None:
    plain = Piece(name="mat", outline=SHAPE, marks=(Mark(at=(10.0, 10.0), do="punch", diameter=3.0),))
    job = Job(name="mats", articles=(Article(name="mat", sets=1, pieces=(plain,)),))
    names = [step.name for step in work_steps(job)]
    assert names == [
        "Look at the leather",
        "Mark out",
        "Cut the pieces",
        "Edges",
        "Holes and slits",
        "Put away",
    ]
    assert step_of(job, "Holes and slits").details == ("mat: 1 × punch 3 mm",)
    assert "after gluing" not in step_of(job, "Holes and slits").what


def test_what_is_done_to_one_layer_comes_before_the_glue_and_what_goes_through_after_it() -> None:
    _, job, _ = layered_plan()
    names = [step.name for step in work_steps(job)]
    assert (
        names.index("Work on single layers") < names.index("Glue the layers") < names.index("Holes and slits")
    )
    assert step_of(job, "Work on single layers").details == (
        "front, outer: 1 × opening, 1 × slit 22 mm (strap slit), 1 × mark (badge)",
        "front, lining: 1 × opening, 1 × mark (label)",
    )
    alone = [tool.name for tool in step_of(job, "Work on single layers").tools]
    assert alone[2:4] == ["setter for badge", "setter for label"]
    assert step_of(job, "Holes and slits").details == ("front: 4 × punch 5 mm (eyelet 5 mm)",)
    assert "through all layers at once" in step_of(job, "Holes and slits").what
    assert "punch 5 mm" in [tool.name for tool in step_of(job, "Holes and slits").tools]
    assert next(tool.name for tool in step_of(job, "Set the hardware").tools) == "setter for eyelet 5 mm"


def test_the_guide_of_the_trimming_is_told() -> None:
    wide = Overcut(least=4.0, wished=4.0)
    exact = with_cuts(LayerCut(layer="outer"), LayerCut(layer="lining", overcut=wide))
    assert "with the exact layer as the guide." in step_of(exact, "Trim to the finished line").what
    both = with_cuts(LayerCut(layer="outer", overcut=wide), LayerCut(layer="lining", overcut=wide))
    assert (
        "finished line marked on the outside of the outer" in step_of(both, "Trim to the finished line").what
    )
    assert "the lining gets no marks" in step_of(both, "Mark out").what


@pytest.mark.parametrize(
    ("band", "words"), [(None, "all over"), (12.0, "in a band that reaches 12 mm inside")]
)
def test_where_the_glue_goes_is_told(band: float | None, words: str) -> None:
    job = belt_job()
    glued = msgspec.structs.replace(job, supplies=msgspec.structs.replace(job.supplies, glue_band=band))
    assert words in step_of(glued, "Glue the layers").what
    assert "what stays loose" in step_of(glued, "Glue the layers").what


def test_waiting_times_come_from_the_label_unless_the_job_says_them() -> None:
    job = belt_job()
    assert "as long as the label says" in step_of(job, "Glue the layers").what
    assert "as long as the label says" in step_of(job, "Join and press").what
    supplies = msgspec.structs.replace(job.supplies, minutes_before_joining=7.0, minutes_before_trimming=45.0)
    said = msgspec.structs.replace(job, supplies=supplies)
    assert "about 7 minutes before joining" in step_of(said, "Glue the layers").what
    assert "about 45 minutes before trimming" in step_of(said, "Join and press").what
