"""Every decision of the book made again from what it was made from."""

from __future__ import annotations

import json
from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from typing import Any, Protocol

from sqlalchemy import select

from standfast.model.base import rename_people
from standfast.model.canonical import plain
from standfast.model.decision import Decision
from standfast.model.focus import Focus
from standfast.model.people import ConflictPolicy, Person
from standfast.model.rubric import Rubric
from standfast.model.sheet import Sheet
from standfast.model.syllabus import Syllabus
from standfast.problems import RecordBookError, StandfastError
from standfast.store.bodies import DecisionMade, SheetTaken
from standfast.store.names import ERASED
from standfast.store.tables import decisions, journal, sheets
from standfast.store.texts import find_text
from standfast.store.writing import Reading

_SHOWN = 12  # of the differences of one decision


class Decide(Protocol):
    """The engine's one way in."""

    def __call__(
        self,
        rubric: Rubric,
        syllabus: Syllabus,
        sheets: Iterable[Sheet],
        candidate: Person,
        on: date,
        since: date | None = None,
        conflicts: ConflictPolicy = "refused",
        focus: Focus | None = None,
    ) -> Decision:
        """The decision from that evidence on that day."""
        ...


@dataclass(frozen=True)
class Case:
    """One decision of the book, and everything it was made from."""

    seq: int
    entry: str
    kept: dict[str, Any]
    """The decision as it stands in the journal: JSON values, people as opaque ids."""
    rubric: Rubric
    syllabus: Syllabus
    sheets: tuple[Sheet, ...]
    candidate: Person
    """Without a name: no decision depends on one."""
    on: date
    since: date | None
    conflicts: ConflictPolicy
    focus: Focus | None


@dataclass(frozen=True)
class Differing:
    """A decision that comes out otherwise now."""

    seq: int
    entry: str
    what: tuple[str, ...]
    """Where it differs: path, as kept, as decided now."""


def cases(reading: Reading, wanted: Collection[str] | None = None) -> Iterator[Case]:
    """Every decision in the order of the journal, also those that were corrected later.

    Only those of the entries `wanted`, when these are named.

    Raises:
        RecordBookError: a text or sheet that a decision names is not in the book.
    """
    texts: dict[str, Rubric | Syllabus] = {}
    query = select(decisions.c.seq)
    if wanted is not None:
        query = query.where(decisions.c.entry.in_(wanted))
    for entry in reading.in_pieces(reading.conn.scalars(query)):
        yield _case(reading, entry.seq, entry.id, entry.body, texts)


def _case(
    reading: Reading, seq: int, entry: str, body: str, texts: dict[str, Rubric | Syllabus]
) -> Case:
    made = reading.named(DecisionMade.model_validate_json(body))
    for text in (made.decision.rubric, made.decision.syllabus):
        if text.hash not in texts and (found := find_text(reading, text.hash)):
            texts[text.hash] = found
    rubric, syllabus = (
        texts.get(made.decision.rubric.hash),
        texts.get(made.decision.syllabus.hash),
    )
    if not isinstance(rubric, Rubric) or not isinstance(syllabus, Syllabus):
        raise RecordBookError(f"entry {seq}: the rubric or syllabus it was made under is not there")
    return Case(
        seq,
        entry,
        json.loads(body)["decision"],
        rubric,
        syllabus,
        _sheets(reading, made.inputs.sheets),
        made.inputs.candidate.with_name(ERASED),
        made.decision.on,
        made.inputs.since,
        made.inputs.conflicts,
        made.inputs.focus,
    )


def _sheets(reading: Reading, wanted: tuple[str, ...]) -> tuple[Sheet, ...]:
    query = select(journal.c.body).join(sheets, sheets.c.seq == journal.c.seq)
    bodies = reading.conn.scalars(query.where(sheets.c.id.in_(wanted)).order_by(sheets.c.id))
    return tuple(reading.named(SheetTaken.model_validate_json(body).sheet) for body in bodies)


def replay(reading: Reading, decide: Decide) -> tuple[int, tuple[Differing, ...]]:
    """How many decisions were made again, and those that differ, in the order of the journal."""
    count, differing = 0, []
    for case in cases(reading):
        count += 1
        if what := _differences(reading, case, decide):
            differing.append(Differing(case.seq, case.entry, what))
    return count, tuple(differing)


def _differences(reading: Reading, case: Case, decide: Decide) -> tuple[str, ...]:
    try:
        again = decide(
            case.rubric,
            case.syllabus,
            case.sheets,
            case.candidate,
            case.on,
            case.since,
            case.conflicts,
            case.focus,
        )
    except StandfastError as error:
        return (f"cannot be decided again: {error}",)
    now = plain(rename_people(again, reading.names.ref))
    if now == case.kept:
        return ()
    return tuple(_paths(case.kept, now))[:_SHOWN]


def _paths(kept: Any, now: Any, path: str = "") -> Iterator[str]:  # noqa: ANN401 - any JSON
    if isinstance(kept, dict) and isinstance(now, dict):
        for name in sorted(kept.keys() | now.keys()):
            yield from _paths(kept.get(name), now.get(name), f"{path}.{name}".lstrip("."))
    elif isinstance(kept, list) and isinstance(now, list) and len(kept) == len(now):
        for at, (before, after) in enumerate(zip(kept, now, strict=True)):
            yield from _paths(before, after, f"{path}[{at}]")
    elif kept != now:
        yield f"{path}: kept {json.dumps(kept)[:120]}, now {json.dumps(now)[:120]}"
