"""A finding in figures and words: what was seen, against which standard, what would settle it."""

from __future__ import annotations

from standfast.engine import looks as waiting
from standfast.engine import phrases as say
from standfast.engine.intervals import (
    MOST_NEEDED,
    lower_bound,
    needed,
    upper_bound,
)
from standfast.engine.states import mismatch, state_of
from standfast.engine.tallies import Answers, Choices, Incidents, Looks, Marks, Tally
from standfast.model.decision import Figure, Finding, State
from standfast.model.rubric import (
    AttemptsCriterion,
    ClearancesCriterion,
    ClearanceStandard,
    Competency,
    Criterion,
    IdleStandard,
    IncidentCriterion,
    IncidentStandard,
    RatingCriterion,
    SamplesCriterion,
    ShareStandard,
)

_Said = tuple[Figure, str, str, str]
"""Figure, standard, what was found, what would settle it if it is open."""


def finding(criterion: Criterion, competency: Competency, tally: Tally) -> Finding:
    """The finding on one criterion, with its figure, in words that name nobody."""
    state = state_of(criterion, tally)
    figure, standard, says, settles = _said(criterion, tally, state)
    return Finding(
        criterion=criterion.id,
        competency=competency.id,
        kind=criterion.kind,
        state=state,
        critical=criterion.critical,
        points=criterion.points,
        figure=figure,
        standard=standard,
        says=says,
        settles=settles if state == "open" else "",
        sheets=tally.sheets,
    )


def _said(criterion: Criterion, tally: Tally, state: State) -> _Said:
    if isinstance(criterion, AttemptsCriterion) and isinstance(tally, Answers):
        return _attempts_said(criterion.standard, tally, state)
    if isinstance(criterion, ClearancesCriterion) and isinstance(tally, Choices):
        return _clearances_said(criterion.standard, tally, state)
    if isinstance(criterion, SamplesCriterion) and isinstance(tally, Looks):
        return _samples_said(criterion.standard, tally, state)
    if isinstance(criterion, RatingCriterion) and isinstance(tally, Marks):
        return _rating_said(criterion, tally)
    if isinstance(criterion, IncidentCriterion) and isinstance(tally, Incidents):
        return _incident_said(criterion.standard, tally)
    raise mismatch(criterion, tally)


def _bounds(low: float, high: float, assurance: float, state: State, *, better: bool) -> str:
    """The bound that decides; both when none does.  `better`: whether more is better."""
    if state == "open":
        return say.between(low, high, assurance)
    at_least = (state == "met") is better
    bound = f"at least {say.percent_down(low)}" if at_least else f"at most {say.percent_up(high)}"
    return f"{bound} {say.assured(assurance)}"


# Attempts


def _attempts_said(standard: ShareStandard, tally: Answers, state: State) -> _Said:
    a, method = standard.assurance, standard.method
    low, high = (bound(tally.yes, tally.seen, a, method) for bound in (lower_bound, upper_bound))
    figure = Figure(
        value=say.kept(tally.yes / tally.seen) if tally.seen else None,
        low=say.kept(low) if tally.seen else None,
        high=say.kept(high) if tally.seen else None,
        counted=tally.seen,
        lapses=tally.no,
        unseen=tally.unseen,
        method=method,
    )
    words = [
        f"at least {say.percent(standard.share)} {say.assured(a)}",
        f"from {standard.least} or more",
    ]
    if standard.lapses is not None:
        words.append(
            f"at most {say.count(standard.lapses, 'lapse')}" if standard.lapses else "no lapse"
        )
    more = _clean_answers_needed(standard, tally)
    return (
        figure,
        ", ".join(words),
        _attempts_words(standard, tally, state, low, high),
        (f"{_more(more, 'attempt')} without a lapse"),
    )


def _attempts_words(
    standard: ShareStandard, tally: Answers, state: State, low: float, high: float
) -> str:
    if not tally.seen:
        nothing = "nothing seen yet"
        return f"{nothing}, {tally.unseen} could not be seen" if tally.unseen else nothing
    words = [f"{tally.yes} of {tally.seen} seen", say.count(tally.no, "lapse")]
    if tally.unseen:
        words.append(f"{tally.unseen} could not be seen")
    past = standard.lapses is not None and tally.no > standard.lapses
    if not past:
        words.append(_bounds(low, high, standard.assurance, state, better=True))
    return ", ".join(words)


def _clean_answers_needed(
    standard: ShareStandard | ClearanceStandard, tally: Answers | Choices
) -> int | None:
    """How many more answers, none a lapse, reach the standard; None when thousands do not."""
    lapses = tally.no if isinstance(tally, Answers) else tally.seen - tally.right
    share = standard.share if isinstance(standard, ShareStandard) else standard.accuracy
    enough = needed(share, standard.assurance, lapses, standard.method)
    return None if enough is None else max(enough, standard.least) - tally.seen


def _more(number: int | None, thing: str) -> str:
    if number is None:
        return f"more than {MOST_NEEDED} more {thing}s"
    return f"{number} more {thing if number == 1 else thing + 's'}"


