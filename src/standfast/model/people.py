"""People: trainees, assessors and certifiers, and what ties them to each other."""

from __future__ import annotations

from typing import Literal

from standfast.model.base import Day, Line, Noun, PersonId, Slug


class Document(Noun):
    """A paper that a person must hold, such as first aid: it ends on its own day."""

    document: Slug
    issued: Day
    last_day: Day
    """Inclusive."""
    reference: Line | None = None


class Tie(Noun):
    """Who trained this person, and when.  No last day: it goes on."""

    trainer: PersonId
    since: Day
    until: Day | None = None


class Approval(Noun):
    """Approved to score a rubric, or to certify: from a day until a day, inclusive."""

    rubric: Slug
    since: Day
    until: Day

    def covers(self, day: Day) -> bool:
        """Whether the approval runs on that day."""
        return self.since <= day <= self.until


ConflictPolicy = Literal["refused", "shown"]
"""What a school does where a conflict of interest stands in the way: refuse, or allow and show."""


class Conflict(Noun):
    """What else ties this person to another, so that neither judges the other impartially.

    It counts in both directions, whoever of the two has it recorded.  No last day: it goes on.
    """

    person: PersonId
    kind: Literal["family", "household", "business", "other"]
    since: Day
    until: Day | None = None

    def covers(self, day: Day, until: Day | None = None) -> bool:
        """Whether it is there on that day, or on any day from then `until` another."""
        return self.since <= (until or day) and (self.until is None or day <= self.until)


class Term(Noun):
    """From a day until a day, inclusive."""

    since: Day
    until: Day

    def covers(self, day: Day) -> bool:
        """Whether it runs on that day."""
        return self.since <= day <= self.until


class Person(Noun):
    """Somebody the school knows: candidate, assessor, certifier, or several of these."""

    id: PersonId
    name: Line
    contact: Line | None = None
    site: Line | None = None
    documents: tuple[Document, ...] = ()
    trained_by: tuple[Tie, ...] = ()
    scores: tuple[Approval, ...] = ()
    """The rubrics this person is approved to score."""
    certifies: tuple[Approval, ...] = ()
    """The rubrics whose decisions this person may confirm."""
    conflicts: tuple[Conflict, ...] = ()
    """Conflicts of interest."""
    hears_appeals: tuple[Term, ...] = ()
    """When this person may answer appeals and complaints without certifying anything."""

    def may_score(self, rubric: str, day: Day) -> bool:
        """Whether approved to score that rubric on that day."""
        return any(a.rubric == rubric and a.covers(day) for a in self.scores)

    def may_certify(self, rubric: str, day: Day) -> bool:
        """Whether allowed to confirm decisions under that rubric on that day."""
        return any(a.rubric == rubric and a.covers(day) for a in self.certifies)

    def may_hear(self, day: Day) -> bool:
        """Whether this person may answer appeals and complaints on that day."""
        certifies = any(approval.covers(day) for approval in self.certifies)
        return certifies or any(term.covers(day) for term in self.hears_appeals)

    def tied_to(self, person: str, day: Day, until: Day | None = None) -> bool:
        """Whether a conflict of interest with that person is recorded here for those days."""
        return any(c.person == person and c.covers(day, until) for c in self.conflicts)

    def trainers(self) -> frozenset[str]:
        """Everybody who ever trained this person."""
        return frozenset(tie.trainer for tie in self.trained_by)

    def document_until(self, kind: str, on: Day) -> Day | None:
        """The last day of the longest-running document of that kind issued by `on`, or None."""
        ends = [d.last_day for d in self.documents if d.document == kind and d.issued <= on]
        return max(ends, default=None)
