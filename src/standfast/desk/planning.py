"""Planning a day of practicals: who sees whom, and when; or which wishes clash."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from standfast.desk.approvals import approval_of
from standfast.desk.definitions import written
from standfast.desk.opening import Desk
from standfast.desk.people import name_of, not_entered, person
from standfast.engine.impartiality import tied
from standfast.model.people import ConflictPolicy, Person
from standfast.model.plan import AskedDay
from standfast.problems import BadInput, Fault, NotFound, Refused, nearest

if TYPE_CHECKING:
    from standfast.engine.planning.clash import Clash
    from standfast.engine.planning.day import Plan
    from standfast.engine.planning.lessons import Load
    from standfast.engine.planning.programme import Watch
    from standfast.engine.planning.wishes import Day
    from standfast.files.read import Placed


LINKED = (
    "Every two assessors are linked through candidates, directly or through others, so their"
    " severities can be compared."
)
NOT_LINKED = "Not all assessors are linked through candidates: not all severities can be compared."


@dataclass(frozen=True)
class PlannedLesson:
    """One lesson of the plan, with what a person needs to see of it."""

    slot: str
    begins: str
    ends: str
    candidate: str
    assessors: tuple[str, ...]
    """The first is independent: did not train the candidate, and is not tied to them."""


@dataclass(frozen=True)
class PlannedDay:
    """A plan that meets every wish, and what it asks of everybody."""

    asked: AskedDay
    title: str
    """Of the rubric."""
    zone: str
    lessons: tuple[PlannedLesson, ...]
    loads: tuple[Load, ...]
    links: Mapping[tuple[str, str], tuple[str, ...]]
    all_linked: bool
    plan: Plan
    names: Mapping[str, str]
    """The name of each person, by slug."""
    tied: Mapping[str, frozenset[str]]
    """For each candidate, the assessors with a conflict of interest that the school allows."""

    @property
    def doubles(self) -> int:
        """How many candidates two assessors score."""
        return sum(len(lesson.assessors) > 1 for lesson in self.lessons)

    @property
    def lines(self) -> Iterator[tuple[str, str, str, str, str]]:
        """For each lesson: time, slot, candidate, first and second assessor, by name."""
        for lesson in self.lessons:
            candidate, first, second = [
                self.names.get(who, "") for who in (lesson.candidate, *lesson.assessors, "")
            ][:3]
            yield f"{lesson.begins}-{lesson.ends}", lesson.slot, candidate, first, second

    @property
    def parts(self) -> Iterator[tuple[str, str, tuple[str, ...]]]:
        """For each assessor: name, how many lessons, and whom at what time."""
        for load in self.loads:
            own = [one for one in self.lessons if load.assessor in one.assessors]
            whom = tuple(f"{one.begins} {self.names[one.candidate]}" for one in own)
            yield self.names[load.assessor], str(load.lessons), whom

    @property
    def conflicts(self) -> Iterator[tuple[str, str]]:
        """Each (assessor, candidate) of the plan who have a recorded conflict of interest."""
        for lesson in self.lessons:
            for who in lesson.assessors:
                if who in self.tied[lesson.candidate]:
                    yield who, lesson.candidate

    @property
    def said(self) -> Iterator[str]:
        """What there is to say of the plan as a whole."""
        worth, unproved = self.plan.worth, self.plan.unproved
        for assessor, candidate in self.conflicts:
            yield (
                f"{self.names[assessor]} has a recorded conflict of interest with"
                f" {self.names[candidate]}, and does not count as independent."
            )
        if len(self.loads) > 1:
            yield LINKED if self.all_linked else NOT_LINKED
        gaps = "no gaps" if not worth.gaps else f"gaps: {worth.gaps}"
        last = max(lesson.ends for lesson in self.lessons)
        yield (
            f"Score sheets: {worth.sheets}; busiest and least busy assessor differ by"
            f" {worth.difference}; {gaps}; done by {last}."
        )
        if unproved:
            which = ", ".join(unproved)
            yield f"Not proved in the time given: {which}; 'standfast plan --seconds' allows more."
        else:
            yield "No plan that meets every wish is better by these, in this order."


def plan_day(desk: Desk, placed: Placed[AskedDay], watch: Watch) -> PlannedDay:
    """The best plan that meets every wish of the file.

    Raises:
        BadInput: what the file says cannot be, or does not fit the record book; each at its line.
        Refused: the wishes cannot all be met; says the smallest set that clashes.
        Unsettled: time was over before a plan was found.
    """
    from standfast.engine.planning.day import best_plan
    from standfast.engine.planning.faults import faults_in_day
    from standfast.engine.planning.wishes import day_of
    from standfast.files.read import problems_at

    asked = placed.noun
    faults = [*faults_in_day(asked), *_against_the_book(desk, asked)]
    if faults:
        raise BadInput(sorted(problems_at(placed, faults)))
    trainers = _trainers(desk, asked)
    allowed = _tied(desk, asked)
    day = day_of(asked, trainers, _apart(desk, asked), allowed)
    plan = best_plan(day, watch)
    if plan is None:
        raise _no_plan(placed, day, watch)
    return _planned(desk, asked, day, plan, (trainers, allowed))


def _against_the_book(desk: Desk, asked: AskedDay) -> Iterator[Fault]:
    yield from _rubric_faults(desk, asked)
    for number, assessor in enumerate(asked.assessors):
        who = desk.book.find_person(assessor.assessor)
        path = ("assessors", number, "assessor")
        if who is None:
            yield _unknown(desk, assessor.assessor, path)
        elif not who.may_score(asked.rubric, asked.day):
            what = f"'{who.id}' is not approved to score {asked.rubric} on {asked.day}"
            yield Fault(path, what, "leave the person out, or add to 'scores' in the people file")
        elif (approval := approval_of(desk, who, asked.rubric, asked.day)).by_reference:
            what = f"'{who.id}' may not score {asked.rubric} on {asked.day}: {approval.because}"
            yield Fault(
                path, what, f"leave the person out, or {approval.next_step} before that day"
            )
    for number, candidate in enumerate(asked.candidates):
        if desk.book.find_person(candidate.candidate) is None:
            yield _unknown(desk, candidate.candidate, ("candidates", number, "candidate"))


def _rubric_faults(desk: Desk, asked: AskedDay) -> Iterator[Fault]:
    try:
        written(desk, asked.rubric)
    except NotFound:
        known = [placed.noun.id for placed in desk.definitions.rubrics]
        yield Fault(("rubric",), f"no rubric '{asked.rubric}'", nearest(asked.rubric, known))
        return
    versions = [p.noun for p in desk.definitions.rubrics if p.noun.id == asked.rubric]
    if not any(version.in_force_on(asked.day) for version in versions):
        what = f"no version of {asked.rubric} is in force on {asked.day}"
        yield Fault(("rubric",), what, "name another day, or another rubric")


def _unknown(desk: Desk, who: str, path: tuple[str | int, ...]) -> Fault:
    what = f"nobody is '{who}' in the record book"
    if who in not_entered(desk):
        return Fault(path, what, "enter the people of the files with 'standfast people'")
    return Fault(path, what, nearest(who, [known.id for known in desk.book.people()]))


def _trainers(desk: Desk, asked: AskedDay) -> dict[str, frozenset[str]]:
    """For each candidate, who had ever trained them by that day, as a decision counts it."""
    return {
        one.candidate: frozenset(
            tie.trainer for tie in person(desk, one.candidate).trained_by if tie.since <= asked.day
        )
        for one in asked.candidates
    }


def _tied(desk: Desk, asked: AskedDay) -> dict[str, frozenset[str]]:
    """For each candidate, who may score in spite of a conflict of interest, beside another."""
    if desk.school.conflict_of_interest != "shown":
        return {one.candidate: frozenset() for one in asked.candidates}
    scoring = [person(desk, one.assessor) for one in asked.assessors]
    return {
        one.candidate: frozenset(
            who.id for who in scoring if tied(who, person(desk, one.candidate), asked.day)
        )
        for one in asked.candidates
    }


def _apart(desk: Desk, asked: AskedDay) -> dict[tuple[str, str], str]:
    """For each (assessor, candidate) whom the record book keeps apart, why."""
    found = {}
    for one in asked.assessors:
        for other in asked.candidates:
            assessor, candidate = person(desk, one.assessor), person(desk, other.candidate)
            if why := _why_apart(assessor, candidate, asked.day, desk.school.conflict_of_interest):
                found[assessor.id, candidate.id] = why
    return found


def _why_apart(
    assessor: Person, candidate: Person, day: date, policy: ConflictPolicy
) -> str | None:
    """Why the one cannot judge the other freely, or None."""
    if policy == "refused" and tied(assessor, candidate, day):
        return "has a recorded conflict of interest with the candidate"
    if any(tie.trainer == candidate.id and tie.since <= day for tie in assessor.trained_by):
        return "was trained by the candidate"  # common practice, no source
    return None


def _planned(
    desk: Desk,
    asked: AskedDay,
    day: Day,
    plan: Plan,
    ties: tuple[Mapping[str, frozenset[str]], Mapping[str, frozenset[str]]],
) -> PlannedDay:
    """`ties` says of each candidate who trained them, and who is tied to them otherwise."""
    from standfast.engine.planning.lessons import all_linked, links, loads

    slots = sorted(asked.slots, key=lambda slot: (slot.begins, slot.slot))
    lessons = []
    trainers, allowed = ties
    for lesson in plan.lessons:
        slot = slots[lesson.slot]
        biased = trainers[lesson.candidate] | allowed[lesson.candidate]
        scoring = (*sorted(set(lesson.assessors) - biased), *sorted(biased & set(lesson.assessors)))
        lessons.append(PlannedLesson(slot.slot, slot.begins, slot.ends, lesson.candidate, scoring))
    return PlannedDay(
        asked,
        written(desk, asked.rubric).rubric.title,
        desk.school.zone,
        tuple(lessons),
        loads(plan.lessons, day.assessors),
        links(plan.lessons),
        all_linked(plan.lessons, day.assessors),
        plan,
        {who: name_of(desk, who) for who in (*day.assessors, *day.candidates)},
        allowed,
    )


def _no_plan(placed: Placed[AskedDay], day: Day, watch: Watch) -> Refused:
    from standfast.engine.planning.clash import smallest_clash
    from standfast.engine.planning.programme import Unsettled

    asked = placed.noun
    told = f"no plan for {asked.id} on {asked.day}"
    try:
        clash = smallest_clash(day, watch)
    except Unsettled:
        which = (
            "which of the wishes clash was not settled in time; allow more with"
            " 'standfast plan --seconds'"
        )
        return Refused(f"{told}: its wishes cannot all be met", [which])
    count = len(clash.wishes)
    these = "this wish cannot be met" if count == 1 else f"these {count} wishes cannot all be met"
    fewer = ", and no fewer clash" if count > 1 else ""
    return Refused(f"{told}: {these}{fewer}:", _sentences(placed, clash, _room(asked, clash)))


def _room(asked: AskedDay, clash: Clash) -> str | None:
    """How many lessons the day holds, where that alone is why not everybody can teach."""
    kinds = {wish.kind for wish in clash.wishes}
    if "seen" not in kinds or not kinds <= {"seen", "rooms"}:
        return None
    slots, scoring = len(asked.slots), len(asked.assessors)
    limits = [f"{slots} slot{'s' * (slots > 1)}"]
    at_once = scoring
    if "rooms" in kinds:
        at_once = asked.rooms
        limits.append(f"{asked.rooms} room{'s' * (asked.rooms > 1)}")
    else:
        limits.append(f"{scoring} assessor{'s' * (scoring > 1)}")
    fit, count = slots * at_once, len(asked.candidates)
    lessons = "one lesson fits" if fit == 1 else f"{fit} lessons fit"
    return f"with {' and '.join(limits)} at most {lessons}, and {count} are wanted"


def _sentences(placed: Placed[AskedDay], clash: Clash, room: str | None) -> Iterator[str]:
    """The wishes that clash, with their lines or fields, why when it is for room, what to do."""
    for wish, enough in zip(clash.wishes, clash.enough, strict=True):
        key = placed.document.keys.get(wish.path) or placed.document.places.get(wish.path)
        where = "by default" if key is None else f"line {key.line}" if key.line else key.file
        ending = ", which the record book says" if wish.stands else ""
        if enough and not wish.stands:
            ending = " (without this alone there is a plan)"
        yield f"{where}: {wish.says}{ending}"
    if room:
        yield room
        more = "rooms or slots" if len(clash.wishes) > 1 else "slots or assessors"
        yield f"add {more}, or leave some candidates for another day, and plan again"
        return
    open_to_change = [not wish.stands for wish in clash.wishes]
    if not any(open_to_change):
        yield "ask for other assessors or candidates, and plan again"
        return
    helps = any(e and o for e, o in zip(clash.enough, open_to_change, strict=True))
    others = "" if helps else "; other wishes clash too, and are told then"
    which = "it" if sum(open_to_change) == 1 else "one of them"
    yield f"change {which}, and plan again{others}"


COLUMNS = ("day", "slot", "begins", "ends", "candidate", "name", "first assessor", "first name",
           "second assessor", "second name")  # fmt: skip


def export(planned: PlannedDay, file: Path) -> None:
    """Writes the plan as a table, CSV or XLSX by the file's ending, safe to open anywhere.

    Raises:
        StandfastError: it cannot be written, or the ending is neither.
    """
    from standfast.files.export import write_table

    rows: list[list[object]] = []
    for lesson in planned.lessons:
        people = [lesson.candidate, *lesson.assessors, ""][:3]
        named = [text for who in people for text in (who, planned.names.get(who, ""))]
        rows.append([planned.asked.day, lesson.slot, lesson.begins, lesson.ends, *named])
    write_table(file, COLUMNS, rows)
