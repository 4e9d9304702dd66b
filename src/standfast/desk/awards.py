"""Granting awards, and how they stand."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from standfast.desk.decisions import Decided, as_read, decide_for, keep, refuse_unread
from standfast.desk.definitions import written
from standfast.desk.honouring import honoured_of, rubric_text
from standfast.desk.opening import Desk
from standfast.desk.people import person
from standfast.engine.awarding import objections, part_taken, suspensions
from standfast.engine.dates import award_dates, renewed_dates, standing, topped_up_dates
from standfast.engine.impartiality import tied
from standfast.engine.scope import permitted, reduction
from standfast.model.award import Award, AwardDates, Reduction, Standing
from standfast.model.decision import Decision
from standfast.model.people import Person
from standfast.model.rubric import Rubric, Validity
from standfast.model.syllabus import Syllabus
from standfast.problems import NotFound, Refused, StandfastError

if TYPE_CHECKING:
    from standfast.store.awards import KeptAward


@dataclass(frozen=True)
class Granted:
    """An award that is in the book."""

    award: Award
    candidate: Person
    certifier: Person
    standing: Standing
    entry: str
    without: tuple[str, ...] = ()
    """Titles of the skills that a reduction which goes on takes away."""
    renews: Award | None = None
    """The award that this one continues."""
    later: Award | None = None
    """The one that took its place."""


def grant(
    desk: Desk,
    candidate: str,
    rubric: str,
    certifier: str,
    *,
    top_up: bool = False,
    read: str | None = None,
) -> Granted:
    """Grants what a pass under the rubric permits, on the desk's day; a refresher renews.

    A top-up brings the award under the version in force and leaves its days as they were.  With
    `read`, what the certifier was shown (`Decided.read`), nothing is granted on anything else; what
    she granted on just that before is given as it stands.

    The decision and the award are entered together, or neither.

    Raises:
        Refused: every reason why not: the decision is no pass, the certifier took part or may
            not certify, a document is missing, the same evidence was awarded before, a
            refresher came too early or too late, or something else was read.
        NotFound: no such person or rubric.
    """
    not_ahead(desk)
    with desk.book.together():  # nothing may come between the evidence and the award
        if read is not None and (number := _granted_on(desk, candidate, certifier, read)):
            return granted(desk, number)
        decided = decide_for(desk, candidate, rubric, top_up=top_up)
        refuse_unread(decided, read)
        return _grant(desk, decided, candidate, rubric, certifier)


def _granted_on(desk: Desk, candidate: str, certifier: str, read: str) -> str | None:
    """The number of the award that the certifier granted on what she was shown."""
    for one in desk.book.awards(candidate, past=True):
        made = desk.book.find_decision(one.award.decision)
        if (
            made
            and one.award.certifier == certifier
            and as_read(made.decision, made.inputs) == read
        ):
            return one.award.number
    return None


def not_ahead(desk: Desk, why: str = "an award begins on the day on which it is granted") -> None:
    """Refuses a day that has not come, and says why of what is to be entered.

    An invented school lives by a calendar of its own; any other by the one on the wall.
    """
    if desk.today > desk.calendar_day and not desk.school.invented:
        raise Refused(
            f"{desk.today} has not come yet; today is {desk.calendar_day}",
            [why],
        )


def why_no_award(desk: Desk, decided: Decided, certifier: str) -> tuple[str, ...]:
    """Every reason for which `grant` would refuse now; none when it would grant.

    Raises:
        NotFound: the book has no such certifier.
    """
    who = person(desk, certifier)
    part = part_taken(who, decided.candidate, decided.sheets, desk.today)
    found = _objections(desk, decided, who, part)
    try:
        not_ahead(desk)
        if not found:
            _award(desk, decided, who, part, desk.new_key())
    except Refused as error:
        found += error.reasons or [error.what]
    return tuple(found)


def granted(desk: Desk, number: str) -> Granted:
    """The award of that number as it stands.

    Raises:
        NotFound: there is none.
    """
    kept = desk.book.find_award(number)
    if kept is None:
        known = [one.award.number for one in desk.book.awards(past=True)]
        raise NotFound("certificate", number, known)
    award = kept.award
    gone = titles_of(desk, award, award.reduced.without if award.reduced else ())
    who, certifier = person(desk, award.candidate), person(desk, award.certifier)
    told = how_it_stands(desk, award)
    before, after = (
        desk.book.find_award(one) if one else None
        for one in (award.renews, kept.superseded_by or kept.renewed_by)
    )
    return Granted(
        award,
        who,
        certifier,
        told,
        kept.entry,
        gone,
        before.award if before else None,
        after.award if after else None,
    )


def _objections(desk: Desk, decided: Decided, certifier: Person, part: str | None) -> list[str]:
    candidate = decided.candidate.id
    found = objections(
        decided.decision,
        decided.texts.rubric,
        decided.candidate,
        certifier,
        part=part,
        school=desk.school,
        tied=tied(certifier, decided.candidate, desk.today),
        earlier=earlier(desk, candidate),
    )
    held = [(one.award, how_it_stands(desk, one.award)) for one in desk.book.awards(candidate)]
    return [*found, *suspensions(held, decided.texts.rubric)]


def _grant(desk: Desk, decided: Decided, candidate: str, rubric: str, certifier: str) -> Granted:
    who = person(desk, certifier)
    part = part_taken(who, decided.candidate, decided.sheets, desk.today)
    found = _objections(desk, decided, who, part)
    if found:
        raise Refused(f"no award under {rubric} for {candidate} on {desk.today}:", found)
    award = _award(desk, decided, who, part, keep(desk, decided))
    entry = desk.book.put_award(award, desk.stamp())
    told = how_it_stands(desk, award)
    gone = titles_of(desk, award, award.reduced.without if award.reduced else ())
    return Granted(award, decided.candidate, who, told, entry.id, gone)


def earlier(desk: Desk, candidate: str) -> list[tuple[Award, Decision]]:
    """Every award of the candidate, with the decision that it was granted on."""
    pairs = []
    for one in desk.book.awards(candidate, past=True):
        decision = desk.book.find_decision(one.award.decision)
        if decision:
            pairs.append((one.award, decision.decision))
    return pairs


def _award(desk: Desk, decided: Decided, certifier: Person, part: str | None, entry: str) -> Award:
    rubric = decided.texts.rubric
    before = _goes_on_from(desk, decided)
    granting = _granting(desk, before, rubric)
    if granting.grants is None or granting.validity is None:
        raise StandfastError(f"{granting.id} grants nothing; run 'standfast check'")
    today = desk.today
    return Award(
        id=desk.new_key(),
        number=_number(desk, granting),
        candidate=decided.candidate.id,
        rubric=before.award.rubric if before and rubric.refreshes else decided.decision.rubric,
        scope=granting.grants,
        decision=entry,
        granted=today,
        certifier=certifier.id,
        certifier_took_part=part,
        certifier_tied=tied(certifier, decided.candidate, desk.today),
        renews=before.award.id if before else _lapsed(desk, decided),
        dates=_dates(granting.validity, before, decided, today),
        documents=granting.documents,
        conditions=granting.grants.conditions,
        # What is short does not show again what was taken away; a full practical does.
        reduced=reduction_of(desk, before.award) if before else None,
    )


def _goes_on_from(desk: Desk, decided: Decided) -> KeptAward | None:
    """The award that a refresher or a top-up continues; None for a full practical."""
    rubric = decided.texts.rubric
    if rubric.refreshes:
        return _renewed(desk, decided, rubric.refreshes)
    return _renewed(desk, decided, rubric.id) if decided.decision.is_top_up else None


def _dates(
    validity: Validity, before: KeptAward | None, decided: Decided, today: date
) -> AwardDates:
    if before is None:
        return award_dates(validity, today)
    if decided.decision.is_top_up:
        return topped_up_dates(before.award.dates, today)
    return renewed_dates(validity, before.award.dates, today)


def _granting(desk: Desk, before: KeptAward | None, rubric: Rubric) -> Rubric:
    """The rubric whose scope and validity count: for a refresher that of the award it renews."""
    if before is None or rubric.refreshes is None:
        return rubric
    granting = before.award.rubric
    return rubric_text(desk, granting.hash) or written(desk, granting.id).rubric


def _standing_awards(desk: Desk, candidate: str, rubric: str) -> list[KeptAward]:
    return [one for one in desk.book.awards(candidate) if one.award.rubric.id == rubric]


def _renewed(desk: Desk, decided: Decided, granting: str) -> KeptAward:
    """The award under that rubric that a refresher or a top-up continues."""
    who, what = decided.candidate.id, "topped up" if decided.decision.is_top_up else "refreshed"
    found = [
        one
        for one in _standing_awards(desk, who, granting)
        if how_it_stands(desk, one.award).state not in {"suspended", "withdrawn"}
    ]
    if not found:
        raise Refused(
            f"{who} holds no award under {granting} that could be {what}",
            ["a full practical comes first; a suspended award is reinstated first"],
        )
    version = honoured_of(desk, found[-1].award)
    if version and desk.today > version.until and not decided.decision.is_top_up:
        raise Refused(
            f"{found[-1].award.number} was granted under version {version.version}, which was"
            f" honoured until {version.until}; a refresher does not bring it under a later one",
            [version.step],
        )
    return found[-1]


def _lapsed(desk: Desk, decided: Decided) -> str | None:
    """The award of the same rubric that a new full practical takes the place of."""
    found = _standing_awards(desk, decided.candidate.id, decided.texts.rubric.id)
    return found[-1].award.id if found else None


def _number(desk: Desk, rubric: Rubric) -> str:
    """The next certificate number: the rubric's initials, the year, a running number."""
    initials = "".join(part[0] if part.isalpha() else part for part in rubric.id.split("-")).upper()
    stem = f"{initials}-{desk.today.year}-"
    taken = [
        int(one.award.number.removeprefix(stem))
        for one in desk.book.awards(past=True)
        if one.award.number.startswith(stem)
    ]
    return f"{stem}{max(taken, default=0) + 1:04d}"


