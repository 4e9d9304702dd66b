"""Whether a decision may become an award, and what stands in the way.

Source: ISO/IEC 17024:2012, 9.4, asks that whoever certifies took no part in training or
examining the person (from memory).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date

from standfast.model.award import GIVE_BACK, Award, Ruling, RulingKind, Standing
from standfast.model.decision import OUTCOME_WORDS, Decision
from standfast.model.people import Person
from standfast.model.rubric import Rubric
from standfast.model.school import School
from standfast.model.sheet import Sheet

TIED = "has a recorded conflict of interest with"


def objections(
    decision: Decision,
    rubric: Rubric,
    candidate: Person,
    certifier: Person,
    *,
    part: str | None,
    school: School,
    tied: bool = False,
    earlier: Iterable[tuple[Award, Decision]] = (),
) -> tuple[str, ...]:
    """Every reason why this decision may not become an award now; none when it may.

    `part` is how the certifier took part (`part_taken`), `tied` whether a conflict of interest with
    the candidate is recorded; `earlier` are the candidate's awards
    with their decisions.
    """
    granting = rubric.refreshes or rubric.id
    found = [*_outcome(decision), *missing_documents(rubric.documents, candidate, decision.on)]
    if not certifier.may_certify(granting, decision.on):
        found.append(
            f"{certifier.id} may not confirm decisions under {granting} on {decision.on};"
            " give them a 'certifies' line in the people file"
        )
    if part and not school.certifier_may_have_taken_part:
        found.append(f"{certifier.id} {part}; somebody who took no part must confirm")
    if tied and school.conflict_of_interest == "refused":
        found.append(f"{certifier.id} {TIED} the candidate; somebody without one must confirm")
    found.extend(
        f"award {award.number} already stands on the same sheets"
        for award, old in earlier
        if decision.sheets and old.sheets == decision.sheets
    )
    return tuple(found)


def suspensions(held: Iterable[tuple[Award, Standing]], rubric: Rubric) -> tuple[str, ...]:
    """One sentence for each suspended award that a new one under the rubric would get round."""
    granting = rubric.refreshes or rubric.id
    return tuple(
        f"award {award.number} is suspended; reinstate it, or withdraw it, first"
        for award, now in held
        if award.rubric.id == granting and now.state == "suspended"
    )


def ruling_objections(
    kind: RulingKind,
    award: Award,
    now: Standing,
    ruler: Person,
    on: date,
    *,
    part: str | None = None,
    tied: bool = False,
    upheld: bool = False,
) -> tuple[str, ...]:
    """Every reason why this may not be ruled of the award on that day; none when it may.

    `now` is how the award stands, `tied` whether a conflict of interest of the ruler with the
    holder is recorded and the school refuses it, `part` how the ruler trained or assessed the
    holder, where the school refuses that.  Who may confirm decisions under the rubric may rule.
    Only an appeal that was `upheld` undoes a withdrawal.  What takes away stays possible to who
    took part: who trained the holder may be the first to see what goes wrong.
    """
    found = []
    if on < award.granted:
        found.append(f"{award.number} was granted on {award.granted}; rule from that day on")
    if not ruler.may_certify(award.rubric.id, on):
        found.append(
            f"{ruler.id} may not confirm decisions under {award.rubric.id} on {on}, and so may not"
            " rule on its awards"
        )
    if ruler.id == award.candidate:
        found.append(f"{ruler.id} holds the award; somebody else must rule on it")
    elif part and kind in GIVE_BACK:
        found.append(f"{ruler.id} {part}; somebody who took no part must give it back")
    if tied:
        found.append(f"{ruler.id} {TIED} the holder; somebody without one must rule")
    if now.state == "withdrawn" and not (kind == "reinstated" and upheld):
        found.append(
            f"{award.number} was withdrawn, and that is for good unless an appeal against it is"
            " upheld"
        )
    elif kind == "reinstated" and now.state not in {"suspended", "withdrawn"}:
        found.append(f"{award.number} is not suspended")
    elif kind == "suspended" and now.state == "suspended":
        found.append(f"{award.number} is suspended already")
    return tuple(found)


def order_objections(on: date, before: Iterable[Ruling]) -> tuple[str, ...]:
    """That something was ruled from a later day on already, which would undo this unnoticed."""
    later = max((ruling for ruling in before if ruling.on > on), key=lambda r: r.on, default=None)
    if later is None:
        return ()
    return (
        f"it was {later.kind} on {later.on}; what is ruled now holds from that day on or later",
    )


def _outcome(decision: Decision) -> list[str]:
    """That it is no pass, and what was not met at the first step of the rule that stopped it."""
    if decision.outcome == "pass":
        return []
    unmet = [reason for reason in decision.reasons if reason.state != "met"]
    refuted = [reason for reason in unmet if reason.state == "not met"] or unmet
    return [
        f"the decision is '{OUTCOME_WORDS[decision.outcome]}'",
        *(reason.says for reason in refuted if reason.step == refuted[0].step),
    ]


def missing_documents(kinds: Sequence[str], holder: Person, on: date) -> list[str]:
    """One sentence for each document that is missing or has ended on that day."""
    found = []
    for kind in kinds:
        until = holder.document_until(kind, on)
        if until is None:
            found.append(f"{kind}: none is recorded; record it with its last day")
        elif until < on:
            found.append(f"{kind}: ended on {until}; record the renewed one")
    return found


def part_taken(
    certifier: Person, candidate: Person, sheets: Iterable[Sheet], on: date
) -> str | None:
    """How the certifier had trained or assessed the candidate by that day, or None.

    Words that follow a name: `trained the candidate and scored the evidence`.
    """
    parts = []
    if certifier.id == candidate.id:
        parts.append("is the candidate")
    if any(tie.trainer == certifier.id and tie.since <= on for tie in candidate.trained_by):
        parts.append("trained the candidate")
    if any(sheet.assessor == certifier.id for sheet in sheets):
        parts.append("scored the evidence")
    return " and ".join(parts) or None
