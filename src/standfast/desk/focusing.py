"""What a practical of a candidate covers: the whole rubric, or of a refresher only a part."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from standfast.desk.definitions import Texts, written
from standfast.desk.opening import Desk
from standfast.engine.dates import subtract
from standfast.engine.focus import Seen, refresher_focus
from standfast.model.focus import Focus
from standfast.model.rubric import Rubric
from standfast.model.sheet import Sheet

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


def ahead(desk: Desk, candidate: str, rubric: str) -> Ahead:
    """What a practical on the desk's day covers.

    Raises:
        NotFound: no such rubric.
    """
    texts = written(desk, rubric)
    return Ahead(texts, focus_of(desk, candidate, texts.rubric))


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
    if newest and newest.on < subtract(desk.today, rubric.decision.window):
        newest = None
    return refresher_focus(rubric, tuple(_earlier(desk, candidate, rubric.refreshes, newest)))


def _earlier(desk: Desk, candidate: str, refreshed: str, newest: Sheet | None) -> Iterator[Seen]:
    """What the award to be refreshed rests on, the newest first.

    An award that rests on the newest sheet came after its lesson, also when on the same day.
    """
    on = newest.on if newest else desk.today
    kept = [one for one in desk.book.awards(candidate, past=True) if one.superseded_by is None]
    by_id = {one.award.id: one for one in kept}
    held = [one for one in kept if one.award.rubric.id == refreshed and one.award.granted <= on]
    for one in _chain(by_id, held[-1] if held else None):
        decision = desk.book.find_decision(one.award.decision)
        text = desk.book.find_text(decision.decision.rubric.hash) if decision else None
        if decision is None or (newest and newest.id in decision.decision.sheets):
            continue
        if isinstance(text, Rubric):
            yield Seen(text, decision.decision.findings)


def _chain(by_id: dict[str, KeptAward], newest: KeptAward | None) -> Iterator[KeptAward]:
    """The award and those that it goes on from."""
    one = newest
    while one is not None:
        yield one
        one = by_id.get(one.award.renews) if one.award.renews else None
