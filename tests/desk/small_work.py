"""Small hides, a job and a plan, built by hand, for tests of the window."""

from __future__ import annotations

import numpy as np

from nestplan.desk.document.plan_edits import Waiting, laid_down
from nestplan.model.hide import Disc, Flaw, Hide, Region
from nestplan.model.job import Article, Job
from nestplan.model.piece import LayerCut, Overcut, Piece, StretchRule, Strip
from nestplan.tasks.contents import Contents
from nestplan.tasks.planning import empty_plan

SQUARE = ((0.0, 0.0), (100.0, 0.0), (100.0, 60.0), (0.0, 60.0))


def sheet(name: str = "sheet", width: float = 1000.0, height: float = 600.0, **fields: object) -> Hide:
    """An upright rectangle of leather, backbone along its lower edge."""
    return Hide(
        name=name,
        leather="leather",
        outline=((0, 0), (width, 0), (width, height), (0, height)),
        backbone=((width, 0), (0, 0)),
        **fields,
    )


def spoiled_sheet() -> Hide:
    """A sheet with a hole in its middle and a loose region on its right."""
    return sheet(
        flaws=(Flaw(spoils="through", name="hole", disc=Disc(at=(500, 300), diameter=80), margin=5),),
        regions=(Region(name="belly", outline=((800, 0), (1000, 0), (1000, 600), (800, 600)), firmness=1),),
    )


def panel(name: str = "panel", **fields: object) -> Piece:
    return Piece(name=name, outline=SQUARE, **fields)


def job(*pieces: Piece, sets: int = 2, strips: tuple[Strip, ...] = (), **fields: object) -> Job:
    return Job(
        name="small job", articles=(Article(name="belt", sets=sets, pieces=pieces, strips=strips),), **fields
    )


def pair_job(sets: int = 2) -> Job:
    """Pairs of a panel with overcut and a stretch rule."""
    cut = LayerCut(overcut=Overcut(least=3, wished=6), stretch=StretchRule(axis=90, tolerance=15))
    return job(panel(pair=True, cuts=(cut,)), sets=sets)


def laid_work(count: int, hide: Hide | None = None, step: tuple[float, float] = (110.0, 70.0)) -> Contents:
    """A plan with `count` panels laid in rows on a sheet large enough."""
    columns = max(1, int(np.ceil(np.sqrt(count * step[1] / step[0]))))
    rows = int(np.ceil(count / columns))
    hide = hide or sheet(width=columns * step[0] + 200, height=rows * step[1] + 200)
    wanted = job(panel(), sets=count)
    plan = empty_plan(wanted, (hide,))
    waiting = Waiting("panel", "leather", False, False, count, "panel")
    for number in range(count):
        at = (80 + step[0] * (number % columns), 60 + step[1] * (number // columns))
        plan, _ = laid_down(plan, wanted, hide, waiting, at)
    return Contents((hide,), wanted, plan)
