"""What stays where it is, judged before anything is searched for: a locked piece may lie where a rule was changed."""

from __future__ import annotations

from collections.abc import Sequence

from nestplan.errors import RuleError
from nestplan.model.audit import Fault, check
from nestplan.model.goals import Goal
from nestplan.model.hide import Hide
from nestplan.model.job import Job
from nestplan.model.plan import Placement, Plan, Source

__all__ = ["refuse_wrong_keep"]

_UNLOCK = "Unlock it, or undo the change of the job or of the hide."
_PLAN_AGAIN = (
    "Take it out of the plan so that it is planned anew, or undo the change of the job or of the hide."
)


def refuse_wrong_keep(job: Job, hides: Sequence[Hide], keep: Sequence[Placement], goal: Goal) -> None:
    """Check placements that stay where they are.

    Raises RuleError if they break a rule of the job or of the hides as these are now; it names the first that does.
    """
    if not keep:
        return
    plan = Plan(
        name=job.name,
        job=Source(name=job.name),
        hides=tuple(Source(name=hide.name) for hide in hides),
        goal=goal.name,
        placements=tuple(keep),
    )
    faults = check(plan, job, hides)
    if faults:
        raise _in_words(faults, keep)


def _in_words(faults: Sequence[Fault], keep: Sequence[Placement]) -> RuleError:
    """The first fault as an error that says what is kept where, and how to mend it."""
    first = faults[0]
    concerned = [keep[number] for number in first.placements]
    if not concerned:
        return RuleError(f"What is locked or cut does not fit the job: {first.what}", mend=_UNLOCK)
    where = " and ".join(f"'{each.name}' (copy {each.copy}) on '{each.hide}'" for each in concerned)
    are_cut = all(placement.done for placement in concerned)
    verb = "are" if len(concerned) > 1 else "is"
    state = "cut already" if are_cut else "locked"
    return RuleError(
        f"{where} {verb} {state}, but a rule now forbids it: {first.what}",
        mend=_PLAN_AGAIN if are_cut else _UNLOCK,
    )
