"""An assessor's sheet of a reference practical beside the marks that a panel agreed on.

A mark is agreed when all of the panel who marked it gave it, or more than half of three or more.
Where the panel itself is split nobody can be right or wrong, and the mark is left out.

Each criterion with an agreed mark is one trial, so that fifty answers about tries do not drown one
level.  It is marked as agreed when the share of its marks that are alike is at least
`ALIKE_ENOUGH`, and of the marks that tell most, lapses and wrong choices, at least half were seen:
who marks everything yes is alike nearly always, and sees nothing.

The result is Wald's sequential test over the trials since the last result that was settled, looked
at after each practical; but what nobody may miss puts an assessor out of step at once.  The rates
are ours, no source.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import TypeVar

from standfast.engine.joining import counted_look, judged, level_of, pairs
from standfast.engine.sequential import Sequential, Verdict
from standfast.model.approval import ReferenceScore, Result
from standfast.model.evidence import LOOKS_ALIKE
from standfast.model.rubric import (
    AttemptsCriterion,
    ClearancesCriterion,
    Criterion,
    IncidentCriterion,
    RatingCriterion,
    Rubric,
    SamplesCriterion,
)
from standfast.model.sheet import Sheet
from standfast.model.syllabus import Syllabus

LEAST_PANEL = 2
"""Sheets of others that make a panel: common practice, no source."""
ALIKE_ENOUGH = Fraction(8, 10)
"""The share of marks alike that counts as in step.  Common practice, no source."""
SEEN_ENOUGH = Fraction(1, 2)
RULE = Sequential(Fraction(1, 10), Fraction(3, 10), Fraction(1, 20), Fraction(1, 20))
"""One criterion in ten marked otherwise is acceptable, three in ten are not; wrong once in 20."""

WORDS: Mapping[Verdict, Result] = {
    "accept": "in step",
    "reject": "not in step",
    "go on": "not settled",
}

MarkT = TypeVar("MarkT")

NOT_MARKED = "not marked"


@dataclass(frozen=True)
class Miss:
    """One mark that is otherwise than agreed."""

    about: str
    agreed: str
    marked: str
    grave: bool = False
    """What nobody may miss: a student let go too early, an incident that stops or is critical."""


@dataclass(frozen=True)
class OfCriterion:
    """One criterion of the assessor's sheet beside the agreed marks."""

    criterion: str
    agreed: int
    """Marks that the panel agreed on, and that the assessor could have marked."""
    alike: int
    telling: int
    """Of the agreed ones lapses and wrong choices."""
    telling_seen: int
    split: int
    """Marks on which the panel itself did not agree."""
    unseen: int
    """Agreed marks that the assessor could not see from where she stood: not counted."""
    misses: tuple[Miss, ...]

    @property
    def as_agreed(self) -> bool:
        """Whether the criterion counts as marked as agreed."""
        enough = Fraction(self.alike, self.agreed) >= ALIKE_ENOUGH
        seen = not self.telling or Fraction(self.telling_seen, self.telling) >= SEEN_ENOUGH
        return enough and seen


@dataclass(frozen=True)
class Carried:
    """Trials and misses of earlier reference practicals, since the last result was settled."""

    trials: int = 0
    misses: int = 0


