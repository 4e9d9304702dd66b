"""Whether an assessor or a certifier is approved on a day, and what keeps an approval current.

An approval counts while its own days run and, where the school asks for it, while the last
reference practical scored in step is no older than the school says.  One that was not in step
stops it at once.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Literal

from standfast.engine.dates import DAY, add, subtract
from standfast.model.approval import ApprovalStanding, ReferenceScore, Role
from standfast.model.base import SLUG, Period
from standfast.model.people import Approval, Person

WINDOW = "P2M"
"""How long before its day a reference practical is called due: common practice, no source."""
LATE_FOR = "P1Y"
"""How long an approval that ended is late; after that it counts as given up.  A choice of ours."""


@dataclass(frozen=True)
class _Run:
    """Days without a gap on which somebody is approved, both included."""

    first: date
    last: date


ApprovalWhat = Literal["approval ends", "reference practical", "approval late"]
"""Its own last day; a reference practical is due; ended or lapsed already."""


@dataclass(frozen=True)
class ApprovalDue:
    """One thing that keeps an approval going, and its day."""

    day: date
    what: ApprovalWhat
    role: Role
    rubric: str
    says: str


def approval_standing(
    person: Person,
    rubric: str,
    references: Iterable[ReferenceScore],
    every: Period | None,
    on: date,
    *,
    role: Role = "assessor",
) -> ApprovalStanding:
    """How that person's approval stands on a day, why, until when, and what comes next.

    `references` are reference practicals in the order in which they were entered: of one day
    the later entry counts, and those after `on` do not.  `every` is how often the school asks for
    one, counted from the last in step, or from the approval's first day when there is none since.
    Every day named is inclusive.
    """
    runs = _runs(person, rubric, role)
    run = next((run for run in runs if run.first <= on <= run.last), None)
    common = {"rubric": rubric, "role": role, "until": run and run.last}
    if run is None:
        because, step = _not_running(runs, role, on)
        told: dict[str, object] = {"state": "lapsed", "because": because, "next_step": step}
    else:
        told = {"state": "current", "because": f"approved until {run.last}"}
        if role == "assessor":
            told |= _by_references(_seen(references, person.id, rubric, on), run, every, on)
    return ApprovalStanding.model_validate({**common, **told})


def _by_references(
    seen: Sequence[ReferenceScore], run: _Run, every: Period | None, on: date
) -> dict[str, object]:
    """What the reference practicals seen by that day make of a running approval."""
    lapsed = {"state": "lapsed", "by_reference": True, "until": None}
    if seen and seen[-1].result == "not in step":
        because = f"not in step on {seen[-1].on}, reference practical {seen[-1].practical}"
        return {**lapsed, "because": because, "next_step": "score a reference practical in step"}
    due = _reference_due(seen, run, every)
    if due is None or due > run.last:
        return {}
    if on > due:
        because = f"a reference practical was due by {due}"
        return {**lapsed, "because": because, "next_step": "score a reference practical in step"}
    return {
        "state": "reference due" if on >= subtract(due, WINDOW) else "current",
        "until": due,
        "next_step": f"score a reference practical in step by {due}",
    }


def _verb(role: Role) -> str:
    return "them to score" if role == "assessor" else "them to certify"


def _not_running(runs: Sequence[_Run], role: Role, on: date) -> tuple[str, str]:
    """Why nothing runs on that day, and what comes next."""
    ended = [run.last for run in runs if run.last < on]
    coming = [run.first for run in runs if run.first > on]
    if coming:
        before = f"ended on {ended[-1]}; " if ended else ""
        return f"{before}not begun: its first day is {coming[0]}", f"wait until {coming[0]}"
    because = f"ended on {ended[-1]}" if ended else "never approved"
    return because, f"approve {_verb(role)} anew, with last day"


def _runs(person: Person, rubric: str, role: Role) -> list[_Run]:
    """The days of the approvals, those without a gap joined, earliest first."""
    runs: list[_Run] = []
    for one in sorted(_approvals(person, role), key=lambda a: (a.since, a.until)):
        if one.rubric != rubric or one.until < one.since:
            continue
        if runs and one.since <= runs[-1].last + DAY:
            runs[-1] = _Run(runs[-1].first, max(runs[-1].last, one.until))
        else:
            runs.append(_Run(one.since, one.until))
    return runs


def _approvals(person: Person, role: Role) -> tuple[Approval, ...]:
    return person.scores if role == "assessor" else person.certifies


def _seen(
    references: Iterable[ReferenceScore], assessor: str, rubric: str, on: date
) -> list[ReferenceScore]:
    """Those of that assessor and rubric by that day that were settled, oldest first."""
    settled = (one for one in references if one.result != "not settled")
    own = (one for one in settled if (one.assessor, one.rubric) == (assessor, rubric))
    return sorted((one for one in own if one.on <= on), key=lambda one: one.on)


def _reference_due(seen: Sequence[ReferenceScore], run: _Run, every: Period | None) -> date | None:
    """The last day on which the last one in step still counts; None when none is asked for."""
    if every is None:
        return None
    in_step = (one.on for one in seen if one.result == "in step")
    return add(max([run.first, *in_step]), every)


def reference_objections(
    assessor: Person, rubric: str, practical: str, certifier: Person, on: date
) -> tuple[str, ...]:
    """Every reason why this result may not be entered on that day; none when it may."""
    found = []
    rubrics = sorted({one.rubric for one in assessor.scores})
    if rubric not in rubrics:
        known = f"approved for {', '.join(rubrics)}" if rubrics else "approved for none"
        found.append(f"{assessor.id} was never approved to score {rubric} ({known})")
    if not certifier.may_certify(rubric, on):
        found.append(f"{certifier.id} may not confirm decisions under {rubric} on {on}")
    if certifier.id == assessor.id:
        found.append(f"{assessor.id} is the assessor; somebody else must hold the result")
    if not re.fullmatch(SLUG, practical):
        found.append(f"'{practical}' is no short name; write it like hall-2026-03-01")
    if assessor.id in practical:
        found.append(
            f"'{practical}' names the assessor, and would go on doing so after the name is"
            " erased; name the practical by place and day: hall-2026-03-01"
        )
    return tuple(found)


def approvals_of(person: Person) -> list[tuple[Role, str]]:
    """Every role and rubric that the person was ever approved for, in the order of the files."""
    roles: tuple[Role, ...] = ("assessor", "certifier")
    return list(
        dict.fromkeys((role, one.rubric) for role in roles for one in _approvals(person, role))
    )


def approvals_due(
    person: Person,
    references: Sequence[ReferenceScore],
    every: Period | None,
    first: date,
    last: date,
    on: date,
) -> list[ApprovalDue]:
    """What the person's approvals need from `first` to `last`, seen from `on`, soonest first.

    An approval whose days ended is late for a year after them, and then only listed with the days
    in which it ended.  One that lapsed for want of a reference practical is late whatever the
    days asked for.
    """
    found: list[ApprovalDue] = []
    for role, rubric in approvals_of(person):
        told = approval_standing(person, rubric, references, every, on, role=role)
        runs = _runs(person, rubric, role)
        found += _late(told, runs, references, every, (first, last, on), person.id)
        found += (
            item
            for item in _ahead(told, runs, _seen(references, person.id, rubric, on), every, on)
            if first <= item.day <= last
        )
    return sorted(found, key=lambda item: (item.day, item.what, item.role, item.rubric))


def _ahead(
    told: ApprovalStanding,
    runs: Sequence[_Run],
    seen: Sequence[ReferenceScore],
    every: Period | None,
    on: date,
) -> Iterator[ApprovalDue]:
    coming = [run for run in runs if run.last >= on]
    if coming:
        says = "renew it before"
        yield ApprovalDue(coming[0].last, "approval ends", told.role, told.rubric, says)
    if told.role == "assessor" and told.state != "lapsed":
        run = next(run for run in coming if run.first <= on)
        due = _reference_due(seen, run, every)
        if due is not None and due <= run.last:
            says = "score one in step"
            yield ApprovalDue(due, "reference practical", told.role, told.rubric, says)


def _late(
    told: ApprovalStanding,
    runs: Sequence[_Run],
    references: Sequence[ReferenceScore],
    every: Period | None,
    days: tuple[date, date, date],
    person: str,
) -> Iterator[ApprovalDue]:
    first, last, on = days
    if told.state != "lapsed":
        return
    if told.by_reference:
        seen = _seen(references, person, told.rubric, on)
        run = next(run for run in runs if run.first <= on <= run.last)
        due = _reference_due(seen, run, every)
        day = seen[-1].on if seen and seen[-1].result == "not in step" else due or run.first
    elif any(run.first > on for run in runs) or not runs:
        return
    else:
        day = runs[-1].last
        if on > add(day, LATE_FOR) and not first <= day <= last:
            return
    yield ApprovalDue(day, "approval late", told.role, told.rubric, told.because)
