"""How severe each assessor is, from everybody's marks by way of the links, and what is fair then.

The many-facet Rasch model of `agreement/rasch`, put into words: severity in points of a level,
how regularly each marks, whom nothing links to whom, and what each lesson would have been given by
an assessor of average severity.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from standfast.desk.figures import MOST_LEVELS
from standfast.desk.marks import Marks
from standfast.problems import Refused

if TYPE_CHECKING:
    from standfast.agreement.ratings import Ratings
    from standfast.agreement.severity import Fair, Measured

LEAST_LESSONS = 10
"""In a linked part; from fewer nobody's severity is told.  Common practice, no source."""

LEAST_SCORES = 30
"""Of an assessor; from fewer nothing is said of how regular they are.  Common practice, no
source."""

HALF = 0.5
"""Of a level: no smaller shift changes one, see `engine/otherwise.py`."""

RELIABLE = 0.8
"""The reliability from which assessors can be put in an order.  Common practice, no source."""


@dataclass(frozen=True)
class OfAssessor:
    """One assessor beside one of average severity."""

    assessor: str
    severity: float
    """In logits: above 0 gives less."""
    se: float
    low: float
    high: float
    """Bounds that hold the true severity 95 times in 100."""
    points: float
    """Points of a level that she gives more, below 0 less, on average over lessons and criteria."""
    points_low: float
    points_high: float
    lessons: int
    scores: int
    infit: float | None
    outfit: float | None
    """Mean squares of fit, about 1; None where no mark says anything of it."""
    infit_expected: float | None
    """What the infit would be if she marked as regularly as the model says: somewhat below 1."""
    p_adjusted: float | None
    """That the infit is as far from that by chance; None with too few scores."""
    fit: str
    """In words; empty when nothing stands out."""

    @property
    def certain(self) -> bool:
        """Whether the bounds leave out 0."""
        return self.low > 0 or self.high < 0


@dataclass(frozen=True)
class OfCriterion:
    """How hard it is to be given a high level on a criterion, beside the others, in logits."""

    criterion: str
    difficulty: float
    se: float


@dataclass(frozen=True)
class FairScore:
    """A lesson's mean level, as given and as by an assessor of average severity."""

    lesson: str
    part: str
    assessors: tuple[str, ...]
    marks: int
    given: float
    fair: float
    low: float
    high: float
    """Bounds that hold what it would be 95 times in 100."""

    @property
    def correction(self) -> float:
        """What is added for severity."""
        return self.fair - self.given


@dataclass(frozen=True)
class Severities:
    """What the model says of assessors who are linked."""

    assessors: tuple[OfAssessor, ...]
    """Who gives least first."""
    criteria: tuple[OfCriterion, ...]
    """The hardest first."""
    fair: tuple[FairScore, ...]
    """The largest corrections first."""
    separation: float | None
    reliability: float | None
    says: str
    """Separation and reliability in a sentence."""
    scores: int
    lessons: int
    shared: int
    """Lessons that two assessors or more scored."""
    ends: int
    """Lessons whose every mark is the lowest there is, or the highest."""
    thresholds: str
    notes: tuple[str, ...]
    """What the model says of itself, and which severity is 0."""
    shifts: tuple[tuple[str, str, str, float], ...]
    """Lesson, assessor, criterion, and what an assessor of average severity gives more there.

    Only where that is half a level or more: less changes no level.
    """


@dataclass(frozen=True)
class Part:
    """Assessors whom lessons scored by several link, and the criteria of one scale."""

    name: str
    """Its rubric or criteria."""
    members: tuple[str, ...]
    """Its assessors."""
    severities: Severities | None
    why_not: tuple[str, ...] = ()
    """Why nobody's severity is told."""


@dataclass(frozen=True)
class Severity:
    """Every linked part, and what stands beside."""

    parts: tuple[Part, ...]
    left_out: tuple[str, ...]
    """Which criteria the model does not take, and why."""
    unlinked: tuple[str, ...]
    """Who cannot be compared, and who must score together to mend it."""

    def told(self) -> Iterator[tuple[Part, Severities]]:
        """The parts of which something is told."""
        for part in self.parts:
            if part.severities:
                yield part, part.severities

    @property
    def fair(self) -> tuple[FairScore, ...]:
        """The fair scores of all parts, the largest corrections first."""
        every = [score for _, found in self.told() for score in found.fair]
        return tuple(sorted(every, key=lambda one: (-abs(one.correction), one.lesson)))


def severity_of(marks: Marks) -> Severity:
    """Everybody's severity, as far as the marks bear it; what they do not bear is said."""
    from standfast.agreement.severity import linked_parts, scales_of

    usable, left_out = _usable(marks)
    parts: list[Part] = []
    unlinked: list[str] = []
    scales = list(scales_of(usable))
    names = [_name_of_scale(scale) for scale in scales]
    if len(scales) == 1 and (count := len(_criteria(scales[0]))) > 1:
        names = [f"{count} criteria"]
    for scale, short in zip(scales, names, strict=True):
        name = short if names.count(short) == 1 else f"{short}: {', '.join(_criteria(scale))}"
        linked = list(linked_parts(scale))
        unlinked += _apart(marks, name, linked)
        parts += [_part(marks, name, one) for one in linked]
    return Severity(tuple(parts), tuple(left_out), tuple(unlinked))


