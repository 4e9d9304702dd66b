"""Where differences come from, and what more assessors buy: of made books whose truth is known."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from math import acos, pi

import numpy as np
import pytest

from standfast.agreement.ratings import Ratings, long_form
from standfast.desk import sources
from standfast.desk.marks import Marks
from standfast.desk.panels import Panels, panels
from standfast.desk.sources import NotTold, Origins, origins

SEED = 20261126


@dataclass(frozen=True)
class Truth:
    """Variances that a book is made with."""

    candidate: float = 1.0
    day: float = 0.3
    assessor: float = 0.2
    view: float = 0.2
    """Of an assessor and a lesson."""
    left: float = 0.6
    of_criterion: tuple[float, ...] = field(default=(-0.8, -0.2, 0.3, 0.7))


def made(
    seed: int,
    *,
    people: int = 60,
    days: int = 2,
    assessors: int = 8,
    each: int = 2,
    truth: Truth | None = None,
) -> Marks:
    """Every lesson seen by `each` assessors drawn by lot; marks are numbers without steps."""
    rng = np.random.default_rng(SEED + seed)
    known = truth or Truth()
    candidate = rng.normal(0, known.candidate**0.5, people)
    severity = rng.normal(0, known.assessor**0.5, assessors)
    rows = []
    for person in range(people):
        for day in range(days):
            of_day = rng.normal(0, known.day**0.5)
            for who in rng.choice(assessors, each, replace=False):
                view = rng.normal(0, known.view**0.5)
                level = candidate[person] + of_day + severity[who] + view
                for number, hard in enumerate(known.of_criterion):
                    mark = level + hard + rng.normal(0, known.left**0.5)
                    rows.append((f"c{person}", f"a{who}", f"k{number}", mark, f"d{person} {day}"))
    return marks_of(long_form(*map(list, zip(*rows, strict=True))))


def marks_of(ratings: Ratings) -> Marks:
    """Subjects are candidates, each lesson an occasion of one."""
    count = len(ratings.criteria)
    lessons = [""] * (int(ratings.lesson.max()) + 1)
    for lesson, subject in zip(ratings.lesson, ratings.subject, strict=True):
        lessons[lesson] = ratings.subjects[subject]
    better, kinds = np.ones(count, dtype=np.bool_), ["rating"] * count
    scale = np.full((count, 2), np.nan)
    return Marks(
        ratings=ratings,
        within=np.zeros(count),
        better=better,
        names={},
        lessons=lessons,
        source="a made book",
        kinds=kinds,
        scale=scale,
        candidates=lessons,
    )


def spans(marks: Marks) -> float:
    """What one point of the truth is on the scale of shares, squared; the criteria's mean."""
    of = marks.ratings
    spread = [np.ptp(of.score[of.criterion == code]) for code in range(len(of.criteria))]
    return float(np.mean([1 / one**2 for one in spread]))


def found_origins(marks: Marks) -> Origins:
    found = origins(marks)
    assert isinstance(found, Origins)
    return found


def found_panels(marks: Marks) -> Panels:
    found = panels(marks)
    assert isinstance(found, Panels)
    return found


def test_known_sources_come_back() -> None:
    """Root mean square error of standard deviations, on the scale the book was made with."""
    truth = Truth()
    off = []
    for seed in range(5):
        marks = made(seed)
        found = found_origins(marks)
        assert (found.method, found.candidates) == ("REML", True)
        by_effect = {one.effect: max(0.0, one.variance) / spans(marks) for one in found.parts}
        wanted = {"p": truth.candidate, "pt": truth.day, "r": truth.assessor, "ptri": truth.left}
        off.append([by_effect[e] ** 0.5 - v**0.5 for e, v in wanted.items()])
    rmse = np.sqrt(np.mean(np.square(off), axis=0))

    assert rmse[0] < 0.15  # 60 candidates: sampling alone gives 0.1
    assert rmse[1] < 0.12
    assert rmse[2] < 0.25  # 8 assessors: sampling alone gives 0.12
    assert rmse[3] < 0.05


def test_shares_are_of_the_whole_and_said_in_words() -> None:
    found = found_origins(made(1))

    assert sum(one.share for one in found.parts) == pytest.approx(1.0)
    assert found.parts[0].words == "how candidates differ: what you want to measure"
    assert {one.what: one.words for one in found.parts}["assessor and criterion"] == (
        "assessor's own view of a criterion"
    )
    assert found.criteria == ("k0", "k1", "k2", "k3")


def test_of_candidates_seen_once_lessons_are_what_differs() -> None:
    marks = made(2, days=1)
    found, bought = found_origins(marks), found_panels(marks)

    assert not found.candidates
    assert found.parts[0].what == "lessons"
    assert bought.candidates == 0
    assert {one.practicals for one in bought.tried} == {1}
    assert "too few candidates were seen in two practicals" in bought.says


def test_a_complete_book_takes_the_analysis_of_variance() -> None:
    marks = made(3, days=1, assessors=3, each=3)
    found = found_origins(marks)

    assert found.method == "ANOVA"
    assert found.why == "every lesson has every mark"
    below = [one.what for one in found.parts if one.variance < 0]
    assert all(one.share == 0 for one in found.parts if one.variance < 0)
    assert all(any(f"'{what}'" in said for said in found.said) for what in below)


