"""Decisions in the record book, with what they were made from."""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import ColumnElement, and_, select, true

from standfast.model.decision import Decision
from standfast.model.sheet import Correction
from standfast.problems import NotFound, Refused
from standfast.store.bodies import DecisionInputs, DecisionMade
from standfast.store.journal import Entry, Stamp
from standfast.store.tables import decisions, sheets, texts
from standfast.store.writing import Reading, Writing


@dataclass(frozen=True)
class KeptDecision:
    """A decision as it stands in the book."""

    decision: Decision
    inputs: DecisionInputs
    entry: str
    """Id of its journal entry, which names the decision."""
    at: str
    """When it was entered, ISO 8601 in UTC."""
    who: str
    """Who entered it."""
    superseded_by: str | None
    """The entry of the decision that corrects it."""


def put_decision(
    writing: Writing,
    decision: Decision,
    inputs: DecisionInputs,
    stamp: Stamp,
    corrects: Correction | None = None,
) -> Entry:
    """Enters a decision; `corrects.of` is the entry of the one it takes the place of.

    Raises:
        NotFound: the candidate, a sheet or text that it rests on, or the decision it corrects.
        Refused: inputs that are not the decision's, or a correction of one corrected already.
    """
    _check_inputs(writing, decision, inputs)
    before = None if corrects is None else _corrected(writing, decision, corrects.of, stamp.id)
    body = DecisionMade(
        decision=decision,
        inputs=inputs,
        corrects=before,
        because=corrects.because if corrects else None,
    )
    opaque = writing.opaque(body)
    return writing.write(stamp, opaque, about=opaque.decision.candidate, supersedes=before)


def _check_inputs(reading: Reading, decision: Decision, inputs: DecisionInputs) -> None:
    if inputs.candidate.person != decision.candidate:
        raise Refused(
            f"inputs about {inputs.candidate.person}, a decision about {decision.candidate}"
        )
    query = select(sheets.c.id).where(sheets.c.id.in_(inputs.sheets))
    known = set(reading.conn.scalars(query))
    for sheet in inputs.sheets:
        if sheet not in known:
            raise NotFound("sheet in the record book", sheet, ())
    for text in (decision.rubric, decision.syllabus):
        if reading.conn.scalar(select(texts.c.seq).where(texts.c.hash == text.hash)) is None:
            raise NotFound(f"kept text of {text.id} version {text.version}", text.hash[:12], ())


def _corrected(reading: Reading, decision: Decision, entry: str, by: str) -> str:
    before = find_decision(reading, entry)
    if before is None:
        raise NotFound("decision to correct", entry, ())
    if before.superseded_by not in {None, by}:
        raise Refused(
            f"decision {entry} was corrected already, by {before.superseded_by}; correct that one"
        )
    if before.decision.candidate != decision.candidate:
        raise Refused(f"decision {entry} is about {before.decision.candidate}")
    return entry


def find_decision(reading: Reading, entry: str) -> KeptDecision | None:
    """The decision of that entry, or None."""
    found = _kept(reading, decisions.c.entry == entry)
    return found[0] if found else None


def find_decisions(
    reading: Reading,
    candidate: str | None = None,
    rubric: str | None = None,
    *,
    superseded: bool = False,
) -> tuple[KeptDecision, ...]:
    """Decisions in the order in which they were entered, of a candidate, under a rubric, or all.

    Decisions that were corrected are left out unless asked for.
    """
    wanted: list[ColumnElement[bool]] = []
    if candidate is not None:
        wanted.append(decisions.c.candidate == reading.names.ref(candidate))
    if rubric is not None:
        wanted.append(decisions.c.rubric == rubric)
    if not superseded:
        wanted.append(decisions.c.superseded_by.is_(None))
    return _kept(reading, and_(true(), *wanted))


def _kept(reading: Reading, wanted: ColumnElement[bool]) -> tuple[KeptDecision, ...]:
    query = select(decisions.c.seq, decisions.c.superseded_by).where(wanted)
    later = {row.seq: row.superseded_by for row in reading.conn.execute(query)}
    return tuple(
        KeptDecision(
            body.decision,
            body.inputs,
            entry.id,
            entry.at,
            reading.names.handle(entry.who),
            later[entry.seq],
        )
        for entry, body in reading.bodies(DecisionMade, select(decisions.c.seq).where(wanted))
    )
