"""What is done to which layer and when: the defaults, what a file says instead, and what old files come to mean."""

from __future__ import annotations

from pathlib import Path

import msgspec
import pytest

from nestplan.errors import InputError
from nestplan.geometry.pose import Pose
from nestplan.geometry.ring import area
from nestplan.model import Article, Job, Layer, LayerCut, Mark, Opening, Overcut, Piece
from nestplan.model.files import read_job, write_job
from nestplan.model.layer_work import (
    layers_of,
    net_area_of_layer,
    openings_of_layer,
    time_of,
    work_after_trimming,
    work_at_table,
    work_drawn_for_later,
)
from nestplan.yields import net_area
from tests.sheets.sample_plans import lay, side
from tests.small_jobs import SQUARE

WINDOW = ((30.0, 30.0), (50.0, 30.0), (50.0, 50.0), (30.0, 50.0))
HOLE = Mark(at=(20.0, 20.0), do="punch", diameter=4.0)
SLIT = Mark(at=(60.0, 60.0), do="slit", length=20.0)
SPOT = Mark(at=(80.0, 20.0), what="stud")
LINED = (LayerCut(layer="outer"), LayerCut(layer="lining", overcut=Overcut(least=6.0, wished=9.0)))


def piece(*, cuts: tuple[LayerCut, ...] = LINED, **more: object) -> Piece:
    return Piece(name="front", outline=SQUARE, cuts=cuts, **more)  # type: ignore[arg-type]


def job_of(lined: Piece) -> Job:
    layers = (Layer(name="outer"), Layer(name="lining"))
    return Job(name="lined", articles=(Article(name="lined", sets=1, pieces=(lined,)),), layers=layers)


@pytest.mark.parametrize(
    ("item", "layers", "when"),
    [
        (HOLE, ("outer", "lining"), "after trimming"),
        (SLIT, ("outer", "lining"), "after trimming"),
        (SPOT, ("outer",), "before gluing"),
        (Opening(outline=WINDOW), ("outer",), "before gluing"),
        (msgspec.structs.replace(SLIT, layers=("outer",)), ("outer",), "before gluing"),
        (msgspec.structs.replace(SLIT, layers=("lining", "outer")), ("outer", "lining"), "after trimming"),
        (msgspec.structs.replace(HOLE, when="before gluing"), ("outer", "lining"), "before gluing"),
        (msgspec.structs.replace(SPOT, layers=("lining",)), ("lining",), "before gluing"),
        (msgspec.structs.replace(SPOT, when="after trimming"), ("outer", "lining"), "after trimming"),
        (Opening(outline=WINDOW, when="after trimming"), ("outer", "lining"), "after trimming"),
        (Opening(outline=WINDOW, layers=("outer", "lining")), ("outer", "lining"), "before gluing"),
    ],
)
def test_layers_and_time_follow_from_what_a_thing_is_unless_they_are_said(
    item: Mark | Opening, layers: tuple[str, ...], when: str
) -> None:
    lined = piece()
    assert layers_of(lined, item) == layers
    assert time_of(lined, item) == when


def test_in_a_single_layer_all_is_done_at_the_table_unless_it_is_trimmed() -> None:
    for item in (HOLE, SLIT, SPOT, Opening(outline=WINDOW)):
        assert time_of(piece(cuts=(LayerCut(),)), item) == "before gluing"
        assert layers_of(piece(cuts=(LayerCut(),)), item) == ("leather",)
    trimmed = piece(cuts=(LayerCut(overcut=Overcut(least=3.0, wished=5.0)),))
    assert time_of(trimmed, HOLE) == "after trimming"
    assert time_of(trimmed, Opening(outline=WINDOW)) == "after trimming"
    assert time_of(trimmed, SPOT) == "before gluing"


def test_each_thing_is_done_once_at_its_time_on_its_layers() -> None:
    inner = msgspec.structs.replace(SPOT, layers=("lining",), what="label")
    lined = piece(holes=(WINDOW,), marks=(HOLE, SLIT, SPOT, inner))
    (window,) = lined.openings
    assert tuple(work_at_table(lined, "outer")) == (window, SPOT)
    assert tuple(work_at_table(lined, "lining")) == (inner,)
    assert tuple(work_drawn_for_later(lined, "outer")) == (HOLE, SLIT)
    assert not work_drawn_for_later(lined, "lining")
    assert tuple(work_after_trimming(lined)) == (HOLE, SLIT)


def test_an_opening_is_missing_from_its_own_layer_only() -> None:
    lined = piece(holes=(WINDOW,))
    whole = area(lined.ring)
    assert openings_of_layer(lined, "lining") == ()
    assert net_area_of_layer(lined, "outer") == pytest.approx(whole - 400.0)
    assert net_area_of_layer(lined, "lining") == pytest.approx(whole)
    job = job_of(lined)
    areas = {cut.cut.layer: cut.net_area for cut in job.cut_pieces}
    assert areas == pytest.approx({"outer": whole - 400.0, "lining": whole})
    for layer, wanted in areas.items():
        assert net_area(lay(job, side(), "front", layer, Pose(0.0, 0.0)), job) == pytest.approx(wanted)


def test_a_layer_that_the_piece_has_not_is_refused() -> None:
    for more in (
        {"marks": (msgspec.structs.replace(HOLE, layers=("lace",)),)},
        {"holes": (Opening(outline=WINDOW, layers=("lace",)),)},
    ):
        with pytest.raises(InputError, match="no layer 'lace'") as refused:
            piece(**more)
        assert str(refused.value.place).endswith("layers")


def test_files_give_an_opening_as_an_outline_alone_or_with_its_layers(tmp_path: Path) -> None:
    lined = piece(
        holes=(WINDOW, Opening(outline=WINDOW, layers=("lining",), when="before gluing", what="pocket")),
        marks=(msgspec.structs.replace(SLIT, layers=("outer",), when="before gluing"),),
    )
    job = job_of(lined)
    write_job(tmp_path / "lined.job.json", job)
    again = read_job(tmp_path / "lined.job.json")
    assert again == job
    assert [opening.layers for opening in again.articles[0].pieces[0].openings] == [(), ("lining",)]


def test_a_key_that_is_right_elsewhere_is_not_offered_again(tmp_path: Path) -> None:
    write_job(tmp_path / "a.job.json", job_of(piece(holes=(Opening(outline=WINDOW, layers=("lining",)),))))
    text = (tmp_path / "a.job.json").read_text(encoding="utf-8")
    assert '"layers": ["lining"]' in " ".join(text.split()).replace("[ ", "[").replace(" ]", "]")
    holes = text.index('"holes"')
    wrong = text[:holes] + text[holes:].replace('"layers"', '"layer"', 1)
    (tmp_path / "a.job.json").write_text(wrong, encoding="utf-8")
    with pytest.raises(InputError, match="Did you mean 'layers'"):
        read_job(tmp_path / "a.job.json")
