"""A candidate's record that one school hands to another, at her wish."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from standfast.model.base import Day, Hash, Line, Noun, PersonId, Ref, Whole

Asked = Literal["candidate", "receiver"]
"""On whose request a record is handed over: the candidate's own, or the receiving school's."""


class HandOver(Noun):
    """That a school handed a person's record to another, who asked for it, and that she agreed."""

    person: PersonId
    to: Line
    """The receiving school, by its name or its short name."""
    asked_by: Asked
    agreed: Day
    """On which day the person agreed, in writing."""


class Known(Noun):
    """Who somebody of the other school's book is in this one."""

    ref: Ref
    person: PersonId


class Carried(Noun):
    """An entry of the other school's journal, and its way up the tree to that school's head."""

    entry: str
    """Its canonical JSON; people are opaque ids of that book.  The very bytes of its leaf, unless
    something was left out."""
    index: Whole
    """From 0."""
    path: tuple[Hash, ...] = ()
    leaf: Hash | None = None
    """Of an entry from which a tie to somebody else was left out: its leaf, which then shows only
    that such an entry is there."""


class FromElsewhere(Noun):
    """A person's record as another school handed it over: evidence, and no award here."""

    person: PersonId
    origin: Ref
    """Who she is in the other school's book."""
    issuer: str
    """By which the other school's keys are known."""
    school: Line
    people: tuple[Known, ...] = ()
    """Who judged, and trained; without approvals here."""
    head: str
    """The signed head of the other school's book, canonical JSON."""
    carried: Annotated[tuple[Carried, ...], Field(min_length=1)]
    """In the order of that book; the last one says that it was handed over."""
    digest: Hash
    """SHA-256 of the file that it came in."""