def how_it_stands(desk: Desk, award: Award) -> Standing:
    """How the award stands on the desk's day, by its dates, documents and rulings."""
    holder = person(desk, award.candidate)
    documents = documents_of(award, holder, desk.today)
    rulings, version = desk.book.rulings(award.id), honoured_of(desk, award)
    told = standing(award, documents, desk.today, rulings, version)
    if told.state != "in grace":
        return told
    return told.model_copy(update={"limit": grace_limit(desk, award)})


def grace_limit(desk: Desk, award: Award) -> str:
    """What the award's rubric says of the time of grace: does not teach alone."""
    text = rubric_text(desk, award.rubric.hash)
    return (text.validity.in_grace if text and text.validity else None) or ""


def reduction_of(desk: Desk, award: Award) -> Reduction | None:
    """What is taken from the award's scope on the desk's day, and since when."""
    return reduction(award, desk.book.rulings(award.id), desk.today)


@dataclass(frozen=True)
class Covered:
    """What an award covers on a day."""

    skills: Mapping[str, str]
    """Each with its title, in the order of the scope."""
    without: tuple[str, ...]
    """Titles of the skills that were taken away."""
    since: date | None
    """When they were; None when none is."""


def covered(desk: Desk, award: Award) -> Covered:
    """Which skills the award covers on the desk's day, and which were taken away."""
    skills = permitted(award, desk.book.rulings(award.id), desk.today)
    gone = reduction_of(desk, award)
    return Covered(
        dict(zip(skills, titles_of(desk, award, skills), strict=True)),
        titles_of(desk, award, gone.without) if gone else (),
        gone.since if gone else None,
    )


