"""What a criterion's standard asks that nothing could show."""

from __future__ import annotations

from collections.abc import Iterator

from standfast.engine import phrases as say
from standfast.engine.intervals import lower_bound, needed, upper_bound
from standfast.engine.looks import idle_free_looks_needed
from standfast.engine.tallies import Looks
from standfast.model.rubric import (
    AttemptsCriterion,
    ClearancesCriterion,
    Criterion,
    IdleStandard,
    IncidentCriterion,
    Method,
    RatingCriterion,
    SamplesCriterion,
)
from standfast.problems import Fault, Path

TOSS = 0.5
"""Under this assurance a standard could be reached and missed at once."""
FEWEST_LEVELS = 2


def standard_faults(criterion: Criterion, path: Path) -> Iterator[Fault]:
    """Every fault of one criterion's standard; `path` leads to the criterion."""
    here = (*path, "standard")
    if isinstance(criterion, AttemptsCriterion):
        standard = criterion.standard
        yield from _assurance(standard.assurance, here)
        yield from _reachable(
            here, standard.share, standard.assurance, standard.least, standard.method
        )
    elif isinstance(criterion, ClearancesCriterion):
        choices = criterion.standard
        yield from _assurance(choices.assurance, here)
        yield from _reachable(
            here, choices.accuracy, choices.assurance, choices.least, choices.method
        )
    elif isinstance(criterion, SamplesCriterion):
        yield from _assurance(criterion.standard.assurance, here)
        yield from _looks(criterion.standard, here)
    elif isinstance(criterion, RatingCriterion):
        yield from _levels(criterion, path)
    else:
        yield from _limit(criterion, here)


def _assurance(assurance: float, path: Path) -> Iterator[Fault]:
    if assurance < TOSS:
        yield Fault(
            (*path, "assurance"),
            f"{say.percent(assurance)} assurance, less than a toss of a coin",
            f"write {TOSS} or more; {say.percent(0.8)} is 0.8",
        )


def _reachable(
    path: Path, share: float, assurance: float, least: int, method: Method
) -> Iterator[Fault]:
    """Without a single lapse the least number must reach the share."""
    enough = needed(share, assurance, 0, method)
    if enough is not None and enough <= least:
        return
    shown = say.percent_down(lower_bound(least, least, assurance, method))
    what = (
        f"{least} of {least} show at least {shown} {say.assured(assurance)},"
        f" never {say.percent(share)}"
    )
    yield Fault((*path, "least"), what, _cure(enough, "share or assurance"))


def _cure(enough: int | None, lower: str) -> str:
    if enough is None:
        return f"lower {lower}; thousands of answers would not reach it"
    return f"raise least to {enough} or more, or lower {lower}"


def _looks(standard: IdleStandard, path: Path) -> Iterator[Fault]:
    """Even looks that are not alike at all, and nobody idle at any, must reach the standard."""
    least, assurance = standard.least, standard.assurance
    shown = upper_bound(0, least, assurance, "clopper-pearson")
    enough = idle_free_looks_needed(Looks(), standard)
    if enough is not None and enough <= least:
        return
    what = (
        f"{say.count(least, 'look')} with nobody idle show at most {say.percent_up(shown)}"
        f" {say.assured(assurance)}, never {say.percent(standard.idle)}"
    )
    cure = "raise idle; thousands of looks would not reach it"
    if enough is not None:
        cure = f"raise least to {enough} or more, raise idle, or lower assurance"
    yield Fault((*path, "least"), what, cure)


def _levels(criterion: RatingCriterion, path: Path) -> Iterator[Fault]:
    levels = [level.level for level in criterion.levels]
    if len(levels) < FEWEST_LEVELS or levels != list(range(1, len(levels) + 1)):
        shown = ", ".join(str(level) for level in levels) or "none"
        yield Fault(
            (*path, "levels"), f"levels {shown}", "number them 1, 2, 3 ... in order, two or more"
        )
    standard = criterion.standard
    for name, value in (("least", standard.least), ("floor", standard.floor)):
        if levels and value not in levels:
            yield Fault(
                (*path, "standard", name),
                f"{name} {value} is none of the levels {min(levels)} to {max(levels)}",
                "name one of them",
            )
    if standard.floor > standard.least:
        yield Fault(
            (*path, "standard", "floor"),
            f"floor {standard.floor} is over least {standard.least}",
            f"lower it to {standard.least} or less",
        )


def _limit(criterion: IncidentCriterion, path: Path) -> Iterator[Fault]:
    standard = criterion.standard
    if standard.effect == "stops" and standard.limit:
        yield Fault(
            (*path, "limit"),
            f"stops the practical, and allows {standard.limit}",
            "leave the limit out, or set effect to 'counts'",
        )
