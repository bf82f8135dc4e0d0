"""nestplan plans how to cut panels, straps and lace from irregular hides.

From files to a plan in Python::

    import nestplan

    job = nestplan.read_job("quillmere.job.json")
    hides = nestplan.read_hides("demo_hides")
    plan = nestplan.plan(job, hides, seconds=10)
    nestplan.draw(plan, "plan.svg")
    comparison = nestplan.compare(job, hides)

A hide, a plan and a comparison show themselves in a notebook. All names listed here stay as they are from one version
to the next; each is loaded when it is first asked for, so that importing nestplan costs next to nothing.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from nestplan.errors import InputError as InputError
    from nestplan.errors import NestplanError as NestplanError
    from nestplan.errors import RuleError as RuleError
    from nestplan.model import Article as Article
    from nestplan.model import Flaw as Flaw
    from nestplan.model import Hide as Hide
    from nestplan.model import Job as Job
    from nestplan.model import Piece as Piece
    from nestplan.model import Plan as Plan
    from nestplan.model import Region as Region
    from nestplan.model import Strip as Strip
    from nestplan.scripting import Comparison as Comparison
    from nestplan.scripting import check as check
    from nestplan.scripting import compare as compare
    from nestplan.scripting import count as count
    from nestplan.scripting import draw as draw
    from nestplan.scripting import plan as plan
    from nestplan.scripting import read_hide as read_hide
    from nestplan.scripting import read_hides as read_hides
    from nestplan.scripting import read_job as read_job
    from nestplan.scripting import read_plan as read_plan
    from nestplan.scripting import write as write

__version__ = "0.1.0"

_MODULE_OF = {
    "Article": "model",
    "Comparison": "scripting",
    "Flaw": "model",
    "Hide": "model",
    "InputError": "errors",
    "Job": "model",
    "NestplanError": "errors",
    "Piece": "model",
    "Plan": "model",
    "Region": "model",
    "RuleError": "errors",
    "Strip": "model",
    "check": "scripting",
    "compare": "scripting",
    "count": "scripting",
    "draw": "scripting",
    "plan": "scripting",
    "read_hide": "scripting",
    "read_hides": "scripting",
    "read_job": "scripting",
    "read_plan": "scripting",
    "write": "scripting",
}

__all__ = [
    "Article",
    "Comparison",
    "Flaw",
    "Hide",
    "InputError",
    "Job",
    "NestplanError",
    "Piece",
    "Plan",
    "Region",
    "RuleError",
    "Strip",
    "__version__",
    "check",
    "compare",
    "count",
    "draw",
    "plan",
    "read_hide",
    "read_hides",
    "read_job",
    "read_plan",
    "write",
]


def __getattr__(name: str) -> Any:
    if name not in _MODULE_OF:
        raise AttributeError(f"module {__name__} has no attribute {name}")
    return getattr(importlib.import_module(f"{__name__}.{_MODULE_OF[name]}"), name)


def __dir__() -> list[str]:
    return sorted(__all__)
