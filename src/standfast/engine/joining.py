"""Several assessors' sheets of one practical become one record, by the school's policy.

Marks are paired, not times: two people never press at the same second.  The n-th attempt of a
student at a skill on one sheet is the n-th on the other, and so for choices; looks pair by their
number.  Whatever two assessors marked differently is listed.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Protocol, TypeVar

from standfast.engine.clearing import Verdict, verdict
from standfast.engine.policies import joined_answer, joined_look, joined_mark, joined_verdict
from standfast.engine.tallies import (
    Answers,
    Choices,
    Incidents,
    Looks,
    Marks,
    Tally,
)
from standfast.model.decision import Disagreement, Mark
from standfast.model.evidence import Answer, Attempt, Clearance, Sample
from standfast.model.rubric import (
    AttemptsCriterion,
    ClearancesCriterion,
    Criterion,
    Joining,
    RatingCriterion,
    Rubric,
    SamplesCriterion,
)
from standfast.model.sheet import Sheet
from standfast.model.syllabus import Syllabus

Practicals = Sequence[Sequence[Sheet]]
"""The sheets of each practical, practicals in order."""

NOT_RECORDED = "not recorded"
NOT_ASKED = "not asked: marked as completed"
ONE_SHEET = " (only on one sheet)"


@dataclass(frozen=True)
class Joined:
    """One criterion's tally, and what the assessors did not agree on."""

    tally: Tally
    disagreements: tuple[Disagreement, ...]


class _Timed(Protocol):
    @property
    def at(self) -> int: ...
    @property
    def student(self) -> str: ...
    @property
    def skill(self) -> str: ...


TimedT = TypeVar("TimedT", bound=_Timed)
_Key = tuple[str, str, int]


def joined(rubric: Rubric, syllabus: Syllabus, practicals: Practicals) -> dict[str, Joined]:
    """For every criterion of the rubric what the practicals show, joined by its policy."""
    paired = [
        _Paired(
            sheets,
            pairs(sheets, lambda sheet: sheet.attempts),
            pairs(sheets, lambda sheet: sheet.clearances),
        )
        for sheets in practicals
    ]
    return {
        criterion.id: _joined(criterion, rubric, syllabus, paired)
        for criterion in rubric.criteria()
    }


@dataclass(frozen=True)
class _Paired:
    sheets: Sequence[Sheet]
    attempts: Mapping[_Key, Mapping[str, Attempt]]
    clearances: Mapping[_Key, Mapping[str, Clearance]]


def pairs(
    sheets: Sequence[Sheet], records: Callable[[Sheet], Iterable[TimedT]]
) -> dict[_Key, dict[str, TimedT]]:
    """For each n-th record of a student at a skill: what each sheet that has it says."""
    found: dict[_Key, dict[str, TimedT]] = {}
    for sheet in sheets:
        nth: Counter[tuple[str, str]] = Counter()
        for record in sorted(records(sheet), key=lambda record: record.at):
            pair = (record.student, record.skill)
            nth[pair] += 1
            found.setdefault((*pair, nth[pair]), {})[sheet.id] = record
    return dict(
        sorted(found.items(), key=lambda item: (min(r.at for r in item[1].values()), item[0]))
    )


def _joined(
    criterion: Criterion, rubric: Rubric, syllabus: Syllabus, paired: Sequence[_Paired]
) -> Joined:
    policy = rubric.joining.critical if criterion.critical else rubric.joining.other
    if isinstance(criterion, AttemptsCriterion):
        return _answers(criterion, policy, paired)
    if isinstance(criterion, ClearancesCriterion):
        return _choices(criterion, policy, syllabus, paired)
    if isinstance(criterion, SamplesCriterion):
        return _looks(criterion, policy, paired)
    if isinstance(criterion, RatingCriterion):
        return _marks(criterion, policy, paired)
    return _incidents(criterion, paired)