def _usable(marks: Marks) -> tuple[Ratings, list[str]]:
    """The marks that the model takes, and in sentences what it does not."""
    import numpy as np

    from standfast.agreement.sheets import marked_once

    ratings = marks.ratings
    why: dict[str, list[str]] = {}
    once = marks.once & marked_once(ratings)
    taken = np.zeros(len(ratings.criteria), dtype=np.bool_)
    for code in np.unique(ratings.criterion):
        score = ratings.score[ratings.criterion == code]
        if not marks.better[code]:
            reason = WHY_NOT["right"]
        elif not once[code]:
            reason = WHY_NOT["many"]
        elif (score != np.rint(score)).any() or len(np.unique(score)) > MOST_LEVELS:
            reason = WHY_NOT["measured"]
        else:
            taken[code] = True
            continue
        why.setdefault(reason, []).append(ratings.criteria[code])
    said = [f"{', '.join(_shortly(names, why))}: {reason}" for reason, names in why.items()]
    return ratings.only(taken[ratings.criterion]), said


def _shortly(names: Sequence[str], why: Mapping[str, Sequence[str]]) -> Iterator[str]:
    """Each criterion once, without its rubric, unless rubrics differ in why it is left out."""
    reasons = Counter(short for of in why.values() for short in {_short(name) for name in of})
    yield from dict.fromkeys(_short(n) if reasons[_short(n)] == 1 else n for n in names)


def _short(criterion: str) -> str:
    """Without the rubric that a criterion is named by in a book of several."""
    return criterion.rpartition(": ")[2]


WHY_NOT = {
    "right": "more is not better there, so nobody is severe by it",
    "many": (
        "many marks in one lesson are no independent witnesses, so they are only in the table of"
        " habits"
    ),
    "measured": (
        f"measurements, not whole-number levels (at most {MOST_LEVELS}); round them into levels to"
        " have them taken"
    ),
}


def _criteria(ratings: Ratings) -> list[str]:
    return [ratings.criteria[code] for code in sorted(set(ratings.criterion.tolist()))]


MOST_IN_A_NAME = 3


def _name_of_scale(ratings: Ratings) -> str:
    """The rubric where criteria say theirs, else the criteria, or how many more there are."""
    criteria = _criteria(ratings)
    rubrics = {name.partition(": ")[0] for name in criteria if ": " in name}
    if len(rubrics) == 1:
        return rubrics.pop()
    more = len(criteria) - MOST_IN_A_NAME
    return ", ".join(criteria[:MOST_IN_A_NAME]) + (f" and {more} more" if more > 0 else "")


def _members(ratings: Ratings) -> tuple[str, ...]:
    return tuple(ratings.assessors[code] for code in sorted(set(ratings.assessor.tolist())))


def _named(marks: Marks, members: Sequence[str]) -> str:
    return _and([marks.names[who] for who in members])


def _and(words: Sequence[str]) -> str:
    return " and ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)


def _apart(marks: Marks, name: str, linked: Sequence[Ratings]) -> Iterator[str]:
    """Who has no lesson in common with whom, and what would mend it."""
    if len(linked) < 2:  # noqa: PLR2004 - two are needed to be apart
        return
    first = _members(linked[0])
    for part in linked[1:]:
        other = _members(part)
        who = f"{marks.names[other[0]]}{' or another of them' if len(other) > 1 else ''}"
        whom = f"{marks.names[first[0]]}{' or another of those' if len(first) > 1 else ''}"
        yield (
            f"{name}: {_named(marks, other)} scored no lesson with {_named(marks, first)}, not even"
            f" by way of others, so they cannot be compared; have {who} score a few lessons"
            f" together with {whom}"
        )


def _part(marks: Marks, name: str, ratings: Ratings) -> Part:
    from standfast.agreement.severity import lesson_numbers, measure

    members = _members(ratings)
    lessons, _ = lesson_numbers(ratings)
    if len(members) == 1:
        why = f"{marks.names[members[0]]} scored no lesson with anybody else"
        return Part(name, members, None, (why,))
    if lessons < LEAST_LESSONS:
        return Part(name, members, None, (f"only {lessons} lessons; {LEAST_LESSONS} are needed",))
    named = {
        "assessor": {code: marks.names[who] for code, who in enumerate(ratings.assessors)},
        "criterion": dict(enumerate(ratings.criteria)),
    }
    try:
        return Part(name, members, _told(marks, name, measure(ratings, named)))
    except Refused as why:
        return Part(name, members, None, tuple(map(_of_lessons, (why.what, *why.reasons))))


def _of_lessons(note: str) -> str:
    """The model's words with lesson for person, which is what a person is here."""
    return re.sub(r"\b(person)(s?)\b", r"lesson\2", note)


