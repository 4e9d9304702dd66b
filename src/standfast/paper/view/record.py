"""What a competency record says."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date
from itertools import pairwise

from standfast.model.appeal import Answer, Appeal
from standfast.model.award import Award, Ruling, Standing
from standfast.model.decision import (
    OUTCOME_WORDS,
    STATE_WORDS,
    Decision,
    Disagreement,
)
from standfast.model.people import Person
from standfast.model.rubric import (
    Rubric,
)
from standfast.model.school import School
from standfast.model.sheet import Sheet
from standfast.paper.view.findings import CompetencyView, competencies
from standfast.paper.view.words import (
    INVENTED,
    cautions,
    day,
    in_words,
    listed,
    name_size,
)

NameOf = Callable[[str], str]


@dataclass(frozen=True)
class Part:
    """What the record says about one rubric: a decision and every sheet that it looked at."""

    rubric: Rubric
    decision: Decision
    kept: bool
    """Whether the decision stands in the record book; else it was made for this paper."""
    sheets: tuple[Sheet, ...]
    """Those that it looked at, and those that came in later."""
    ahead: Decision | None = None
    """The one that says what is open: this one, or what the rule says of all that is known on the
    day of the paper; None when nothing is."""
    later: int = 0
    """How many of the sheets came in later."""


@dataclass(frozen=True)
class Held:
    """An award and how it stands."""

    award: Award
    standing: Standing
    without: tuple[str, ...] = ()
    """Titles of the skills that were taken from its scope."""
    reduced_on: date | None = None
    rulings: tuple[Ruling, ...] = ()
    earlier: tuple[Award, ...] = ()
    """Those that it goes on from, the newest first."""


@dataclass(frozen=True)
class Elsewhere:
    """A record that another school handed over."""

    school: str
    agreed: date
    """The day on which the person agreed."""
    taken: date
    """The day on which it was taken in."""
    head: date
    """Of the other school's book, signed on that day, over so many entries."""
    size: int
    fingerprint: str
    """Of the key that signed the head."""
    holds: bool
    """Whether each entry still leads to that head."""
    whole: int
    shortened: int
    """Entries from which a tie to somebody else was left out."""
    rows: tuple[tuple[date, str, str], ...]
    """What stood in that book: the day, what, and who judged."""
    parts: tuple[Part, ...] = ()
    """The last decision there under each rubric, with its sheets."""
    trainers: frozenset[str] = frozenset()
    """Who trained her there."""


@dataclass(frozen=True)
class SessionLine:
    """One score sheet."""

    on: str
    practical: str
    site: str
    assessor: str
    tie: str
    seen: str
    counted: str
    notes: tuple[str, ...]


@dataclass(frozen=True)
class PartView:
    """One rubric's part of the record."""

    rubric: str
    """Its id."""
    top_up: bool
    title: str
    text: str
    outcome: str
    kept: str
    since: str
    """What came in after the decision, and what the rule says of it."""
    steps: tuple[str, ...]
    near: tuple[str, ...]
    open: str
    """The outcome that the next steps follow from, and its day."""
    next_steps: tuple[str, ...]
    disagreements: tuple[str, ...]
    competencies: tuple[CompetencyView, ...]
    sessions: tuple[SessionLine, ...]


@dataclass(frozen=True)
class AwardLine:
    """One award."""

    scope: str
    number: str
    dates: str
    state: str
    because: str
    certifier: str
    earlier: tuple[AwardLine, ...] = ()
    """Those that it goes on from, the newest first."""


@dataclass(frozen=True)
class Row:
    """A row of a small table."""

    cells: tuple[str, ...]


@dataclass(frozen=True)
class ElsewhereView:
    """A record from another school."""

    title: str
    says: tuple[str, ...]
    rows: tuple[Row, ...]
    parts: tuple[PartView, ...]


@dataclass(frozen=True)
class RecordView:
    """A competency record, in words."""

    title: str
    language: str
    paper: str
    school: str
    address: str
    name: str
    name_size: str
    running: str
    """At the foot of every page; a long name is cut there."""
    made_on: str
    awards: tuple[AwardLine, ...]
    next_dates: tuple[Row, ...]
    documents: tuple[Row, ...]
    training: tuple[Row, ...]
    decisions: tuple[Row, ...]
    appeals: tuple[str, ...]
    parts: tuple[PartView, ...]
    elsewhere: tuple[ElsewhereView, ...]
    caution: tuple[str, ...]
    invented: str


@dataclass(frozen=True)
class RecordFacts:
    """Everything a record is made from."""

    person: Person
    school: School
    on: date
    parts: tuple[Part, ...]
    held: tuple[Held, ...]
    decisions: tuple[tuple[str, Decision], ...]
    """Every decision in the book, with the rubric's title, oldest first."""
    name_of: NameOf
    appeals: tuple[tuple[Appeal, Answer | None], ...] = ()
    """Of the person, with their answers."""
    elsewhere: tuple[Elsewhere, ...] = ()
    """What other schools handed over."""


