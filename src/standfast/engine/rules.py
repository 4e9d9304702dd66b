"""The decision rule, one function for each step: facts to reasons.

The order is that of the rule: a stopping incident; enough and current evidence; every critical
criterion; each competency's share; the overall points.  A reason is `met`, `not met` or `open`;
shares are compared as exact fractions.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from functools import cached_property

from standfast.engine import phrases as say
from standfast.engine.counted import Evidence
from standfast.engine.narrowing import Narrowed
from standfast.model.base import exact
from standfast.model.decision import Finding, Outcome, Reason, State
from standfast.model.people import Person
from standfast.model.rubric import Competency, Criterion, IncidentCriterion, Rubric

States = Mapping[str, State]
"""For each criterion what its finding says."""
BEFORE = "a fail, like a pass, needs it"


@dataclass(frozen=True)
class Facts:
    """All that the rule looks at."""

    judged: Narrowed
    evidence: Evidence
    candidate: Person
    on: date
    findings: Mapping[str, Finding]

    @property
    def rubric(self) -> Rubric:
        """What is judged of the rubric."""
        return self.judged.rubric

    @cached_property
    def states(self) -> States:
        """For each criterion what its finding says."""
        return {criterion: found.state for criterion, found in self.findings.items()}

    @property
    def trainers(self) -> frozenset[str]:
        """Who had ever trained the candidate by the day of the decision."""
        return frozenset(t.trainer for t in self.candidate.trained_by if t.since <= self.on)

    @cached_property
    def tied_sheets(self) -> tuple[str, ...]:
        """The sheets that count although their assessor had a conflict of interest, sorted."""
        tied = self.candidate.tied_to
        return tuple(sorted(s.id for s in self.evidence.sheets if tied(s.assessor, s.on)))

    @cached_property
    def independent(self) -> frozenset[str]:
        """The assessors of the evidence who neither trained the candidate nor are tied to them."""
        tied = {sheet.assessor for sheet in self.evidence.sheets if sheet.id in self.tied_sheets}
        return frozenset({s.assessor for s in self.evidence.sheets} - self.trainers - tied)

    def independent_words(self) -> tuple[str, str]:
        """What one, and what several, independent assessors are called here."""
        if self.tied_sheets:
            words = "who neither trained the candidate nor had a conflict of interest with them"
        else:
            words = "who did not train the candidate"
        return f"assessor {words}", f"assessors {words}"


def stops(criterion: Criterion) -> bool:
    """Whether this is an incident that stops the practical."""
    return isinstance(criterion, IncidentCriterion) and criterion.standard.effect == "stops"


# 1. A stopping incident


def stopping_incident(facts: Facts) -> list[Reason]:
    """One reason for each incident that stopped a practical, or one that there was none."""
    stopping = [criterion for criterion in facts.rubric.criteria() if stops(criterion)]
    found = [facts.findings[criterion.id] for criterion in stopping]
    happened = [
        _of_finding("incident", criterion, finding)
        for criterion, finding in zip(stopping, found, strict=True)
        if finding.state == "not met"
    ]
    if happened:
        return happened
    practicals = len(facts.evidence.practicals())
    if not practicals:
        return [Reason(step="incident", state="open", says="no practical that counts yet")]
    says = f"no incident that stops, in {say.count(practicals, 'practical')}"
    sheets = _ids(facts.evidence)
    return [Reason(step="incident", state="met", says=says, standard="none", sheets=sheets)]


def _of_finding(step: str, criterion: Criterion, finding: Finding) -> Reason:
    return Reason.model_validate(
        {
            "step": step,
            "state": finding.state,
            "says": f"'{criterion.title}': {finding.says}",
            "figure": figure_words(finding),
            "standard": finding.standard,
            "criterion": criterion.id,
            "competency": finding.competency,
            "sheets": finding.sheets,
        }
    )


def figure_words(finding: Finding) -> str:
    """The figure alone: `37 of 38`, `level 3`, `12.5 % idle`; empty when nothing was seen."""
    figure = finding.figure
    if figure.value is None:
        return ""
    if finding.kind in {"attempts", "clearances"}:
        return f"{figure.counted - figure.lapses} of {figure.counted}"
    if finding.kind == "samples":
        return f"{say.percent_up(figure.value)} idle"
    return f"level {figure.value:.0f}" if finding.kind == "rating" else f"{figure.value:.0f}"


def _ids(evidence: Evidence) -> tuple[str, ...]:
    return tuple(sorted(sheet.id for sheet in evidence.sheets))


# 2. Enough evidence, and current


def sufficiency(facts: Facts) -> list[Reason]:
    """Practicals, assessors, days apart, the window, assessors who did not train the candidate."""
    rule, evidence = facts.rubric.decision, facts.evidence
    practicals = len(evidence.practicals())
    assessors = {sheet.assessor for sheet in evidence.sheets}
    reasons = [
        _enough(facts, practicals, rule.practicals, "practical"),
        _enough(facts, len(assessors), rule.assessors, "assessor"),
    ]
    if rule.days_apart:
        reasons.append(_days_apart(facts))
    reasons.append(_window(facts))
    if rule.independent_assessors:
        kind, kinds = facts.independent_words()
        independent = len(facts.independent)
        reasons.append(_enough(facts, independent, rule.independent_assessors, kind, kinds))
    return [*reasons, *_shown_conflicts(facts)]


def _shown_conflicts(facts: Facts) -> list[Reason]:
    """That sheets count although a conflict of interest was recorded; which one is not said."""
    if not facts.tied_sheets:
        return []
    sheets = say.count(len(facts.tied_sheets), "sheet")
    says = f"{sheets} by an assessor who had a conflict of interest with the candidate"
    return [
        Reason(
            step="sufficiency",
            state="met",
            says=f"{says}, which the school's rules allow",
            standard="such an assessor does not count as independent",
            sheets=facts.tied_sheets,
        )
    ]


def _enough(facts: Facts, found: int, least: int, thing: str, things: str = "") -> Reason:
    enough = found >= least
    says = say.count(found, thing, things)
    return Reason(
        step="sufficiency",
        state="met" if enough else "open",
        says=says if enough else f"{says}, {least - found} missing; {BEFORE}",
        figure=str(found),
        standard=f"at least {say.count(least, thing, things)}",
        sheets=_ids(facts.evidence),
    )


def _days_apart(facts: Facts) -> Reason:
    days, least = facts.evidence.days(), facts.rubric.decision.days_apart
    apart = (days[-1] - days[0]).days if days else 0
    enough = apart >= least
    says = f"{say.count(apart, 'day')} from the first practical to the last"
    return Reason(
        step="sufficiency",
        state="met" if enough else "open",
        says=says if enough else f"{says}; {BEFORE}",
        figure=str(apart),
        standard=f"at least {say.count(least, 'day')}",
        sheets=_ids(facts.evidence),
    )


def _window(facts: Facts) -> Reason:
    evidence = facts.evidence
    days = evidence.days()
    says = f"oldest practical that counts {days[0]}" if days else "no practical in the window"
    return Reason(
        step="sufficiency",
        state="met" if days else "open",
        says=says if days else f"{says}; {BEFORE}",
        figure=str(days[0]) if days else "",
        standard=f"nothing older than {facts.rubric.decision.window}, so from {evidence.opens} on",
        sheets=_ids(evidence),
    )


# 3. Every critical criterion


def critical(facts: Facts) -> list[Reason]:
    """One reason for each critical criterion, in the order of the rubric."""
    return [
        _of_finding("critical", criterion, facts.findings[criterion.id])
        for criterion in facts.rubric.criteria()
        if criterion.critical
    ]


# 4. Each competency's share of its points


def competencies(facts: Facts) -> list[Reason]:
    """One reason for each competency, in the order of the rubric."""
    return [_competency(facts, competency) for competency in facts.judged.covered]


def _competency(facts: Facts, competency: Competency) -> Reason:
    points = {state: _points(competency, facts.states, {state}) for state in _STATES}
    total = sum(points.values())
    says = f"'{competency.title}': {points['met']} of {say.count(total, 'point')} met"
    rest = [f"{points[s]} {words}" for s, words in _REST.items() if points[s]]
    sheets = {sheet for c in competency.criteria for sheet in facts.findings[c.id].sheets}
    return Reason(
        step="competency",
        state=competency_state(competency, facts.states),
        says=", ".join([says, *rest]),
        figure=f"{points['met']} of {total}",
        standard=f"at least {say.percent(competency.least_share)} of the points",
        competency=competency.id,
        sheets=tuple(sorted(sheets)),
    )


_STATES: tuple[State, ...] = ("met", "not met", "open")
_REST: dict[State, str] = {"not met": "not met", "open": "not seen enough"}


def _points(competency: Competency, states: States, wanted: Iterable[State]) -> int:
    return sum(c.points for c in competency.criteria if states[c.id] in wanted)


def share_of(competency: Competency, states: States, wanted: Iterable[State]) -> Fraction:
    """The exact share of the competency's points whose criteria are in one of these states."""
    total = sum(criterion.points for criterion in competency.criteria)
    return Fraction(_points(competency, states, wanted), total) if total else Fraction(0)