@dataclass(frozen=True)
class Found:
    """What the sheet comes to."""

    criteria: tuple[OfCriterion, ...]
    """Those with an agreed mark, in the order of the rubric."""
    split: int
    carried: Carried

    @property
    def result(self) -> Result:
        """By what nobody may miss, then by the sequential test."""
        if self.grave:
            return "not in step"
        before = self.carried
        verdict = RULE.verdict(self.misses + before.misses, self.trials + before.trials)
        return WORDS[verdict]

    @property
    def trials(self) -> int:
        """Criteria on which the panel agreed."""
        return len(self.criteria)

    @property
    def misses(self) -> int:
        """Criteria that were marked otherwise."""
        return sum(not one.as_agreed for one in self.criteria)

    @property
    def grave(self) -> tuple[str, ...]:
        """What nobody may miss, and was."""
        return tuple(
            f"{one.criterion}, {miss.about}: {miss.marked}, agreed: {miss.agreed}"
            for one in self.criteria
            for miss in one.misses
            if miss.grave
        )

    @property
    def marks(self) -> tuple[int, int]:
        """How many of the agreed marks are alike, and how many there are."""
        return sum(o.alike for o in self.criteria), sum(o.agreed for o in self.criteria)

    @property
    def lower_and_higher(self) -> tuple[int, int]:
        """Levels given lower than agreed, and higher."""
        levels = [m for o in self.criteria for m in o.misses if m.agreed.startswith(_LEVEL)]
        lower = sum(_number(m.marked) < _number(m.agreed) for m in levels)
        return lower, len(levels) - lower

    @property
    def more_to_settle(self) -> int:
        """How many more criteria as agreed would make it in step; 0 when it is settled."""
        if self.result != "not settled":
            return 0
        carried = self.carried
        return RULE.more_to_accept(self.misses + carried.misses, self.trials + carried.trials)


def carried(earlier: Iterable[ReferenceScore], assessor: str, rubric: str) -> Carried:
    """What counts on from reference practicals in the order of the journal."""
    sums = Carried()
    for one in earlier:
        if (one.assessor, one.rubric) != (assessor, rubric):
            continue
        if one.result != "not settled":
            sums = Carried()
        elif one.calibration:
            more = one.calibration
            sums = Carried(sums.trials + more.trials, sums.misses + more.misses)
    return sums


def calibrate(
    rubric: Rubric,
    syllabus: Syllabus,
    panel: Sequence[Sheet],
    sheet: Sheet,
    before: Carried = Carried(),
) -> Found:
    """The assessor's sheet beside the agreed marks of the panel, in whatever order it comes."""
    panel = sorted(panel, key=lambda one: one.id)
    every = [_of_criterion(criterion, syllabus, panel, sheet) for criterion in rubric.criteria()]
    criteria = tuple(one for one in every if one.agreed)
    split = sum(one.split for one in every)
    return Found(criteria, split, before)


def _of_criterion(
    criterion: Criterion, syllabus: Syllabus, panel: Sequence[Sheet], sheet: Sheet
) -> OfCriterion:
    if isinstance(criterion, AttemptsCriterion):
        marks = _answers(criterion.id, panel, sheet)
    elif isinstance(criterion, ClearancesCriterion):
        marks = _choices(syllabus, panel, sheet)
    elif isinstance(criterion, SamplesCriterion):
        marks = _looks(panel, sheet)
    elif isinstance(criterion, RatingCriterion):
        marks = _levels(criterion.id, panel, sheet)
    else:
        marks = _incidents(criterion, panel, sheet)
    return _counted(criterion.id, marks)


@dataclass(frozen=True)
class _Mark:
    """One thing that could be marked: what was agreed, and what was marked."""

    about: str
    agreed: str | None
    """None where the panel was split."""
    marked: str | None
    """None where the assessor could not see it."""
    alike: bool = False
    telling: bool = False
    grave: bool = False


def _counted(criterion: str, marks: Iterable[_Mark]) -> OfCriterion:
    every = list(marks)
    known = [one for one in every if one.agreed is not None]
    seen = [one for one in known if one.marked is not None]
    telling = [one for one in seen if one.telling]
    return OfCriterion(
        criterion,
        agreed=len(seen),
        alike=sum(one.alike for one in seen),
        telling=len(telling),
        telling_seen=sum(one.alike for one in telling),
        split=len(every) - len(known),
        unseen=len(known) - len(seen),
        misses=tuple(
            Miss(one.about, one.agreed or "", one.marked or "", one.grave)
            for one in seen
            if not one.alike
        ),
    )


def _agreed(marks: Sequence[MarkT]) -> MarkT | None:
    """What all gave, or more than half of three or more; None when they are split."""
    (mark, often), *others = Counter(marks).most_common()
    return mark if not others or 2 * often > len(marks) else None


