"""A rubric version that changes while awards run: what is new in it, and how long old ones count.

New is a criterion that the earlier version has none of by that id, or that asks something else:
other words of what to look for, another question, other levels or skills, another standard, or
critical now.  Another title, source, place or number of points makes nothing new.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date

from standfast.model.award import Honoured
from standfast.model.focus import Covered, Focus
from standfast.model.rubric import Competency, Criterion, Rubric
from standfast.problems import Fault

_SAME_ALL_THE_SAME = {"title", "source", "points"}
_NAMED = 3
"""So many new criteria are named in a next step; of more the number is said."""


def top_up_focus(old: Rubric, new: Rubric) -> Focus | None:
    """What is new in a later version, and so what a top-up covers; None when nothing is."""
    covered = tuple(_new_parts(old, new))
    return Focus(kind="top-up", covered=covered) if covered else None


def _new_parts(old: Rubric, new: Rubric) -> Iterator[Covered]:
    for competency in new.competencies:
        added = [c.id for c in competency.criteria if old.criterion(c.id) is None]
        changed = [c.id for c in competency.criteria if _changed(old.criterion(c.id), c)]
        words = [f"new in version {new.version}: {_listed(added, new)}"] if added else []
        words += [f"changed in version {new.version}: {_listed(changed, new)}"] if changed else []
        if words:
            yield _part(competency, {*added, *changed}, "; ".join(words))


def _part(competency: Competency, wanted: set[str], because: str) -> Covered:
    criteria = tuple(c.id for c in competency.criteria if c.id in wanted)
    return Covered(competency=competency.id, criteria=criteria, because=because)


def _changed(old: Criterion | None, new: Criterion) -> bool:
    if old is None:
        return False
    then, now = (one.model_dump(exclude=_SAME_ALL_THE_SAME) for one in (old, new))
    return then != now


def _listed(criteria: Sequence[str], rubric: Rubric) -> str:
    known = (rubric.criterion(name) for name in criteria)
    return ", ".join(f"'{criterion.title}'" for criterion in known if criterion)


def honoured(own: Rubric, later: Sequence[Rubric], on: date) -> Honoured | None:
    """How long awards under a version are honoured, by the later versions; None when no end is set.

    The earliest day counts.  What comes after is a top-up, or a full practical, under the newest of
    these versions that is in force on that day.
    """
    after = [one for one in later if one.version > own.version and one.transition]
    ends = [
        (one.transition.honoured_until, one.version, one.in_force)
        for one in after
        if one.transition and one.transition.honoured_until
    ]
    if not ends:
        return None
    until, version, begins = min(ends)
    known = [one for one in after if one.version == version or one.in_force <= max(on, begins)]
    new = max(known, key=lambda one: one.version)
    focus = top_up_focus(own, new) if new.transition and new.transition.top_up else None
    step = f"a full practical under version {new.version} is needed"
    if focus:
        step = f"top-up practical under version {new.version} on {_what(focus, new)}"
    return Honoured(version=own.version, until=until, step=step, top_up=focus is not None)


def _what(focus: Focus, rubric: Rubric) -> str:
    if len(focus.criteria) <= _NAMED:
        return _listed(focus.criteria, rubric)
    return f"{len(focus.criteria)} criteria that are new"


# What a rubric file may say of it


def transition_faults(rubric: Rubric) -> Iterator[Fault]:
    """A transition that cannot be meant so, as far as this version alone tells."""
    said = rubric.transition
    if said is None:
        return
    path = ("transition",)
    if rubric.refreshes:
        what = "a refresher has no awards of its own, so none are carried over"
        yield Fault(path, what, f"leave it out; state it in {rubric.refreshes}")
    if rubric.version == 1:
        what = "a transition, and no version before version 1"
        yield Fault(path, what, "leave it out, or raise the version")
    if said.honoured_until is None and not said.top_up:
        what = "a transition that says nothing"
        yield Fault(path, what, "add 'honoured_until' with a day, 'top_up: true', or both")
    if said.honoured_until and said.honoured_until < rubric.in_force:
        yield Fault(
            (*path, "honoured_until"),
            f"earlier versions honoured until {said.honoured_until}, before this one begins on"
            f" {rubric.in_force}",
            "name a later day",
        )
    if said.practicals > 1 and not said.top_up:
        what = f"{said.practicals} practicals for a top-up, and none is offered"
        yield Fault((*path, "practicals"), what, "add 'top_up: true', or leave it out")


def nothing_new_faults(new: Rubric, old: Rubric) -> Iterator[Fault]:
    """A top-up needs something that the version before has not."""
    if new.transition and new.transition.top_up and top_up_focus(old, new) is None:
        yield Fault(
            ("transition", "top_up"),
            f"a top-up, but version {new.version} asks nothing that version {old.version} did not",
            "leave it out, or look whether the criteria are as they were meant",
        )
