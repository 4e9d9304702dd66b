"""Periods of a rubric that do not fit each other."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from standfast.engine.dates import Span
from standfast.model.base import Period
from standfast.model.rubric import Rubric, Validity
from standfast.problems import Fault, Path

LONGEST_YEARS = 100
STARTS = tuple(date(2000 + n // 12, n % 12 + 1, 1) for n in range(48))
"""Every first of a month over a leap cycle: what holds from all of them holds always."""


def validity_faults(rubric: Rubric) -> Iterator[Fault]:
    """What the parts of a validity say that does not fit together."""
    validity = rubric.validity
    if validity is None:
        return
    refresher = validity.refresher
    if refresher is None:
        for name in ("grace", "in_grace", "lapse_limit"):
            if getattr(validity, name) is not None:
                yield Fault(
                    ("validity", name),
                    f"'{name}' without a refresher",
                    "add 'refresher' with 'every' and 'window', or leave it out",
                )
        return
    path: Path = ("validity", "refresher")
    if _longer(refresher.window, refresher.every):
        yield Fault(
            (*path, "window"),
            f"opens {refresher.window} before it is due, but is due every {refresher.every}",
            f"shorten the window to {refresher.every} or less",
        )
    if _longer(refresher.every, validity.period):
        yield Fault(
            (*path, "every"),
            f"due every {refresher.every}, after the award has ended ({validity.period})",
            f"shorten it to {validity.period} or less",
        )
    yield from _grace(validity)


def _grace(validity: Validity) -> Iterator[Fault]:
    if validity.lapse_limit is None:
        yield Fault(
            ("validity",),
            "a refresher, and nothing on how long after a lapse it still suffices",
            "add 'lapse_limit', for example P1Y",
        )
    if validity.grace is not None and validity.in_grace is None:
        yield Fault(
            ("validity", "grace"),
            f"grace of {validity.grace}, and nothing on what the holder may do in it",
            "add 'in_grace', for example 'does not teach alone'",
        )
    if validity.in_grace is not None and validity.grace is None:
        yield Fault(
            ("validity", "in_grace"),
            "'in_grace' without a grace",
            "add 'grace', for example P1M, or leave it out",
        )


def _longer(one: Period, other: Period) -> bool:
    """Whether the first period is longer from whatever day one counts."""
    return all(Span.of(one).after(day) > Span.of(other).after(day) for day in STARTS)


def period_faults(rubric: Rubric) -> Iterator[Fault]:
    """Periods that are a slip of the pen; nothing else is counted with them."""
    found: list[tuple[Path, Period | None]] = [(("decision", "window"), rubric.decision.window)]
    if validity := rubric.validity:
        names = ("period", "grace", "lapse_limit")
        found += [(("validity", name), getattr(validity, name)) for name in names]
        if refresher := validity.refresher:
            found.append((("validity", "refresher", "every"), refresher.every))
            found.append((("validity", "refresher", "window"), refresher.window))
    for path, period in found:
        if period is not None and _too_long(period):
            yield Fault(
                path, f"{period} is longer than {LONGEST_YEARS} years", "write a shorter one"
            )


def _too_long(period: Period) -> bool:
    """Whether the period is longer than 100 years: a slip of the pen."""
    span = Span.of(period)
    return span.months / 12 + span.days / 365 > LONGEST_YEARS
