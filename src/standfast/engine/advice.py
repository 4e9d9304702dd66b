"""What to do next: what to practise, what is still to be seen, which document is missing."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta

from standfast.engine import phrases as say
from standfast.engine.dates import award_dates
from standfast.engine.rules import Facts, competency_state, figure_words
from standfast.model.decision import Finding, Outcome
from standfast.model.rubric import Criterion


def next_steps(facts: Facts, outcome: Outcome) -> tuple[str, ...]:
    """Steps in the order in which they help; none names anybody."""
    steps: list[str] = []
    if outcome == "stopped":
        steps.append("talk through what stopped the practical, before anybody is spotted again")
    if outcome in {"stopped", "fail"}:
        steps += _to_practise(facts)
        steps.append(
            f"start afresh after practising: practicals up to {facts.on} do not count again"
        )
    if outcome == "more":
        steps += [*_missing_evidence(facts), *_to_be_seen(facts), *_to_practise(facts)]
    return (*steps, *_documents(facts))


def _to_practise(facts: Facts) -> Iterator[str]:
    for criterion, found in _findings(facts):
        if found.state == "not met":
            figure = figure_words(found)
            yield f"practise '{criterion.title}': {figure}, the standard is {found.standard}"


def _findings(facts: Facts) -> Iterator[tuple[Criterion, Finding]]:
    """Critical criteria first, otherwise in the order of the rubric."""
    criteria = sorted(facts.rubric.criteria(), key=lambda criterion: not criterion.critical)
    yield from ((criterion, facts.findings[criterion.id]) for criterion in criteria)


def _to_be_seen(facts: Facts) -> Iterator[str]:
    """Open findings; those of competencies that hold without them are not asked for."""
    short = {
        competency.id
        for competency in facts.rubric.competencies
        if competency_state(competency, facts.states) == "open"
    }
    for criterion, found in _findings(facts):
        if found.state == "open" and found.settles:
            wanted = criterion.critical or found.competency in short
            words = "to be seen" if wanted else "would help the overall points"
            yield f"'{criterion.title}', {words}: {found.settles}"


def _missing_evidence(facts: Facts) -> Iterator[str]:
    rule, evidence = facts.rubric.decision, facts.evidence
    practicals = rule.practicals - len(evidence.practicals())
    if practicals > 0:
        yield f"{say.count(practicals, 'more practical')} scored under this rubric"
    seen = {sheet.assessor for sheet in evidence.sheets}
    if (assessors := rule.assessors - len(seen)) > 0:
        yield f"{say.count(assessors, 'more assessor')} who has not scored this candidate yet"
    if (missing := rule.independent_assessors - len(facts.independent)) > 0:
        yield f"a sheet by {say.count(missing, *facts.independent_words())}"
    days = evidence.days()
    if days and (days[-1] - days[0]).days < rule.days_apart:
        yield f"a practical on {days[0] + timedelta(days=rule.days_apart)} or later"


def _documents(facts: Facts) -> Iterator[str]:
    """A missing document never changes the decision; it stops the award."""
    on, validity = facts.on, facts.rubric.validity
    ends = award_dates(validity, on).last_day if validity else None
    for kind in facts.rubric.documents:
        until = facts.candidate.document_until(kind, on)
        if until is None:
            yield f"hand in {kind}: none is recorded, and no award is made without it"
        elif until < on:
            yield f"renew {kind}: it ended on {until}, and no award is made without it"
        elif ends and until < ends:
            yield f"renew {kind} by {until}: an award would end with it"