def competency_state(competency: Competency, states: States) -> State:
    """Met, not met even if all that is open were met, or open."""
    met = share_of(competency, states, {"met"})
    could = share_of(competency, states, {"met", "open"})
    return _held_to(met, could, exact(competency.least_share))


def _held_to(met: Fraction, could: Fraction, least: Fraction) -> State:
    if met >= least:
        return "met"
    return "open" if could >= least else "not met"


# 5. The overall points


def overall(facts: Facts) -> list[Reason]:
    """One reason: each competency's share met, by its weight; of what is covered alone."""
    judged = facts.judged
    met = _weighted(facts.rubric, facts.states, {"met"}) / judged.weight
    could = _weighted(facts.rubric, facts.states, {"met", "open"}) / judged.weight
    whose = "overall points" if judged.whole else "points of what is covered"
    says = f"{say.percent_down(met)} of the {whose}"
    if could > met:
        says += f", {say.percent_down(could)} if all that is open were met"
    return [
        Reason(
            step="overall",
            state=overall_state(facts.rubric, facts.states),
            says=says,
            figure=say.percent_down(met),
            standard=f"at least {say.percent(judged.overall_share)}",
            sheets=_ids(facts.evidence),
        )
    ]


def _weighted(rubric: Rubric, states: States, wanted: Iterable[State]) -> Fraction:
    parts = (exact(c.weight) * share_of(c, states, wanted) for c in rubric.competencies)
    return sum(parts, Fraction(0))


def overall_state(rubric: Rubric, states: States) -> State:
    """Met, not met even if all that is open were met, or open."""
    met = _weighted(rubric, states, {"met"})
    could = _weighted(rubric, states, {"met", "open"})
    return _held_to(met, could, exact(rubric.decision.overall_share))


# Together

STEPS = (stopping_incident, sufficiency, critical, competencies, overall)


def reasons(facts: Facts) -> tuple[Reason, ...]:
    """Every step's reasons, in order; no step hides the next."""
    return tuple(reason for step in STEPS for reason in step(facts))


def outcome(rubric: Rubric, states: States, *, sufficient: bool) -> Outcome:
    """Stopped; else more while evidence is insufficient; else fail, more or pass by the states."""
    if any(stops(c) and states[c.id] == "not met" for c in rubric.criteria()):
        return "stopped"
    if not sufficient:
        return "more"
    held = [states[criterion.id] for criterion in rubric.criteria() if criterion.critical]
    held += [competency_state(competency, states) for competency in rubric.competencies]
    held.append(overall_state(rubric, states))
    if "not met" in held:
        return "fail"
    return "more" if "open" in held else "pass"
