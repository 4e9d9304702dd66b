"""How an award stands whose rubric version is honoured only until a day.

Until that day it stands as it would, and says so; after it, it has lapsed until it is topped up.
"""

from __future__ import annotations

from datetime import date

from standfast.model.award import AwardDates, Honoured, State

Told = tuple[State, str, date | None, str]
"""State, why, the last day on which it holds, and what to do next."""
FULL_AGAIN = "a full practical is needed again"


def still_matters(honoured: Honoured | None, dates: AwardDates) -> Honoured | None:
    """The same, unless the award cannot be used or mended past that day anyway."""
    final = dates.full_practical_after
    if honoured is None or (final is not None and final <= honoured.until):
        return None
    return honoured


def with_version(told: Told, honoured: Honoured, on: date) -> Told:
    """What an award's dates and documents tell, with what becomes of its version."""
    state, because, until, step = told
    version, last = f"version {honoured.version}", honoured.until
    if on <= last:
        if state == "lapsed":
            return told
        until = until if until is None else min(until, last)
        return state, f"{because}; honoured under {version} until {last}", until, step
    over = f"{version} was honoured until {last}"
    if state in {"current", "refresher due"}:
        return "lapsed", over, None, honoured.step
    if step.endswith(FULL_AGAIN):
        steps = step
    else:  # a full practical mends everything else as well
        steps = f"{honoured.step}; {step}" if honoured.top_up else honoured.step
    return "lapsed", f"{over}; {because}", None, steps
