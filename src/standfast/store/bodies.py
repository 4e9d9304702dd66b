"""What the entries of the journal say, one closed noun for each kind of entry.

A body is written with opaque ids in place of people (`Writing.write`) and without values at
their default; `KINDS` tells which noun reads it back.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from typing import Self

from standfast.model.appeal import Answer, Appeal
from standfast.model.approval import ReferenceScore
from standfast.model.award import Award, Ruling
from standfast.model.base import Day, Hash, Key, Noun, PersonId, Reference, Text
from standfast.model.decision import Decision
from standfast.model.federation import Shared
from standfast.model.focus import Focus
from standfast.model.handing import FromElsewhere, HandOver
from standfast.model.issued import Issued
from standfast.model.people import (
    Approval,
    Conflict,
    ConflictPolicy,
    Document,
    Person,
    Term,
    Tie,
)
from standfast.model.rubric import Rubric
from standfast.model.school import School
from standfast.model.sheet import Sheet
from standfast.model.syllabus import Syllabus


class PersonState(Noun):
    """What the school knows of a person, but for what can be erased: name, contact and site."""

    person: PersonId
    documents: tuple[Document, ...] = ()
    trained_by: tuple[Tie, ...] = ()
    scores: tuple[Approval, ...] = ()
    certifies: tuple[Approval, ...] = ()
    conflicts: tuple[Conflict, ...] = ()
    hears_appeals: tuple[Term, ...] = ()

    @classmethod
    def of(cls, person: Person) -> Self:
        """The state of that person."""
        return cls(
            person=person.id,
            documents=person.documents,
            trained_by=person.trained_by,
            scores=person.scores,
            certifies=person.certifies,
            conflicts=person.conflicts,
            hears_appeals=person.hears_appeals,
        )

    def with_name(self, name: str, contact: str | None = None, site: str | None = None) -> Person:
        """The person again."""
        return Person(
            id=self.person,
            name=name,
            contact=contact,
            site=site,
            documents=self.documents,
            trained_by=self.trained_by,
            scores=self.scores,
            certifies=self.certifies,
            conflicts=self.conflicts,
            hears_appeals=self.hears_appeals,
        )


class DecisionInputs(Noun):
    """What the engine was given beside rubric, syllabus and day, so that it can be asked again."""

    candidate: PersonState
    sheets: tuple[Key, ...]
    """Every sheet that was handed in, counted or not, sorted."""
    since: Day | None = None
    conflicts: ConflictPolicy = "refused"
    """The school's policy then; the ties themselves are among what is said of the candidate."""
    focus: Focus | None = None
    """What was to be covered; the whole rubric when empty."""

    @classmethod
    def of(
        cls,
        candidate: Person,
        sheets: Iterable[Sheet],
        since: date | None = None,
        conflicts: ConflictPolicy = "refused",
        focus: Focus | None = None,
    ) -> Self:
        """The inputs of a decision about that candidate from those sheets."""
        return cls(
            candidate=PersonState.of(candidate),
            sheets=tuple(sorted(sheet.id for sheet in sheets)),
            since=since,
            conflicts=conflicts,
            focus=focus,
        )


class Body(Noun):
    """What every entry may say."""

    because: Text | None = None
    """Why this entry supersedes the one it names."""


class SchoolSet(Body):
    """The school's settings, new or changed."""

    school: School


class PersonSet(Body):
    """A person, new or changed; name and contact only as a salted commitment."""

    person: PersonState
    commitment: Hash
    """HMAC-SHA256 under the person's salt of the canonical JSON of the identity."""


class Erased(Body):
    """A person's name, contact, site and salt were erased."""

    person: PersonId


class TextKept(Body):
    """A rubric or a syllabus, kept by its content; exactly one of the two is there."""

    hash: Hash
    rubric: Rubric | None = None
    syllabus: Syllabus | None = None

    @property
    def text(self) -> Rubric | Syllabus:
        """The one that is there."""
        kept = self.rubric or self.syllabus
        if kept is None:
            raise ValueError(f"text {self.hash}: neither rubric nor syllabus")
        return kept


class SheetTaken(Body):
    """A score sheet, and the exact texts that it was scored under."""

    sheet: Sheet
    rubric: Reference
    syllabus: Reference


class DecisionMade(Body):
    """A decision, and what it was made from."""

    decision: Decision
    inputs: DecisionInputs
    corrects: Key | None = None
    """The entry of the decision that this one takes the place of."""


class AwardGranted(Body):
    """An award."""

    award: Award
    corrects: Key | None = None
    """The award that this one takes the place of."""


class AwardRuled(Body):
    """An award was suspended, reinstated or withdrawn, or its scope reduced or restored."""

    ruling: Ruling


class AppealFiled(Body):
    """An appeal or a complaint was received."""

    appeal: Appeal


class AppealAnswered(Body):
    """An appeal or a complaint was answered."""

    answer: Answer


class ReferenceScored(Body):
    """An assessor scored a reference practical, in step with its agreed marks or not."""

    score: ReferenceScore


class CredentialIssued(Body):
    """A signed certificate was given out."""

    issued: Issued


class FederationSet(Body):
    """What the school shares with the others of its database; nothing when it takes no part."""

    shares: tuple[Shared, ...] = ()


class HandedOver(Body):
    """A person's record was handed to another school."""

    hand_over: HandOver


class TakenIn(Body):
    """A person's record came from another school: evidence from elsewhere."""

    record: FromElsewhere


KINDS: dict[str, type[Body]] = {
    "school-set": SchoolSet,
    "person-set": PersonSet,
    "erased": Erased,
    "text-kept": TextKept,
    "sheet-taken": SheetTaken,
    "decision-made": DecisionMade,
    "award-granted": AwardGranted,
    "award-ruled": AwardRuled,
    "appeal-filed": AppealFiled,
    "appeal-answered": AppealAnswered,
    "reference-scored": ReferenceScored,
    "credential-issued": CredentialIssued,
    "federation-set": FederationSet,
    "handed-over": HandedOver,
    "taken-in": TakenIn,
}

KIND_OF: dict[type[Body], str] = {body: kind for kind, body in KINDS.items()}
