"""What a competency record says of what was judged: figure, bounds, standard, chart."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from markupsafe import Markup

from standfast.model.decision import (
    STATE_WORDS,
    Decision,
    Figure,
    Finding,
)
from standfast.model.rubric import (
    AttemptsCriterion,
    ClearancesCriterion,
    Criterion,
    RatingCriterion,
    Rubric,
    SamplesCriterion,
)
from standfast.paper.chart import level_chart, share_chart
from standfast.paper.view.words import (
    asked,
    between,
    percent,
)


@dataclass(frozen=True)
class FindingLine:
    """One criterion: what was found, in words, figures and a chart of the same figures."""

    title: str
    critical: bool
    points: str
    state: str
    sign: str
    figure: str
    bounds: str
    assurance: str
    standard: str
    says: str
    settles: str
    chart: Markup | None


@dataclass(frozen=True)
class CompetencyView:
    """A competency with its criteria."""

    title: str
    share: str
    findings: tuple[FindingLine, ...]


def competencies(rubric: Rubric, decision: Decision) -> Iterator[CompetencyView]:
    """Those of which something was judged; of a refresher or top-up why they were covered."""
    focus = decision.focus
    because = {one.competency: one.because for one in focus.covered} if focus else {}
    for competency in rubric.competencies:
        own = {f.criterion: f for f in decision.findings if f.competency == competency.id}
        if not own:
            continue
        total = sum(f.points for f in own.values())
        met = sum(f.points for f in own.values() if f.state == "met")
        share = f"{met} of {total} points met, {asked(competency.least_share)} asked"
        if focus and competency.id not in because:
            share = f"not covered by this {focus.kind}; only what is watched for in every practical"
        elif focus:
            share += f" · {because[competency.id]}"
        yield CompetencyView(
            title=competency.title,
            share=share,
            findings=tuple(_finding(c, own[c.id]) for c in competency.criteria if c.id in own),
        )


SIGNS = {"met": "+", "not met": "x", "open": "?"}


def _finding(criterion: Criterion, found: Finding) -> FindingLine:
    return FindingLine(
        title=criterion.title,
        critical=found.critical,
        points=f"{found.points}",
        state=STATE_WORDS[found.state],
        sign=SIGNS[found.state],
        figure=_figure(criterion, found.figure),
        bounds=_bounds(found.figure),
        assurance=_assurance(criterion, found.figure),
        standard=found.standard,
        says=found.says,
        settles=found.settles if found.state == "open" else "",
        chart=_chart(criterion, found),
    )


def _figure(criterion: Criterion, figure: Figure) -> str:
    if figure.value is None:
        return "nothing seen"
    if isinstance(criterion, RatingCriterion):
        return f"level {figure.value:g} of {len(criterion.levels)}"
    if isinstance(criterion, AttemptsCriterion | ClearancesCriterion):
        return percent(figure.value)
    if isinstance(criterion, SamplesCriterion):
        return f"{percent(figure.value)} idle"
    return f"{figure.value:g} recorded"


def _bounds(figure: Figure) -> str:
    if figure.low is None or figure.high is None:
        return ""
    return between(figure.low, figure.high)


def _assurance(criterion: Criterion, figure: Figure) -> str:
    assurance = getattr(criterion.standard, "assurance", None)
    if figure.low is None or assurance is None:
        return ""
    return f"each at {asked(assurance)} assurance"


def _chart(criterion: Criterion, found: Finding) -> Markup | None:
    figure = found.figure
    if figure.value is None:
        return None
    said = ", ".join(filter(None, (_figure(criterion, figure), _bounds(figure))))
    title = f"{criterion.title}: {said}; {found.standard}"
    if isinstance(criterion, RatingCriterion):
        standard = criterion.standard
        return level_chart(title, figure.value, standard.least, len(criterion.levels))
    if figure.low is None or figure.high is None:
        return None
    if (share := _share_asked(criterion)) is None:
        return None
    asks, more = share
    return share_chart(title, figure.value, figure.low, figure.high, asks, more_is_better=more)


def _share_asked(criterion: Criterion) -> tuple[float, bool] | None:
    """The share that the standard asks for, if any, and whether more of it is better."""
    if isinstance(criterion, AttemptsCriterion):
        return criterion.standard.share, True
    if isinstance(criterion, ClearancesCriterion):
        return criterion.standard.accuracy, True
    if isinstance(criterion, SamplesCriterion):
        return criterion.standard.idle, False
    return None