def _answers(criterion: str, panel: Sequence[Sheet], sheet: Sheet) -> Iterator[_Mark]:
    for key, records in pairs([*panel, sheet], lambda one: one.attempts).items():
        answers = {whose: r.answers.get(criterion) for whose, r in records.items()}
        own = answers.pop(sheet.id, NOT_MARKED)
        given = [one for one in answers.values() if one in {"yes", "no"}]
        if not given or (sheet.id in records and own is None):
            continue  # the panel saw nothing, or the question was not asked of her
        agreed = _agreed(given)
        marked = None if own == "unseen" else own
        about = f"try {key[2]} of {key[0]} at {key[1]}"
        yield _Mark(about, agreed, marked, agreed == marked, telling=agreed == "no")


def _choices(syllabus: Syllabus, panel: Sequence[Sheet], sheet: Sheet) -> Iterator[_Mark]:
    by_id = {one.id: one for one in panel}
    for key, records in pairs([*panel, sheet], lambda one: one.clearances).items():
        theirs = {whose: record for whose, record in records.items() if whose in by_id}
        own = records.get(sheet.id)
        if not theirs:
            continue
        agreed = _agreed([record.choice for record in theirs.values()])
        verdicts = [judged(by_id[whose], record, syllabus) for whose, record in theirs.items()]
        worst = _agreed(verdicts)
        marked = own.choice if own else NOT_MARKED
        alike = agreed == marked
        about = f"choice {key[2]} for {key[0]} at {key[1]}"
        wrong = worst in {"false clear", "false hold"}
        grave = not alike and worst == "false clear"
        yield _Mark(about, agreed, marked, alike, telling=wrong, grave=grave)


def _looks(panel: Sequence[Sheet], sheet: Sheet) -> Iterator[_Mark]:
    own = {sample.look: counted_look(sample) for sample in sheet.samples}
    numbers = {sample.look for one in panel for sample in one.samples}
    for number in sorted(numbers):
        theirs = [
            look
            for one in panel
            for sample in one.samples
            if sample.look == number and (look := counted_look(sample)) and look[1]
        ]
        if not theirs:
            continue
        shares = sorted(Fraction(*look) for look in theirs)
        middle = (shares[(len(shares) - 1) // 2] + shares[len(shares) // 2]) / 2
        agreed = f"{_percent(middle)} idle" if shares[-1] - shares[0] <= LOOKS_ALIKE else None
        look = own.get(number)
        marked = f"{look[0]} of {look[1]} idle" if look and look[1] else None
        alike = bool(look and look[1] and abs(Fraction(*look) - middle) <= LOOKS_ALIKE)
        yield _Mark(f"look {number}", agreed, marked, alike)


def _percent(share: Fraction) -> str:
    return f"{round(share * 100)} %"


_LEVEL = "level "


def _levels(criterion: str, panel: Sequence[Sheet], sheet: Sheet) -> Iterator[_Mark]:
    given = [level for one in panel if (level := level_of(one, criterion)) is not None]
    if not given:
        return
    agreed, own = _agreed(given), level_of(sheet, criterion)
    marked = None if own is None else f"{_LEVEL}{own}"
    yield _Mark(
        "the level",
        None if agreed is None else f"{_LEVEL}{agreed}",
        marked,
        alike=agreed == own,
    )


def _number(words: str) -> int:
    return int(words.removeprefix(_LEVEL))


def _incidents(
    criterion: IncidentCriterion, panel: Sequence[Sheet], sheet: Sheet
) -> Iterator[_Mark]:
    """Whether it happened at all: how often is counted by whoever stood nearer.

    What nobody recorded is no mark: of things that hardly ever happen all would be alike.
    """

    def happened(one: Sheet) -> bool:
        return any(incident.criterion == criterion.id for incident in one.incidents)

    agreed, own = _agreed([happened(one) for one in panel]), happened(sheet)
    if not own and not any(happened(one) for one in panel):
        return
    stops = criterion.critical or criterion.standard.effect == "stops"
    words: Mapping[bool, str] = {True: "recorded", False: "not recorded"}
    yield _Mark(
        "whether it happened",
        None if agreed is None else words[agreed],
        words[own],
        alike=agreed == own,
        telling=bool(agreed),
        grave=bool(agreed) and not own and stops,
    )
