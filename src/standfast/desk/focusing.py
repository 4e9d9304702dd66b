"""What a practical of a candidate covers: the whole rubric, or only a part of it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from standfast.desk.definitions import Texts, written
from standfast.desk.honouring import rubric_text
from standfast.desk.opening import Desk
from standfast.engine.dates import subtract
from standfast.engine.focus import Seen, refresher_focus
from standfast.engine.transition import top_up_focus
from standfast.model.focus import Focus
from standfast.model.rubric import Rubric
from standfast.model.sheet import Sheet
from standfast.problems import Refused

if TYPE_CHECKING:
    from standfast.store.awards import KeptAward


@dataclass(frozen=True)
class Ahead:
    """What the candidate's next practical is scored under, and what it covers."""

    texts: Texts
    focus: Focus | None

    @property
    def covers(self) -> tuple[str, ...]:
        """The criteria that its sheet asks about beside incidents; all when empty."""
        if self.focus is None:
            return ()
        incidents = {c.id for c in self.texts.rubric.criteria() if c.kind == "incident"}
        return tuple(name for name in self.focus.criteria if name not in incidents)


def ahead(desk: Desk, candidate: str, rubric: str, *, top_up: bool = False) -> Ahead:
    """What a practical on the desk's day covers.

    Raises:
        NotFound: no such rubric.
        Refused: a top-up is asked for, and there is none.
    """
    texts = written(desk, rubric)
    find = top_up_of if top_up else focus_of
    return Ahead(texts, find(desk, candidate, texts.rubric))


def focus_of(
    desk: Desk, candidate: str, rubric: Rubric, newest: Sheet | None = None
) -> Focus | None:
    """What a refresher of the candidate covers: it follows from the award that is refreshed.

    `newest` is the newest sheet.  Within the rubric's window that practical is asked about, and
    with it the award held on its day; otherwise the next practical.  None when all is covered: it
    is no refresher, its rubric does not say, or nothing is held.
    """
    if rubric.refreshes is None or rubric.covers is None:
        return None
    base = _base(desk, candidate, rubric, rubric.refreshes, newest)
    return refresher_focus(rubric, tuple(_earlier(desk, base)) if base else ())


def top_up_of(desk: Desk, candidate: str, rubric: Rubric, newest: Sheet | None = None) -> Focus:
    """What a top-up of the candidate's award covers: what its version has not; as `focus_of`.

    Raises:
        Refused: there is nothing to top up, and why.
    """
    if rubric.transition is None or not rubric.transition.top_up:
        raise _no_top_up(desk, candidate, rubric, f"version {rubric.version} offers none")
    base = _base(desk, candidate, rubric, rubric.id, newest)
    own = rubric_text(desk, base.award.rubric.hash) if base else None
    if base is None or own is None:
        raise _no_top_up(desk, candidate, rubric, f"{candidate} holds no award under {rubric.id}")
    if own.version >= rubric.version:
        why = f"award {base.award.number} is under version {own.version} already"
        raise _no_top_up(desk, candidate, rubric, why)
    focus = top_up_focus(own, rubric)
    if focus is None:
        why = f"version {rubric.version} asks nothing that version {own.version} did not"
        raise _no_top_up(desk, candidate, rubric, why)
    return focus


def _no_top_up(desk: Desk, candidate: str, rubric: Rubric, why: str) -> Refused:
    return Refused(f"no top-up under {rubric.id} for {candidate} on {desk.today}:", [why])


def _base(
    desk: Desk, candidate: str, rubric: Rubric, granting: str, newest: Sheet | None
) -> KeptAward | None:
    """The award held on the day of the lesson, or on the desk's day when no lesson is new enough.

    An award that rests on the newest sheet came after its lesson, also when on the same day.
    """
    if newest and newest.on < subtract(desk.today, rubric.decision.window):
        newest = None
    on = newest.on if newest else desk.today
    for one in reversed(desk.book.awards(candidate, past=True)):
        if one.superseded_by or one.award.rubric.id != granting or one.award.granted > on:
            continue
        decision = desk.book.find_decision(one.award.decision)
        if newest is None or decision is None or newest.id not in decision.decision.sheets:
            return one
    return None


def _earlier(desk: Desk, base: KeptAward) -> Iterator[Seen]:
    """What the award rests on, the newest first."""
    for one in chain(desk, base):
        decision = desk.book.find_decision(one.award.decision)
        text = rubric_text(desk, decision.decision.rubric.hash) if decision else None
        if decision and text:
            yield Seen(text, decision.decision.findings)


def chain(desk: Desk, newest: KeptAward) -> Iterator[KeptAward]:
    """The award and those that it goes on from, the newest first."""
    by_id = {one.award.id: one for one in desk.book.awards(newest.award.candidate, past=True)}
    one: KeptAward | None = newest
    while one is not None:
        yield one
        one = by_id.get(one.award.renews) if one.award.renews else None
