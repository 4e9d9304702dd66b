"""A rubric without what a practical does not cover: what is asked then, and what is judged.

Incidents are watched for in every practical, whatever it covers.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass
from fractions import Fraction

from standfast.model.base import exact
from standfast.model.decision import Finding
from standfast.model.focus import Focus
from standfast.model.rubric import (
    Competency,
    Criterion,
    DecisionRule,
    IncidentCriterion,
    Rubric,
)


def asked(rubric: Rubric, covers: Collection[str]) -> Rubric:
    """The rubric with the criteria that are covered and every incident; whole when none is named.

    A competency of which nothing is left stays, empty, so that the others keep their places.
    """
    if not covers:
        return rubric
    kept = tuple(_only(one, lambda c: c.id in covers or _watched(c)) for one in rubric.competencies)
    return rubric.model_copy(update={"competencies": kept})


def _watched(criterion: Criterion) -> bool:
    return isinstance(criterion, IncidentCriterion)


@dataclass(frozen=True)
class Narrowed:
    """The part of a rubric that is judged."""

    rubric: Rubric
    """What is covered, and whatever else cannot be left out of sight."""
    covered: tuple[Competency, ...]
    """The competencies held to their share, each with what is covered of it."""
    overall_share: float
    """The least share of their points, taken together by weight."""
    weight: Fraction = Fraction(1)
    """Of these together, when they are not the whole: never 0."""

    @property
    def whole(self) -> bool:
        """Whether nothing was left out."""
        return self.covered is self.rubric.competencies


def narrowed(rubric: Rubric, focus: Focus | None, findings: Mapping[str, Finding]) -> Narrowed:
    """What is judged of the rubric, given what was found on all of it.

    That is what the focus covers, every incident, and a critical criterion outside the focus only
    when the evidence refutes it: nobody asked for it, but what was seen is not overlooked.
    """
    if focus is None:
        return Narrowed(rubric, rubric.competencies, rubric.decision.overall_share)
    covers = set(focus.criteria)

    def outside(criterion: Criterion) -> bool:
        refuted = criterion.critical and findings[criterion.id].state == "not met"
        return criterion.id not in covers and (_watched(criterion) or refuted)

    parts, covered = [], []
    for competency in rubric.competencies:
        own = _only(competency, lambda criterion: criterion.id in covers)
        if own.criteria:
            covered.append(own)
            parts.append(own)
        rest = _only(competency, outside)
        if rest.criteria:  # no share of points is asked of what is only watched for
            parts.append(rest.model_copy(update={"weight": 0.0, "least_share": 0.0}))
    weight = sum((exact(one.weight) for one in covered), Fraction(0))
    rule = _rule(rubric, focus, weight)
    changed = rubric.model_copy(update={"competencies": tuple(parts), "decision": rule})
    least = rubric.decision.overall_share
    return Narrowed(changed, tuple(covered), least, weight or Fraction(1))


def _only(competency: Competency, wanted: Callable[[Criterion], bool]) -> Competency:
    kept = tuple(criterion for criterion in competency.criteria if wanted(criterion))
    return competency.model_copy(update={"criteria": kept})


def _rule(rubric: Rubric, focus: Focus, weight: Fraction) -> DecisionRule:
    """The share is of what is covered; a top-up is as many practicals as the transition says."""
    rule = rubric.decision
    changes: dict[str, object] = {"overall_share": float(exact(rule.overall_share) * weight)}
    if focus.kind == "top-up" and rubric.transition:
        practicals = rubric.transition.practicals
        changes |= {
            "practicals": practicals,
            "assessors": 1,
            "independent_assessors": min(rule.independent_assessors, 1),
            "days_apart": rule.days_apart if practicals > 1 else 0,
        }
    return rule.model_copy(update=changes)
