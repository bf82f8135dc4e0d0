"""Files a user may well give by mistake, by name: each is one thing wrong with a good hide, job or plan.

`broken_hides()` and `broken_jobs()` give name → text of the file. Nothing here is ever right.
"""

from __future__ import annotations

import json
from typing import Any

SQUARE = [[0, 0], [1000, 0], [1000, 800], [0, 800]]


def good_hide() -> dict[str, Any]:
    return {
        "nestplan": 1,
        "kind": "hide",
        "name": "good",
        "leather": "cow side",
        "outline": SQUARE,
        "backbone": [[1000, 0], [0, 0]],
    }


def good_job() -> dict[str, Any]:
    return {
        "nestplan": 1,
        "kind": "job",
        "name": "good",
        "articles": [
            {
                "name": "panel",
                "sets": 2,
                "pieces": [{"name": "square", "outline": [[0, 0], [100, 0], [100, 100], [0, 100]]}],
            }
        ],
    }


def _hide(**changes: Any) -> str:
    return json.dumps({**good_hide(), **changes})


def _job(**changes: Any) -> str:
    return json.dumps({**good_job(), **changes})


def _piece(**changes: Any) -> str:
    job = good_job()
    job["articles"][0]["pieces"][0].update(changes)
    return json.dumps(job)


def _strip(**changes: Any) -> str:
    job = good_job()
    job["articles"][0]["strips"] = [{"name": "strap", "width": 30, "length": 900, **changes}]
    return json.dumps(job)


def _flaw(**changes: Any) -> str:
    return _hide(flaws=[{"spoils": "grain", "disc": {"at": [100, 100], "diameter": 20}, **changes}])


def broken_hides() -> dict[str, str]:
    without_name = good_hide()
    del without_name["name"]
    return {
        "not json": "outline: 1, 2, 3",
        "empty file": "",
        "truncated": _hide()[:60],
        "a list": "[1, 2, 3]",
        "nan in the outline": _hide().replace("1000", "NaN", 1),
        "infinite point": _hide().replace("1000", "1e999", 1),
        "not utf-8 text": _hide().replace("good", "\udcff"),
        "a job instead": _job(),
        "no kind": json.dumps({"nestplan": 1}),
        "no format": _hide(nestplan=None),
        "newer format": _hide(nestplan=99),
        "no name": json.dumps(without_name),
        "empty name": _hide(name=""),
        "unknown key": _hide(colour_of_the_cow="brown"),
        "unknown key in a flaw": _flaw(depth=3),
        "two points": _hide(outline=SQUARE[:2]),
        "no points": _hide(outline=[]),
        "crosses itself": _hide(outline=[[0, 0], [1000, 800], [1000, 0], [0, 800]]),
        "no area": _hide(outline=[[0, 0], [500, 0], [1000, 0]]),
        "all one point": _hide(outline=[[5, 5]] * 4),
        "points of three numbers": _hide(outline=[[0, 0, 1], [10, 0, 1], [10, 10, 1]]),
        "words as points": _hide(outline=[["a", "b"], ["c", "d"], ["e", "f"]]),
        "too many points": _hide(outline=[[k, (k * 7919) % 1000] for k in range(20_001)]),
        "hole outside": _hide(holes=[[[2000, 0], [2100, 0], [2100, 100]]]),
        "flaw outside": _flaw(disc={"at": [5000, 5000], "diameter": 10}),
        "flaw without shape": _hide(flaws=[{"spoils": "grain"}]),
        "flaw of two shapes": _flaw(outline=[[0, 0], [10, 0], [10, 10]]),
        "flaw spoils nothing known": _flaw(spoils="smell"),
        "flaw of no size": _flaw(disc={"at": [100, 100], "diameter": 0}),
        "negative margin": _flaw(margin=-1),
        "line of one point": _flaw(disc=None, line={"points": [[1, 1]], "width": 2}),
        "region outside": _hide(regions=[{"name": "bend", "outline": [[5000, 0], [5100, 0], [5100, 50]]}]),
        "two regions of one name": _hide(regions=[{"name": "bend", "outline": SQUARE}] * 2),
        "firmness of nine": _hide(regions=[{"name": "bend", "outline": SQUARE, "firmness": 9}]),
        "negative thickness": _hide(thickness=[-1, 2]),
        "thickness upside down": _hide(thickness=[3, 2]),
        "thickness of one value": _hide(thickness=[2]),
        "area without a unit": _hide(stated_area="22.75"),
        "area of two meanings": _hide(stated_area="22 3"),
        "thickness in stones": _hide(thickness=["2 stone", "3 stone"]),
        "negative price": _hide(price=-5),
        "backbone of one point": _hide(backbone=[[0, 0]]),
        "backbone of no length": _hide(backbone=[[0, 0], [0, 0]]),
    }


def broken_jobs() -> dict[str, str]:
    return {
        "job not json": "{",
        "a hide instead of a job": _hide(),
        "no articles": _job(articles=[]),
        "article of nothing": _job(articles=[{"name": "empty", "sets": 1}]),
        "zero sets": _job(articles=[{**good_job()["articles"][0], "sets": 0}]),
        "half a set": _job(articles=[{**good_job()["articles"][0], "sets": 0.5}]),
        "negative gap": _job(gap=-1),
        "gap in pounds": _job(gap="1 lb"),
        "gap without a number": _job(gap="mm"),
        "zero useful width": _job(useful_width=0),
        "unknown permission": _job(permissions={"ignore_everything": True}),
        "unknown layer": _piece(cuts=[{"layer": "velvet"}]),
        "no layers to cut": _piece(cuts=[]),
        "two pieces of one name": _job(articles=[good_job()["articles"][0]] * 2),
        "zero overcut range": _piece(cuts=[{"overcut": {"least": 0, "wished": 0}}]),
        "overcut upside down": _piece(cuts=[{"overcut": {"least": 9, "wished": 6}}]),
        "negative overcut": _piece(cuts=[{"overcut": {"least": -2, "wished": 6}}]),
        "hole outside the piece": _piece(holes=[[[500, 0], [510, 0], [510, 10]]]),
        "mark outside the piece": _piece(marks=[{"at": [500, 500]}]),
        "punch without diameter": _piece(marks=[{"at": [50, 50], "do": "punch"}]),
        "part outside the piece": _piece(parts=[{"outline": [[500, 0], [510, 0], [510, 10]]}]),
        "shows the lining": _piece(cuts=[{"shows": "lining"}]),
        "stretch tolerance of 200": _piece(cuts=[{"stretch": {"axis": 90, "tolerance": 200}}]),
        "piece crosses itself": _piece(outline=[[0, 0], [10, 10], [10, 0], [0, 10]]),
        "strip wider than long": _strip(width=1000),
        "strip of no width": _strip(width=0),
        "strip from the sky": _strip(source="sky"),
        "minus one join": _strip(joins=-1),
    }
