"""Appeals and complaints: what somebody holds against a decision, an award or a person.

Source: ISO/IEC 17024:2012, 9.8 and 9.9, asks that both are recorded, decided by people who took no
part, within a stated time, and answered (from memory).
"""

from __future__ import annotations

from typing import Literal

from standfast.model.base import Day, Key, Noun, PersonId, Slug, Text

AppealKind = Literal["appeal", "complaint"]
AppealOutcome = Literal["upheld", "not upheld"]


class Appeal(Noun):
    """An appeal of a candidate, or a complaint of anybody, as it was received."""

    id: Key
    number: Slug
    """How people call it: appeal-2026-1."""
    kind: AppealKind
    received: Day
    due_by: Day
    """The last day for the answer."""
    by: PersonId | None = None
    """Who appeals or complains; nobody where it came from outside the school's people."""
    about: PersonId
    """The candidate, the holder, or the person complained about."""
    decision: Key | None = None
    """The journal entry of the decision that it is against."""
    award: Key | None = None
    ruling: Key | None = None
    """The journal entry of the ruling that it is against."""
    practical: Slug | None = None
    because: Text


class Answer(Noun):
    """What was decided of an appeal or a complaint; by itself it changes nothing else."""

    appeal: Key
    by: PersonId
    on: Day
    outcome: AppealOutcome
    because: Text
