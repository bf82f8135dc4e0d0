"""`retrace`: a hide photographed again on the day of cutting, its plan taken along and checked on what is there."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import msgspec
import numpy as np
import pytest
import shapely
import typer
from typer.testing import CliRunner

from nestplan.cli import retrace_commands
from nestplan.errors import InputError
from nestplan.geometry.pose import Pose
from nestplan.model.files import read_hide, read_plan, write_hide, write_job, write_plan
from nestplan.model.hide import Disc, Flaw, Hide
from tests.intake.photo_render import Scene, render
from tests.intake.photo_scenes import invented_outline
from tests.small_jobs import laid, one_piece_job, plan_of

SKIN = invented_outline("skin", 31)
TURN = np.radians(130.0)
SPIN = np.array([[np.cos(TURN), -np.sin(TURN)], [np.sin(TURN), np.cos(TURN)]])
SCENE = Scene(outline=SKIN, floor="concrete", width=1200, height=900, tilt=10.0, shadows=0, seed=5)


def today(cut: float) -> np.ndarray:
    """The skin turned, its far corner cut off by `cut` mm along x as it lay before."""
    edge = float(SKIN[:, 0].max()) - cut
    left = shapely.Polygon(SKIN).buffer(0).intersection(shapely.box(-1e4, -1e4, edge, 1e4))
    left = max(getattr(left, "geoms", [left]), key=lambda part: part.area)
    return np.asarray(left.exterior.coords)[:-1] @ SPIN.T


@pytest.fixture(scope="module")
def photo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("photo") / "today.jpg"
    path.write_bytes(render(replace(SCENE, outline=today(90.0), tilt=18.0, azimuth=200.0)).jpeg)
    return path


@pytest.fixture
def rack(tmp_path: Path) -> Path:
    """A folder with the skin as it was taken in, a job, and a plan with a piece on the corner and one in the middle."""
    low = SKIN.min(axis=0)
    ring = SKIN - low
    hide = Hide(
        name="skin",
        leather="cow side",
        outline=tuple((float(x), float(y)) for x, y in ring),
        flaws=(Flaw(spoils="grain", disc=Disc(at=tuple(ring.mean(axis=0)), diameter=12)),),
    )
    job = one_piece_job(sets=2)
    far = float(ring[:, 0].max())
    (piece,) = job.articles[0].pieces
    inside = shapely.Polygon(ring).buffer(-75)
    parts = [
        inside.intersection(shapely.box(low_x, -1e4, high_x, 1e4))
        for low_x, high_x in ((0, far - 400), (far - 105, far))
    ]
    placements = [
        laid(
            job,
            piece,
            Pose(part.representative_point().x - 50, part.representative_point().y - 50),
            hide="skin",
            copy=number,
            set=number,
        )
        for number, part in enumerate(parts, start=1)
    ]
    write_hide(tmp_path / "skin.hide.json", hide)
    write_job(tmp_path / "bag.job.json", job)
    plan = plan_of(job, [hide], placements)
    sources = (msgspec.structs.replace(plan.hides[0], file="skin.hide.json"),)
    work = msgspec.structs.replace(plan.job, file="bag.job.json")
    write_plan(tmp_path / "plan.json", msgspec.structs.replace(plan, job=work, hides=sources))
    return tmp_path


def run(*arguments: object) -> tuple[int, str]:
    app = typer.Typer()
    retrace_commands.register(app)
    app.callback()(lambda: None)
    result = CliRunner().invoke(app, ["retrace", *map(str, arguments)], catch_exceptions=False)
    return result.exit_code, result.output


def test_a_hide_found_again_takes_its_plan_along_and_tells_the_corner_that_is_gone(
    rack: Path, photo: Path
) -> None:
    out, plan = rack / "now.hide.json", rack / "now.plan.json"
    code, told = run(
        rack / "skin.hide.json", photo, "--reference", "A3", "--out", out, "--accept",
        "--plan", rack / "plan.json", "--out-plan", plan, "--picture", rack / "seen.png",
    )  # fmt: skip
    assert "Changed: leather is gone" in told
    assert (rack / "seen.png").exists()
    now = read_hide(out)
    assert now.gross_area == pytest.approx(shapely.Polygon(today(90.0)).area, rel=0.02)
    assert len(now.flaws) >= 1
    before, after = read_plan(rack / "plan.json"), read_plan(plan)
    turned = [(a.angle - b.angle) % 360 for a, b in zip(after.placements, before.placements, strict=True)]
    assert turned == pytest.approx([turned[0]] * 2)
    assert shapely.Polygon(now.ring).contains(shapely.Polygon(after.placements[0].cut_ring))
    # The piece on the corner runs off what is left of the hide: the check on what is there says so.
    assert code == 3
    assert "square 2 (leather) lies where leather has changed" in told
    assert "runs off the hide" in told


def test_a_plan_is_read_and_written_or_neither(rack: Path, photo: Path) -> None:
    with pytest.raises(InputError, match="read and written"):
        run(
            rack / "skin.hide.json",
            photo,
            "--reference",
            "A3",
            "--out",
            rack / "n.hide.json",
            "--plan",
            rack / "plan.json",
        )


def test_the_hide_that_a_plan_was_made_on_is_not_written_over(rack: Path, photo: Path) -> None:
    """Whoever is stopped after the hide and before the plan has the hide as it was to begin again with."""
    hide = rack / "skin.hide.json"
    before = hide.read_bytes()
    with pytest.raises(InputError, match="on the hide as it was"):
        run(
            hide, photo, "--reference", "A3", "--out", hide, "--replace", "--accept",
            "--plan", rack / "plan.json", "--out-plan", rack / "now.plan.json",
        )  # fmt: skip
    assert hide.read_bytes() == before