def record_view(facts: RecordFacts) -> RecordView:
    """What the competency record of a person says."""
    person, school = facts.person, facts.school
    return RecordView(
        title=f"Competency record: {person.name}",
        language=school.language,
        paper=school.paper,
        school=school.name,
        address=school.address or "",
        name=person.name,
        name_size=name_size(person.name),
        running=f"Competency record: {_cut(person.name)}, {day(facts.on)}",
        made_on=day(facts.on),
        awards=tuple(_award(held, facts.name_of) for held in facts.held),
        next_dates=tuple(_next_dates(facts)),
        documents=tuple(_documents(person, facts.on)),
        training=tuple(
            Row(
                (
                    facts.name_of(tie.trainer),
                    day(tie.since),
                    day(tie.until) if tie.until else "goes on",
                )
            )
            for tie in person.trained_by
        ),
        decisions=tuple(
            Row((day(made.on), title, OUTCOME_WORDS[made.outcome], f"{len(made.sheets)}"))
            for title, made in facts.decisions
        ),
        appeals=tuple(_appeal(appeal, answer) for appeal, answer in facts.appeals),
        parts=tuple(_part(part, person.trainers(), facts.name_of) for part in facts.parts),
        elsewhere=tuple(_elsewhere(one, facts.name_of) for one in facts.elsewhere),
        caution=cautions(school),
        invented=INVENTED if school.invented else "",
    )


LONGEST_AT_THE_FOOT = 44


def _cut(name: str) -> str:
    return name if len(name) <= LONGEST_AT_THE_FOOT else name[: LONGEST_AT_THE_FOOT - 1] + "…"


def _award(held: Held, name_of: NameOf) -> AwardLine:
    award = held.award
    chain = (award, *held.earlier)
    return AwardLine(
        scope=award.scope.title,
        number=award.number,
        dates=f"{day(award.dates.first_day)} to {day(held.standing.ends)}",
        state=held.standing.state,
        because=in_words(held.standing.because) + _reduced(held) + _tied(held),
        certifier=_certifier(award, name_of),
        earlier=tuple(
            AwardLine(
                scope=before.scope.title,
                number=before.number,
                dates=f"{day(before.dates.first_day)} to {day(before.dates.last_day)}",
                state="renewed",
                because=f"by {after.number} on {day(after.granted)}",
                certifier=_certifier(before, name_of),
            )
            for after, before in pairwise(chain)
        ),
    )


def _certifier(award: Award, name_of: NameOf) -> str:
    took_part = f", who {award.certifier_took_part}" if award.certifier_took_part else ""
    if award.certifier_tied:
        took_part += ", who had a conflict of interest, which the school's rules allow"
    return f"{name_of(award.certifier)}{took_part}"


def _reduced(held: Held) -> str:
    """Without a reason: why is not for the paper."""
    if held.reduced_on is None:
        return ""
    return f"; scope reduced on {day(held.reduced_on)}, without {listed(held.without)}"


def _tied(held: Held) -> str:
    """That who ruled had a conflict of interest, or took part; which tie is not said."""
    days = [f"{ruling.kind} on {day(ruling.on)}" for ruling in held.rulings if ruling.tied]
    told = (
        f"; {listed(days)} by somebody with a conflict of interest, which the rules allow"
        if days
        else ""
    )
    return told + "".join(
        f"; {ruling.kind} on {day(ruling.on)} by somebody who {ruling.took_part}"
        for ruling in held.rulings
        if ruling.took_part
    )


def _appeal(appeal: Appeal, answer: Answer | None) -> str:
    """Without a reason: why is not for the paper."""
    answered = f"answered on {day(answer.on)}: {answer.outcome}" if answer else "not answered yet"
    return f"{appeal.kind.capitalize()} received on {day(appeal.received)}, {answered}."


NO_AWARD_HERE = (
    "Evidence from elsewhere. It is no award and no permission here; what of it this school"
    " recognises is for this school to decide, by its own rule."
)


def _elsewhere(one: Elsewhere, name_of: NameOf) -> ElsewhereView:
    leads = "each leads" if one.holds else "NOT all of them lead"
    origin = (
        f"Handed over with the agreement of {day(one.agreed)}, taken in on {day(one.taken)}:"
        f" {one.whole + one.shortened} entries; {leads} to the head of that school's record book"
        f" over {one.size} entries, signed on {day(one.head)} with the key {one.fingerprint}."
    )
    if one.shortened:
        origin += (
            f" From {one.shortened} of them ties to others were left out; what they say rests on"
            " that school's word alone."
        )
    origin += " Whether it counts there today, that school can say."
    rows = tuple(Row((day(when), what, who)) for when, what, who in one.rows)
    title = f"From elsewhere: {one.school}"
    parts = [_part(part, one.trainers, name_of) for part in one.parts]
    kept = "as entered in that school's record book; no decision of this one"
    theirs = (replace(part, title=f"{title}. {part.title}", kept=kept) for part in parts)
    return ElsewhereView(title, (NO_AWARD_HERE, origin), rows, tuple(theirs))