def test_too_many_marks_take_the_method_of_moments_and_say_so(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    marks = made(4)
    likely = found_origins(marks)
    monkeypatch.setattr(sources, "MOST_WORK", 1_000)
    quick = found_origins(marks)

    assert quick.method == "Henderson 1"
    assert "too many marks for likelihood" in quick.why
    for one, other in zip(likely.parts, quick.parts, strict=True):
        assert one.share == pytest.approx(other.share, abs=0.06)


def another_panel_by_drawing(truth: Truth, assessors: int, practicals: int) -> float:
    """How often two panels decide otherwise at the mean, by drawing them."""
    rng = np.random.default_rng(SEED)
    people = rng.normal(0, truth.candidate**0.5, 200_000)
    criteria = len(truth.of_criterion)

    def panel() -> np.ndarray:
        days = rng.normal(0, (truth.day / practicals) ** 0.5, people.size)
        who = rng.normal(0, (truth.assessor / assessors) ** 0.5, people.size)
        rest = (truth.view + truth.left / criteria) / (assessors * practicals)
        return people + days + who + rng.normal(0, rest**0.5, people.size)

    return float(((panel() > 0) != (panel() > 0)).mean())


@pytest.mark.parametrize(("assessors", "practicals"), [(1, 1), (2, 1), (2, 2), (3, 3)])
def test_the_chance_of_another_decision_is_that_of_drawn_panels(
    assessors: int, practicals: int
) -> None:
    told = [found_panels(made(seed, people=150)).of(assessors, practicals) for seed in range(4)]
    drawn = another_panel_by_drawing(Truth(), assessors, practicals)

    assert np.mean([one.otherwise for one in told]) == pytest.approx(drawn, abs=0.02)
    # At the mean the chance follows from Phi alone: arccos(Phi) / pi (Sheppard 1899, from memory).
    for one in told:
        assert one.otherwise == pytest.approx(acos(one.absolute) / pi, abs=0.01)


def test_more_of_either_is_never_worse_and_the_sentence_has_both_ends() -> None:
    bought = found_panels(made(5))
    before, after = bought.of(1, 1), bought.of(2, 2)

    for one in bought.tried:
        more = [o for o in bought.tried if o.assessors >= one.assessors and o.practicals >= 2]
        assert all(o.otherwise <= one.otherwise for o in more if o.practicals >= one.practicals)
        assert one.relative >= one.absolute
    assert bought.says == (
        "With two assessors and two practicals instead of one of each the chance that another"
        " panel would have decided otherwise falls from"
        f" {before.otherwise * 100:.0f} % to {after.otherwise * 100:.0f} %."
    )


def test_few_people_have_no_bounds_and_more_people_closer_ones() -> None:
    few, some, many = (found_panels(made(11, people=people)).of(2, 2) for people in (9, 30, 250))

    assert few.low is None
    assert few.high is None
    assert some.low is not None
    assert some.high is not None
    assert many.low is not None
    assert many.high is not None
    assert some.low < some.otherwise < some.high
    assert many.high - many.low < (some.high - some.low) / 1.5


def test_the_line_is_the_rubrics_where_it_has_one() -> None:
    marks = made(6)
    free, held = found_panels(marks), found_panels(replace(marks, standard=0.9))

    assert free.line == free.mean
    assert held.line == 0.9
    assert held.where.startswith("at 90 % of the scale, as the rubric asks")
    assert held.of(1, 1).passing < free.of(1, 1).passing == pytest.approx(0.5)
    assert held.of(1, 1).otherwise < free.of(1, 1).otherwise  # nearly all fail both times


def test_candidates_who_do_not_differ_are_said_and_lessons_taken() -> None:
    for seed in range(10):
        bought = panels(made(seed, truth=Truth(candidate=0.0, day=1.0)))
        if isinstance(bought, Panels) and not bought.candidates:
            break

    assert isinstance(bought, Panels)
    assert "candidates do not differ beyond what their days" in bought.says


def test_too_few_lessons_by_two_are_refused_with_the_number() -> None:
    nine, ten = (panels(made(7, people=people, days=1)) for people in (9, 10))

    assert isinstance(nine, NotTold)
    assert nine.reason.startswith("9 of the lessons whose sheets can be put together were scored")
    assert not isinstance(ten, NotTold) or "takes 10" not in ten.reason


def test_a_criterion_that_is_marked_often_is_not_put_together_with_levels() -> None:
    marks = made(8)
    ratings = marks.ratings
    again = np.append(np.arange(len(ratings)), 0)
    twice = replace(
        ratings,
        subject=np.append(ratings.subject, len(ratings.subjects)),
        subjects=(*ratings.subjects, "again"),
        assessor=ratings.assessor[again],
        criterion=ratings.criterion[again],
        occasion=ratings.occasion[again],
        lesson=ratings.lesson[again],
        score=ratings.score[again],
    )
    found = found_origins(replace(marks, ratings=twice))

    gone = ratings.criteria[ratings.criterion[0]]
    assert set(found.criteria) == {"k0", "k1", "k2", "k3"} - {gone}


def test_of_two_rubrics_the_one_with_most_marks_is_taken() -> None:
    marks = made(9)
    ratings = marks.ratings
    second = marks.candidates.index("c0")
    other = ratings.lesson == second
    criterion = np.where(other, len(ratings.criteria), ratings.criterion)
    one_each = ~other | (ratings.criterion == 0)
    more = replace(ratings, criterion=criterion, criteria=(*ratings.criteria, "other"))
    made_of = replace(
        marks,
        ratings=more.only(one_each),
        better=np.ones(5, dtype=np.bool_),
        scale=np.full((5, 2), np.nan),
    )

    assert "other" not in found_origins(made_of).criteria