def _disagreement(
    practical: _Paired, criterion: Criterion, about: str, marks: Mapping[str, str], outcome: str
) -> Disagreement:
    return Disagreement(
        practical=practical.sheets[0].practical,
        criterion=criterion.id,
        about=about,
        marks=tuple(Mark(sheet=sheet, mark=mark) for sheet, mark in sorted(marks.items())),
        joined=outcome,
    )


def _sorted_ids(ids: Iterable[str]) -> tuple[str, ...]:
    return tuple(sorted(set(ids)))


# Attempts


def _answers(criterion: AttemptsCriterion, policy: Joining, paired: Sequence[_Paired]) -> Joined:
    counts: Counter[Answer] = Counter()
    sheets: list[str] = []
    found: list[Disagreement] = []
    for practical in paired:
        for key, records in practical.attempts.items():
            marks = {
                sheet: record.answers[criterion.id]
                for sheet, record in records.items()
                if criterion.id in record.answers
            }
            if not marks:
                continue
            outcome = joined_answer(list(marks.values()), policy)
            counts[outcome] += 1
            sheets += [sheet for sheet, mark in marks.items() if mark != "unseen"]
            about = f"try {key[2]} of {key[0]} at {key[1]}"
            found += _differing_answers(practical, criterion, about, records, marks, outcome)
    tally = Answers(counts["yes"], counts["no"], counts["unseen"], _sorted_ids(sheets))
    return Joined(tally, tuple(found))


def _differing_answers(
    practical: _Paired,
    criterion: Criterion,
    about: str,
    records: Mapping[str, Attempt],
    marks: Mapping[str, Answer],
    outcome: Answer,
) -> list[Disagreement]:
    """Yes against no, and what not every sheet has; could not be seen against either is none."""
    if len(practical.sheets) == 1 or set(marks.values()) == {"unseen"}:
        return []
    every: dict[str, str] = {}
    for sheet in practical.sheets:
        absent = NOT_ASKED if sheet.id in records else NOT_RECORDED
        every[sheet.id] = marks.get(sheet.id, absent)
    if not {"yes", "no"} <= set(marks.values()) and len(marks) == len(every):
        return []
    lonely = len(records) == 1
    return [
        _disagreement(practical, criterion, about + (ONE_SHEET if lonely else ""), every, outcome)
    ]


# Choices to let go or hold back


def _choices(
    criterion: ClearancesCriterion,
    policy: Joining,
    syllabus: Syllabus,
    paired: Sequence[_Paired],
) -> Joined:
    counts: Counter[Verdict] = Counter()
    sheets: list[str] = []
    found: list[Disagreement] = []
    for practical in paired:
        by_id = {sheet.id: sheet for sheet in practical.sheets}
        for key, records in practical.clearances.items():
            marks = {sheet: judged(by_id[sheet], r, syllabus) for sheet, r in records.items()}
            outcome = joined_verdict(list(marks.values()), policy)
            counts[outcome] += 1
            sheets += marks
            every: dict[str, str] = {sheet: marks.get(sheet, NOT_RECORDED) for sheet in by_id}
            if len(set(every.values())) > 1:
                lonely = ONE_SHEET if len(marks) == 1 else ""
                about = f"choice {key[2]} for {key[0]} at {key[1]}{lonely}"
                found.append(_disagreement(practical, criterion, about, every, outcome))
    right = counts["true clear"] + counts["true hold"]
    tally = Choices(right, counts["false clear"], counts["false hold"], _sorted_ids(sheets))
    return Joined(tally, tuple(found))


def judged(sheet: Sheet, record: Clearance, syllabus: Syllabus) -> Verdict:
    """The verdict by this sheet's own log; a student unknown to the sheet has done nothing."""
    student = sheet.student(record.student)
    if student is None:
        return "false clear" if record.choice == "let-go" else "true hold"
    return verdict(record, student, syllabus)


# Looks at the waiting students


