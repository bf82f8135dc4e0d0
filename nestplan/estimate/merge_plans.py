"""Plans of single hides taken together: one plan of all of them, judged like any other.

What lies on one hide is no hindrance on another, so what hides give one by one they give together.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence

from msgspec.structs import replace

from nestplan.errors import WrongPlanError
from nestplan.model.audit import check
from nestplan.model.files import content_hash
from nestplan.model.goals import FILL
from nestplan.model.hide import Hide
from nestplan.model.job import Job
from nestplan.model.plan import Placement, Plan, Source
from nestplan.yields import figures_of

__all__ = ["merge_plans"]


def merge_plans(job: Job, hides: Sequence[Hide], plans: Iterable[Plan]) -> Plan:
    """One plan of `job` on `hides` that holds everything that `plans`, each of other hides, hold.

    Copies are numbered anew, and sets with them. It may hold more than the job asks, so its goal is `fill`. Raises
    WrongPlanError if the audit refuses it, which would be a bug.
    """
    singles = list(plans)
    plan = Plan(
        name=job.name,
        job=Source(name=job.name, hash=content_hash(job)),
        hides=tuple(Source(name=hide.name, hash=content_hash(hide)) for hide in hides),
        goal=FILL.name,
        seed=singles[0].seed if singles else 0,
        placements=_numbered(job, singles),
    )
    plan = replace(plan, figures=figures_of(plan, job, hides))
    faults = check(plan, job, hides)
    if faults:
        raise WrongPlanError(f"Plans of single hides do not go together: {faults[0]}", faults=faults)
    return plan


def _numbered(job: Job, plans: Iterable[Plan]) -> tuple[Placement, ...]:
    """All placements, the copies of each piece and strip counted through the plans, each hand filling set after
    set."""
    copies: Counter[tuple[str, str]] = Counter()
    hands: Counter[tuple[str, str, bool]] = Counter()
    in_a_set: Counter[tuple[str, str, bool]] = Counter()
    for piece in job.cut_pieces:
        in_a_set[job.kind_of_copy(*piece.key)] += piece.piece.count
    found: list[Placement] = []
    for plan in plans:
        named: dict[tuple[str, str, int], tuple[int, int]] = {}
        for placement in plan.placements:
            # The parts of a joined strip share their copy.
            own = (placement.name, placement.layer, placement.copy)
            if own not in named:
                copies[own[:2]] += 1
                if placement.piece:
                    hand = job.kind_of_copy(placement.piece, placement.layer, placement.mirrored)
                    number = hands[hand] // in_a_set[hand] + 1
                    hands[hand] += 1
                else:
                    number = (copies[own[:2]] - 1) // job.strip(placement.strip).count + 1
                named[own] = (copies[own[:2]], number)
            copy, number = named[own]
            found.append(replace(placement, copy=copy, set=number))
    return tuple(found)