# Clearances


def _clearances_said(standard: ClearanceStandard, tally: Choices, state: State) -> _Said:
    a, method = standard.assurance, standard.method
    low, high = (bound(tally.right, tally.seen, a, method) for bound in (lower_bound, upper_bound))
    figure = Figure(
        value=say.kept(tally.right / tally.seen) if tally.seen else None,
        low=say.kept(low) if tally.seen else None,
        high=say.kept(high) if tally.seen else None,
        counted=tally.seen,
        lapses=tally.seen - tally.right,
        false_clearances=tally.false_clear,
        false_holds=tally.false_hold,
        method=method,
    )
    allowed = say.count(standard.false_clearances, "false clearance")
    asked = (
        f"at least {say.percent(standard.accuracy)} right {say.assured(a)},"
        f" from {standard.least} or more,"
        f" {'at most ' if standard.false_clearances else ''}{allowed}"
    )
    return (
        figure,
        asked,
        _clearances_words(standard, tally, state, low, high),
        (f"{_more(_clean_answers_needed(standard, tally), 'choice')}, all of them right"),
    )


def _clearances_words(
    standard: ClearanceStandard, tally: Choices, state: State, low: float, high: float
) -> str:
    if not tally.seen:
        return "no choice seen yet"
    words = [
        f"{tally.right} of {tally.seen} right",
        say.count(tally.false_clear, "false clearance"),
        say.count(tally.false_hold, "false hold"),
    ]
    if tally.false_clear <= standard.false_clearances:
        words.append(_bounds(low, high, standard.assurance, state, better=True))
    return ", ".join(words)


# Looks at the waiting students


def _samples_said(standard: IdleStandard, tally: Looks, state: State) -> _Said:
    asked = (
        f"at most {say.percent(standard.idle)} idle {say.assured(standard.assurance)},"
        f" from {say.count(standard.least, 'look')} or more"
    )
    settles = _idle_free_looks(standard, tally) if state == "open" else ""
    missed = f", {tally.missed} missed" if tally.missed else ""
    if not tally.seen:
        return Figure(unseen=tally.missed), asked, f"no look with somebody waiting{missed}", settles
    idle = waiting.idle_share(tally, standard.assurance)
    figure = Figure(
        value=say.kept(idle.value),
        low=say.kept(idle.low),
        high=say.kept(idle.high),
        counted=tally.seen,
        unseen=tally.missed,
        effective=say.kept(idle.effective),
        method=waiting.METHOD,
    )
    says = (
        f"{tally.idle} idle of {tally.waiting} waiting at {say.count(tally.seen, 'look')}{missed},"
        f" worth {idle.effective:.1f} independent ones,"
        f" {_bounds(idle.low, idle.high, standard.assurance, state, better=False)}"
    )
    return figure, asked, says, settles


def _idle_free_looks(standard: IdleStandard, tally: Looks) -> str:
    more = waiting.idle_free_looks_needed(tally, standard)
    return f"about {_more(more, 'look')} with nobody idle"


# Ratings


def _rating_said(criterion: RatingCriterion, tally: Marks) -> _Said:
    standard = criterion.standard
    asked = f"level {standard.least} or higher, and no single mark under level {standard.floor}"
    if not tally.practicals:
        says = f"not seen on {say.count(tally.unseen, 'sheet')}" if tally.unseen else "no mark yet"
        return Figure(unseen=tally.unseen), asked, says, "one mark"
    singles = [mark for marks in tally.practicals for mark in marks]
    figure = Figure(
        value=float(tally.middle),
        counted=len(tally.practicals),
        lapses=sum(mark < standard.floor for mark in singles),
        unseen=tally.unseen,
        method=f"middle mark, {tally.policy} joined",
    )
    words = [f"level {tally.middle} of {len(criterion.levels)}"]
    if len(tally.practicals) > 1:
        levels = ", ".join(str(mark) for mark in tally.joined)
        words.append(f"the middle of {levels} over {len(tally.practicals)} practicals")
    if len(singles) > 1:
        words.append(f"lowest single mark {tally.lowest}")
    if tally.unseen:
        words.append(f"not seen on {say.count(tally.unseen, 'sheet')}")
    return figure, asked, ", ".join(words), ""


# Incidents


def _incident_said(standard: IncidentStandard, tally: Incidents) -> _Said:
    if standard.effect == "stops":
        asked = "never; it stops the practical"
    elif standard.limit:
        asked = f"at most {standard.limit} in all practicals together"
    else:
        asked = "never"
    if not tally.practicals:
        return Figure(), asked, "no practical seen yet", "one practical"
    figure = Figure(
        value=float(tally.happened),
        counted=tally.practicals,
        lapses=tally.happened,
        method="count, the larger of two sheets",
    )
    happened = f"{tally.happened} recorded" if tally.happened else "none recorded"
    return figure, asked, f"{happened} in {say.count(tally.practicals, 'practical')}", ""
