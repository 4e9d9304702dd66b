"""The one way in: rubric, syllabus and sheets to a decision with all its reasons."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from functools import lru_cache

from standfast.engine.advice import next_steps
from standfast.engine.counted import sort_out
from standfast.engine.findings import finding
from standfast.engine.joining import joined
from standfast.engine.narrowing import narrowed
from standfast.engine.nearness import near
from standfast.engine.rules import Facts, outcome, reasons
from standfast.model.base import Reference
from standfast.model.canonical import content_hash
from standfast.model.decision import Decision
from standfast.model.focus import Focus
from standfast.model.people import ConflictPolicy, Person
from standfast.model.rubric import Rubric
from standfast.model.sheet import Sheet
from standfast.model.syllabus import Syllabus


def decide(
    rubric: Rubric,
    syllabus: Syllabus,
    sheets: Iterable[Sheet],
    candidate: Person,
    on: date,
    since: date | None = None,
    conflicts: ConflictPolicy = "refused",
    focus: Focus | None = None,
) -> Decision:
    """The outcome for a candidate on a day, with every reason, figure and sheet behind it.

    The same evidence and rubric give the same decision in every order of the sheets and on every
    machine.  `since` is the day of the last decision that ended in fail or stopped: a re-take
    starts afresh after it.  The candidate comes with every conflict of interest with an assessor,
    whoever had it recorded; `conflicts` is what the school does about them.  Documents never change
    the outcome; they are asked for at the award.  With a `focus` only what it covers is required;
    what sheets say beyond it is judged only where it must not be overlooked (`narrowed`).
    Nothing in the decision but `candidate` names a person.

    Raises:
        Refused: the same sheet id is there twice with different content, or the rubric's window
            reaches before the year 1.
    """
    evidence = sort_out(rubric, sheets, candidate, on, since, conflicts, focus)
    record = joined(rubric, syllabus, evidence.practicals())
    found = {
        criterion.id: finding(criterion, competency, record[criterion.id].tally)
        for competency in rubric.competencies
        for criterion in competency.criteria
    }
    judged = narrowed(rubric, focus, found)
    findings = {criterion.id: found[criterion.id] for criterion in judged.rubric.criteria()}
    facts = Facts(judged, evidence, candidate, on, findings)
    why = reasons(facts)
    sufficient = all(reason.state == "met" for reason in why if reason.step == "sufficiency")
    result = outcome(judged.rubric, facts.states, sufficient=sufficient)
    tallies = {criterion: record[criterion].tally for criterion in findings}
    return Decision(
        candidate=candidate.id,
        rubric=_reference(rubric),
        syllabus=_reference(syllabus),
        on=on,
        outcome=result,
        reasons=why,
        findings=tuple(findings.values()),
        disagreements=tuple(d for criterion in findings for d in record[criterion].disagreements),
        near=near(judged.rubric, tallies, facts.states, sufficient=sufficient),
        next_steps=next_steps(facts, result),
        sheets=tuple(sorted(sheet.id for sheet in evidence.sheets)),
        left_out=evidence.left_out,
        tied=facts.tied_sheets,
        focus=focus,
    )


@lru_cache(64)
def _reference(text: Rubric | Syllabus) -> Reference:
    return Reference(id=text.id, version=text.version, hash=content_hash(text))
