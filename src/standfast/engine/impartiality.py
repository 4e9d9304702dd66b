"""Who is tied to whom, and may therefore not judge them impartially.

A conflict of interest counts in both directions, whoever of the two has it recorded.  Who trained
the candidate is a tie of its own, with rules of its own.

Source: ISO/IEC 17024:2012, 4.3, asks that threats to impartiality are found and dealt with (from
memory).  Which ties count, and that a school may allow and show them: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import date

from standfast.model.people import ConflictPolicy, Person
from standfast.model.sheet import Sheet
from standfast.problems import Fault


def tied(one: Person, other: Person, day: date, until: date | None = None) -> bool:
    """Whether a conflict of interest between the two is recorded for that day, by either.

    With `until`, on any day from the one to the other.
    """
    return one.tied_to(other.id, day, until) or other.tied_to(one.id, day, until)


def with_ties_of(candidate: Person, others: Iterable[Person]) -> Person:
    """The candidate, with every conflict of interest that the others have recorded as well."""
    found = list(candidate.conflicts)
    for other in others:
        for conflict in other.conflicts:
            turned = conflict.model_copy(update={"person": other.id})
            if conflict.person == candidate.id and turned not in found:
                found.append(turned)
    return candidate.model_copy(update={"conflicts": tuple(found)})


def conflict_faults(
    sheet: Sheet, assessor: Person | None, candidate: Person | None, policy: ConflictPolicy
) -> Iterator[Fault]:
    """That the sheet's assessor is tied to its candidate, where the school refuses that.

    Of somebody whom the school does not know nothing is said here.
    """
    if policy == "shown" or assessor is None or candidate is None:
        return
    if tied(assessor, candidate, sheet.on):
        yield Fault(
            ("assessor",),
            f"{assessor.id} has a recorded conflict of interest with the candidate on {sheet.on}",
            "have somebody without one score; or allow it in school.yaml, and the papers say so:"
            " conflict_of_interest: shown",
        )