def _next_dates(facts: RecordFacts) -> Iterator[Row]:
    rows: list[tuple[date, str, str]] = []
    for held in facts.held:
        dates, what = held.award.dates, f"{held.award.scope.title} ({held.award.number})"
        if held.standing.state in {"suspended", "withdrawn"}:
            continue
        if held.standing.state == "lapsed":
            if dates.full_practical_after and dates.full_practical_after >= facts.on:
                suffices = "top-up" if held.standing.next_step.startswith("top-up") else "refresher"
                rows.append((dates.full_practical_after, f"last day for a {suffices}", what))
            continue
        if dates.refresher_due and dates.refresher_due >= facts.on:
            rows.append((dates.refresher_due, "refresher due", what))
        rows.append(
            (held.standing.ends, f"award ends ({held.standing.ends_by.replace('-', ' ')})", what)
        )
    for when, says, what in sorted(rows):
        if when >= facts.on:
            yield Row((day(when), says, what))


def _documents(person: Person, on: date) -> Iterator[Row]:
    for found in sorted(person.documents, key=lambda d: (d.document, d.issued)):
        state = "runs" if found.issued <= on <= found.last_day else "ended"
        yield Row(
            (
                found.document.replace("-", " "),
                found.reference or "",
                day(found.issued),
                day(found.last_day),
                "not yet begun" if found.issued > on else state,
            )
        )


def _part(part: Part, trainers: frozenset[str], name_of: NameOf) -> PartView:
    decision, rubric = part.decision, part.rubric
    known = {sheet.id: f"{day(sheet.on)}, {name_of(sheet.assessor)}" for sheet in part.sheets}
    return PartView(
        rubric=rubric.id,
        top_up=decision.is_top_up,
        title=rubric.title + (", top-up" if part.decision.is_top_up else ""),
        text=f"version {rubric.version}, text {decision.rubric.hash[:12]}",
        outcome=_outcome(decision),
        kept="as entered in the record book"
        if part.kept
        else "worked out for this paper; not entered in the record book",
        since=_since(part),
        steps=tuple(
            f"{in_words(reason.says)} ({STATE_WORDS[reason.state]})"
            for reason in decision.reasons
            if reason.step in {"incident", "sufficiency", "overall"}
        ),
        near=tuple(map(in_words, decision.near)),
        open=_outcome(part.ahead) if part.ahead else "",
        next_steps=tuple(map(in_words, part.ahead.next_steps)) if part.ahead else (),
        disagreements=tuple(_disagreement(found, known) for found in decision.disagreements),
        competencies=tuple(competencies(rubric, decision)),
        sessions=tuple(_session(sheet, part, trainers, name_of) for sheet in part.sheets),
    )


def _outcome(decision: Decision) -> str:
    return f"{OUTCOME_WORDS[decision.outcome]} on {day(decision.on)}"


def _since(part: Part) -> str:
    if not part.later or part.ahead is None:
        return ""
    sheets = "1 score sheet" if part.later == 1 else f"{part.later} score sheets"
    return (
        f"Since then {sheets} came in; of all that is known the rule says:"
        f" {_outcome(part.ahead)}, not entered in the record book"
    )


def _disagreement(found: Disagreement, known: Mapping[str, str]) -> str:
    marks = "; ".join(f"{m.mark} ({known.get(m.sheet, m.sheet)})" for m in found.marks)
    about = f"{found.practical}, {found.criterion}, {found.about}"
    return f"{about}: {marks}; counted as {found.joined}"


def _session(sheet: Sheet, part: Part, trainers: frozenset[str], name_of: NameOf) -> SessionLine:
    left = {out.sheet: out.because for out in part.decision.left_out}
    counted = "counted" if sheet.id in part.decision.sheets else "came in later, not looked at"
    ties = ["trained the candidate"] if sheet.assessor in trainers else []
    if sheet.id in part.decision.tied:
        ties.append("had a conflict of interest, which the school's rules allow")
    seen = [
        f"{len(sheet.attempts)} tries",
        f"{len(sheet.clearances)} let go or held back",
        f"{len(sheet.samples)} looks",
        f"{len(sheet.ratings)} ratings",
        f"{len(sheet.incidents)} incidents",
    ]
    return SessionLine(
        on=day(sheet.on),
        practical=sheet.practical,
        site=sheet.site or "",
        assessor=name_of(sheet.assessor),
        tie=listed(ties),
        seen=f"{sheet.minutes} minutes, {len(sheet.students)} students: {listed(seen)}",
        counted=f"left out: {in_words(left[sheet.id])}" if sheet.id in left else counted,
        notes=tuple(note.text for note in sheet.notes),
    )
