"""What a forecast rests on, in sentences: known from the record book, or supposed."""

from __future__ import annotations

from collections.abc import Iterator

from standfast.desk.forecast import Forecast, OfRubric
from standfast.engine.planning.chances import Rate, Share


def rests_on(found: Forecast) -> Iterator[str]:
    """One sentence for each thing known or supposed."""
    for one in found.rubrics:
        yield _certain(one)
    for name, known in found.shares:
        yield f"{name}: {counted(known)}"
    yield from _waits(found)
    for one in found.rubrics:
        yield f"{one.rubric}, newcomers per month: {counted(one.newcomers)}; {_when(one)}"


def _waits(found: Forecast) -> Iterator[str]:
    """When they come, by the middle of those who did so far."""
    early = _several(found.early, "month") + " before" if found.early else "in"
    yield f"who is in time comes {early} the month in which the award falls due"
    waits = (f"{_several(n, 'month')} for a {kind}" for kind, n in found.habits.again_after.items())
    yield f"from a try that was not passed to the next: {', '.join(waits)}"


def _when(one: OfRubric) -> str:
    season = "by calendar month as so far" if one.by_calendar_month else "no season"
    if one.unevenness > 1:
        return (
            f"{season}; in groups, so months vary {one.unevenness:.1f} times as much as by chance"
        )
    return season


def _certain(one: OfRubric) -> str:
    people = "1 person has" if one.begun == 1 else f"{one.begun} people have"
    takes = ", ".join(
        f"a {kind} takes {_several(lessons, 'lesson')} or more"
        for kind, lessons in one.lessons.items()
    )
    return (
        f"{one.rubric}: {takes}; {_several(one.standing, 'award')} in time, {one.late} past"
        f" grace; {people} begun or must try again"
    )


def counted(known: Share | Rate) -> str:
    """34 of 41; with 0.8 supposed, worth 10: 0.82."""
    supposed = f"{known.prior:g} supposed, worth {known.weight:g}"
    if isinstance(known, Share):
        seen = f"{known.yes} of {known.of}" if known.of else ""
    else:
        seen = f"{known.count} in {known.over:.0f}" if known.over else ""
    return f"{seen}; with {supposed}: {known.mean:.2f}" if seen else f"none lived yet; {supposed}"


def _several(number: int, thing: str) -> str:
    return f"{number} {thing}{'' if number == 1 else 's'}"