def _told(marks: Marks, name: str, found: Measured) -> Severities:
    from standfast.agreement.severity import lesson_numbers

    fitted, ratings = found.fitted, found.ratings
    assessors = sorted(_assessors(found), key=lambda one: (-one.severity, one.assessor))
    criteria = [
        OfCriterion(ratings.criteria[code], float(difficulty), float(se))
        for code, difficulty, se in zip(
            fitted.criteria.codes, fitted.criteria.measure, fitted.criteria.se, strict=True
        )
    ]
    separation, reliability = (
        _known(figure) for figure in (fitted.assessors.separation, fitted.assessors.reliability)
    )
    lessons, shared = lesson_numbers(ratings)
    lesson_name = _lesson_names(marks, ratings)
    return Severities(
        tuple(assessors),
        tuple(sorted(criteria, key=lambda one: (-one.difficulty, one.criterion))),
        tuple(_fair_scores(name, found, found.fair(), lesson_name)),
        *(separation, reliability, _in_an_order(separation, reliability)),
        *(len(ratings), lessons, shared, len(fitted.extreme)),
        "common" if len(fitted.thresholds) == 1 else "own",
        (IDENTIFIED, *map(_of_lessons, found.notes)),
        tuple(_shifts(found, lesson_name)),
    )


IDENTIFIED = "the average severity of these assessors is 0, and so is the average difficulty"


def _known(figure: float) -> float | None:
    return figure if figure == figure else None  # noqa: PLR0124 - what is not itself is no number


def _assessors(found: Measured) -> Iterator[OfAssessor]:
    """Everybody of the part; how surprising a fit is allows for how many were asked about."""
    import numpy as np
    from scipy.stats import norm

    from standfast.agreement.chance import adjusted
    from standfast.agreement.severity import BOUND

    who = found.fitted.assessors
    regular = found.regular()
    enough = [at for at, n in enumerate(who.n) if n >= LEAST_SCORES and np.isfinite(regular.z[at])]
    p_values = adjusted([2 * float(norm.sf(abs(regular.z[at]))) for at in enough])
    p = dict(zip(enough, p_values, strict=True))
    for at, code in enumerate(who.codes):
        severity, se = float(who.measure[at]), float(who.se[at])
        low, high = severity - BOUND * se, severity + BOUND * se
        of = found.assessor == at
        yield OfAssessor(
            found.ratings.assessors[code],
            *(severity, se, low, high),
            *(found.points(severity), found.points(high), found.points(low)),
            *(len(np.unique(found.lesson[of])), int(of.sum())),
            *(_known(float(who.infit[at])), _known(float(who.outfit[at]))),
            _known(float(regular.expected[at])),
            *(p.get(at), _fit_in_words(float(regular.z[at]), p.get(at))),
        )


SURPRISING = 0.05


def _fit_in_words(z: float, p: float | None) -> str:
    if p is None or p >= SURPRISING:
        return ""
    return "less regular than expected" if z > 0 else "more regular than expected"


def _in_an_order(separation: float | None, reliability: float | None) -> str:
    if separation is None or reliability is None:
        return "How far the assessors differ beyond error cannot be told."
    share = f"{reliability * 100:.0f} % of the differences in severity are no error"
    times = f"true spread {separation:.1f} times the typical error"
    if reliability >= RELIABLE:
        return f"{share} ({times}): who is more severe than whom can be told."
    return f"{share} ({times}): too little to put all assessors in an order."


def _lesson_names(marks: Marks, ratings: Ratings) -> Callable[[int], str]:
    """What a lesson is called: with its occasion, where a subject was seen on several."""
    occasion = dict(zip(ratings.lesson.tolist(), ratings.occasion.tolist(), strict=True))
    once = len(set(marks.lessons)) == len(marks.lessons)

    def name(lesson: int) -> str:
        called = marks.lessons[lesson]
        return called if once else f"{called}, {ratings.occasions[occasion[lesson]]}"

    return name


def _fair_scores(
    name: str, found: Measured, fair: Fair, called: Callable[[int], str]
) -> list[FairScore]:
    who: dict[int, set[str]] = {}
    for lesson, assessor in set(
        zip(found.lesson.tolist(), found.ratings.assessor.tolist(), strict=True)
    ):
        who.setdefault(lesson, set()).add(found.ratings.assessors[assessor])
    scores = [
        FairScore(
            *(called(int(code)), name, tuple(sorted(who[at])), int(fair.n[at])),
            *(float(of[at]) for of in (fair.given, fair.fair, fair.low, fair.high)),
        )
        for at, code in enumerate(found.fitted.persons.codes)
    ]
    return sorted(scores, key=lambda one: (-abs(one.correction), one.lesson))


def _shifts(found: Measured, called: Callable[[int], str]) -> Iterator[tuple[str, str, str, float]]:
    import numpy as np

    ratings, shift = found.ratings, found.shift()
    for at in np.flatnonzero(np.abs(shift) >= HALF):
        yield (
            called(int(ratings.lesson[at])),
            ratings.assessors[ratings.assessor[at]],
            _short(ratings.criteria[ratings.criterion[at]]),
            float(shift[at]),
        )