def _looks(criterion: SamplesCriterion, policy: Joining, paired: Sequence[_Paired]) -> Joined:
    practicals: list[tuple[tuple[int, int], ...]] = []
    missed = 0
    sheets: list[str] = []
    found: list[Disagreement] = []
    for practical in paired:
        looks: list[tuple[int, int]] = []
        for number, records in _by_look(practical.sheets).items():
            seen = {sheet: counted_look(record) for sheet, record in records.items()}
            marks = {sheet: mark for sheet, mark in seen.items() if mark is not None}
            missed += not marks
            waited = [mark for mark in marks.values() if mark[1]]
            if not waited:
                continue
            outcome = joined_look(waited, policy)
            looks.append(outcome)
            sheets += marks
            if len({_idle_share(mark) for mark in marks.values()}) > 1:
                words = {sheet: _idle_words(mark) for sheet, mark in marks.items()}
                about = f"look {number}"
                found.append(
                    _disagreement(practical, criterion, about, words, _idle_words(outcome))
                )
        if looks:
            practicals.append(tuple(looks))
    return Joined(Looks(tuple(practicals), missed, _sorted_ids(sheets)), tuple(found))


def _by_look(sheets: Sequence[Sheet]) -> dict[int, dict[str, Sample]]:
    found: dict[int, dict[str, Sample]] = {}
    for sheet in sheets:
        for sample in sheet.samples:
            found.setdefault(sample.look, {}).setdefault(sheet.id, sample)
    return dict(sorted(found.items()))


def counted_look(sample: Sample) -> tuple[int, int] | None:
    """How many of how many were idle; None for a look that was missed."""
    if sample.waiting is None or sample.idle is None:
        return None
    return min(sample.idle, sample.waiting), sample.waiting


def _idle_share(mark: tuple[int, int]) -> Fraction | None:
    return Fraction(*mark) if mark[1] else None


def _idle_words(mark: tuple[int, int]) -> str:
    return f"{mark[0]} of {mark[1]} idle" if mark[1] else "nobody waiting"


# Ratings


def _marks(criterion: RatingCriterion, policy: Joining, paired: Sequence[_Paired]) -> Joined:
    practicals: list[tuple[int, ...]] = []
    sheets: list[str] = []
    found: list[Disagreement] = []
    for practical in paired:
        levels = {sheet.id: level_of(sheet, criterion.id) for sheet in practical.sheets}
        marks = {sheet: level for sheet, level in levels.items() if level is not None}
        if not marks:
            continue
        singles = tuple(sorted(marks.values()))
        practicals.append(singles)
        sheets += marks
        if len(set(singles)) > 1:
            words = {sheet: f"level {mark}" for sheet, mark in marks.items()}
            outcome = f"level {joined_mark(singles, policy)}"
            found.append(_disagreement(practical, criterion, "the level", words, outcome))
    unseen = sum(len(practical.sheets) for practical in paired) - len(sheets)
    return Joined(Marks(tuple(practicals), policy, unseen, _sorted_ids(sheets)), tuple(found))


def level_of(sheet: Sheet, criterion: str) -> int | None:
    """The level that the sheet gives; of two the lower, None when it gives none."""
    levels = [r.level for r in sheet.ratings if r.criterion == criterion and r.level is not None]
    return min(levels, default=None)


# Incidents


def _incidents(criterion: Criterion, paired: Sequence[_Paired]) -> Joined:
    """The larger count of a practical's sheets, whatever the policy: the safe side."""
    happened = 0
    found: list[Disagreement] = []
    for practical in paired:
        counts = {
            sheet.id: sum(incident.criterion == criterion.id for incident in sheet.incidents)
            for sheet in practical.sheets
        }
        most = max(counts.values())
        happened += most
        if len(set(counts.values())) > 1:
            words = {sheet: f"{number} recorded" for sheet, number in counts.items()}
            about = "how often it happened"
            outcome = f"{most}, the larger count"
            found.append(_disagreement(practical, criterion, about, words, outcome))
    sheets = _sorted_ids(sheet.id for practical in paired for sheet in practical.sheets)
    return Joined(Incidents(happened, len(paired), sheets), tuple(found))