def titles_of(desk: Desk, award: Award, skills: Sequence[str]) -> tuple[str, ...]:
    """The titles of these skills, from the syllabus that the award's decision was made under."""
    decision = desk.book.find_decision(award.decision) if skills else None
    text = desk.book.find_text(decision.decision.syllabus.hash) if decision else None
    known = {skill.id: skill.title for skill in text.skills} if isinstance(text, Syllabus) else {}
    return tuple(known.get(skill, skill) for skill in skills)


def find_award(desk: Desk, wanted: str, *, newest: bool = True) -> Award:
    """The award of that number, or the newest of that person; only of one if not `newest`.

    Raises:
        NotFound: there is none.
        Refused: another took its place, or the person holds several and the newest does not do.
    """
    found = desk.book.find_award(wanted)
    if found is None:
        holder = desk.book.find_person(wanted)
        own = desk.book.awards(holder.id, on=desk.today) if holder else ()
        if not own:
            known = [one.award.number for one in desk.book.awards()]
            raise NotFound("certificate", wanted, known)
        if len(own) > 1 and not newest:
            raise Refused(
                f"{wanted} holds {len(own)} awards; name the certificate:",
                [f"{one.award.number}, {one.award.scope.title}" for one in own],
            )
        return own[-1].award
    now = desk.book.awards(found.award.candidate, on=desk.today)
    standing_now = [one.award for one in now]
    if found.award.granted > desk.today:
        raise Refused(f"{wanted} was granted on {found.award.granted}, after {desk.today}")
    if found.award.id not in {award.id for award in standing_now}:
        raise Refused(
            f"{wanted} was renewed or corrected; this took its place:",
            [award.number for award in standing_now],
        )
    return found.award


def documents_of(award: Award, holder: Person, on: date) -> Mapping[str, date | None]:
    """For each document the award depends on, its last day as known on that day."""
    return {kind: holder.document_until(kind, on) for kind in award.documents}
