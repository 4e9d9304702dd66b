"""Deciding for a candidate from the evidence in the record book."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from hashlib import sha256
from typing import TYPE_CHECKING

from standfast.desk.definitions import Texts, kept, written
from standfast.desk.focusing import focus_of, top_up_of
from standfast.desk.opening import Desk
from standfast.desk.people import name_of, person
from standfast.desk.sheets import keep_texts
from standfast.engine.decide import decide
from standfast.engine.impartiality import with_ties_of
from standfast.model.canonical import canonical, plain
from standfast.model.decision import OUTCOME_WORDS, Decision
from standfast.model.focus import Focus
from standfast.model.people import ConflictPolicy, Person
from standfast.model.sheet import Sheet
from standfast.problems import Refused

if TYPE_CHECKING:
    from standfast.store.bodies import DecisionInputs
    from standfast.store.book import Book


@dataclass(frozen=True)
class Decided:
    """A decision, and what it was made from."""

    decision: Decision
    texts: Texts
    candidate: Person
    sheets: tuple[Sheet, ...]
    since: date | None
    conflicts: ConflictPolicy
    focus: Focus | None = None

    @property
    def inputs(self) -> DecisionInputs:
        """What it was made from, as the record book keeps it."""
        from standfast.store.bodies import DecisionInputs

        made_from = (self.candidate, self.sheets, self.since, self.conflicts)
        return DecisionInputs.of(*made_from, self.focus)

    @property
    def read(self) -> str:
        """The hash of what somebody reads who is shown it."""
        return as_read(self.decision, self.inputs)


def as_read(decision: Decision, inputs: DecisionInputs) -> str:
    """The hash of a decision and of what it was made from."""
    return sha256(canonical([plain(decision), plain(inputs)])).hexdigest()


def decide_for(desk: Desk, candidate: str, rubric: str, *, top_up: bool = False) -> Decided:
    """The decision for a candidate under a rubric on the desk's day, from the sheets in the book.

    The rubric's text is that of the newest sheet; without a sheet it is the one in the files.  A
    refresher is decided on what its rubric says that it covers, a top-up on what is new in the
    version in force.

    Raises:
        NotFound: no such person or rubric.
        Refused: there is nothing to top up.
    """
    found = [
        one
        for one in desk.book.sheets(candidate, rubric, superseded=True)
        if one.sheet.on <= desk.today
    ]
    if top_up:
        version = written(desk, rubric).rubric.version
        found = [one for one in found if one.sheet.rubric_version == version]
    newest = max(found, key=lambda one: (one.sheet.began, one.sheet.id), default=None)
    texts = (
        kept(desk, newest.rubric.hash, newest.syllabus.hash) if newest else written(desk, rubric)
    )
    sheets = tuple(one.sheet for one in found)
    since = closed_on(desk.book, candidate, rubric, desk.today)
    who = _with_ties(desk, person(desk, candidate), sheets)
    policy = desk.school.conflict_of_interest
    find = top_up_of if top_up else focus_of
    focus = find(desk, candidate, texts.rubric, newest.sheet if newest else None)
    decision = decide(texts.rubric, texts.syllabus, sheets, who, desk.today, since, policy, focus)
    return Decided(decision, texts, who, sheets, since, policy, focus)


def _with_ties(desk: Desk, candidate: Person, sheets: Sequence[Sheet]) -> Person:
    """The candidate with the conflicts of interest that assessors had recorded."""
    assessors = sorted({sheet.assessor for sheet in sheets})
    return with_ties_of(candidate, filter(None, map(desk.book.find_person, assessors)))


def closed_on(book: Book, candidate: str, rubric: str, on: date) -> date | None:
    """The day of the last fail or stop decided before `on`; what counts comes after it."""
    closing = [
        one.decision.on
        for one in book.decisions(candidate, rubric)
        if one.decision.outcome in {"fail", "stopped"} and one.decision.on < on
    ]
    return max(closing, default=None)


def keep(desk: Desk, decided: Decided) -> str:
    """Enters the decision into the book; gives the entry's id.

    The newest one there, made on that day from the same, is the same decision: its entry is given.
    """
    inputs = decided.inputs
    with desk.book.together():
        whose = (decided.decision.candidate, decided.decision.rubric.id)
        for before in desk.book.decisions(*whose)[-1:]:
            if (before.decision, before.inputs) == (decided.decision, inputs):
                return before.entry
        keep_texts(desk, decided.texts)
        return desk.book.put_decision(decided.decision, inputs, desk.stamp()).id


def decide_and_keep(
    desk: Desk, candidate: str, rubric: str, *, top_up: bool = False, read: str | None = None
) -> tuple[Decided, str]:
    """As `decide_for`, and enters the decision; nothing comes between evidence and entry.

    With `read`, what somebody was shown (`Decided.read`), nothing else is entered.

    Raises:
        Refused: it is another decision by now, or one from something else.
    """
    with desk.book.together():
        decided = decide_for(desk, candidate, rubric, top_up=top_up)
        refuse_unread(decided, read)
        return decided, keep(desk, decided)


def refuse_unread(decided: Decided, read: str | None) -> None:
    """Nothing, when this is what somebody was shown, or nobody was shown anything.

    Raises:
        Refused: it is another decision, or one from something else.
    """
    if read is not None and decided.read != read:
        raise Refused(
            "nothing was entered: what it rests on, or the day, is another since the page was read",
            [f"the rule says '{OUTCOME_WORDS[decided.decision.outcome]}' now; read it again"],
        )


def known_as(desk: Desk, sheets: Sequence[Sheet]) -> dict[str, str]:
    """For each sheet's id, how a person knows it: its day and its assessor."""
    return {sheet.id: f"{sheet.on}, {name_of(desk, sheet.assessor)}" for sheet in sheets}
