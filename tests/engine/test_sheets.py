"""Every contradiction that a score sheet can hold, each with its place."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from typing import Any

import pytest
from tests.engine.made import (
    attempts,
    choices,
    clearances,
    incident,
    incidents,
    looks,
    marks,
    person,
    rating,
    rubric,
    samples,
    sheet,
    student,
    syllabus,
    tries,
)

from standfast.engine.sheets import (
    approval_faults,
    faults_in,
    faults_of_people,
    unknown_rubric,
)
from standfast.model.evidence import Attempt, Incident, Note, Rating, Sample
from standfast.model.people import Approval, Person
from standfast.model.rubric import Rubric
from standfast.model.sheet import Sheet
from standfast.problems import Fault, Path

ANN = person("ann", scores=("bar-1",))


def faults(
    made: Sheet, under: Rubric | None = None, assessor: Person | None = ANN
) -> tuple[Fault, ...]:
    return (
        *faults_in(made, under or rubric(), syllabus()),
        *(approval_faults(made, assessor) if assessor else ()),
    )


def the(made: Sheet, under: Rubric | None = None, assessor: Person | None = ANN) -> Fault:
    """The one fault there is."""
    return one(faults(made, under, assessor))


def one(found: Iterable[Fault]) -> Fault:
    """The only one of them."""
    (only,) = found
    return only


def test_a_good_sheet_has_no_fault() -> None:
    assert faults(sheet()) == ()


# Rubric and assessor


@pytest.mark.parametrize(
    ("other", "path", "word"),
    [
        pytest.param({"rubric": "bar-2"}, ("rubric",), "did you mean 'bar-1'", id="another rubric"),
        pytest.param({"rubric_version": 2}, ("rubric_version",), "version 1", id="another version"),
    ],
)
def test_the_rubric_is_named_as_it_is(other: dict[str, Any], path: Path, word: str) -> None:
    fault = one(faults_in(sheet(**other), rubric(), syllabus()))

    assert fault.path == path
    assert word in str(fault)


@pytest.mark.parametrize(
    ("day", "in_force"),
    [
        pytest.param("2025-01-01", True, id="first day"),
        pytest.param("2024-12-31", False, id="day before"),
        pytest.param("2026-06-30", True, id="last day"),
        pytest.param("2026-07-01", False, id="day after"),
    ],
)
def test_the_rubric_is_in_force_on_the_day(day: str, in_force: bool) -> None:
    ends = rubric(in_force_until=date(2026, 6, 30))
    found = faults(sheet(day=date.fromisoformat(day)), ends)

    assert [fault.path for fault in found] == ([] if in_force else [("began",)])


def test_a_rubric_that_is_not_there_is_named_with_the_nearest() -> None:
    wrong, later = sheet(rubric="bar-2"), sheet(rubric_version=3)
    found = [one(unknown_rubric(made, [rubric()])) for made in (wrong, later)]

    assert [*unknown_rubric(sheet(), [rubric()])] == []
    assert [fault.path for fault in found] == [("rubric",), ("rubric_version",)]
    assert [fault.what for fault in found] == ["no rubric 'bar-2'", "no version 3 of bar-1"]
    assert found[0].cure == "did you mean 'bar-1'?"
    assert found[1].cure.startswith("known: 1;")


def test_a_candidate_or_an_assessor_whom_nobody_knows_is_named_with_the_nearest() -> None:
    far = one(faults_of_people(sheet(), {"cato"}))
    both = [*faults_of_people(sheet(), {"catto", "anne"})]

    assert [*faults_of_people(sheet(), {"cato", "ann"})] == []
    assert (far.path, far.what) == (("assessor",), "nobody in the school's people is 'ann'")
    assert far.cure.startswith("mend the id, or add the person with a 'scores' line")
    assert [fault.path for fault in both] == [("candidate",), ("assessor",)]
    assert "did you mean 'catto'?" in both[0].cure
    assert "did you mean 'anne'?" in both[1].cure


@pytest.mark.parametrize(
    ("since", "until", "approved"),
    [
        pytest.param("2026-02-20", "2026-02-20", True, id="that day only"),
        pytest.param("2026-02-21", "2027-01-01", False, id="from the day after"),
        pytest.param("2025-01-01", "2026-02-19", False, id="until the day before"),
    ],
)
def test_the_assessor_is_approved_on_the_day(since: str, until: str, approved: bool) -> None:
    approval = Approval.model_validate({"rubric": "bar-1", "since": since, "until": until})
    ann = person("ann").model_copy(update={"scores": (approval,)})
    found = faults(sheet(), assessor=ann)

    assert not found if approved else f"approved from {since} until {until}" in found[0].what


def test_nobody_scores_their_own_lesson() -> None:
    assert "is the candidate too" in one(faults_of_people(sheet(assessor="cato"), {"cato"})).what


# Students, skills


@pytest.mark.parametrize(
    ("other", "path", "word"),
    [
        pytest.param(
            {"students": (student("S1", hang=5), student("S2"), student("S3"), student("S1"))},
            ("students", 3, "student"),
            "S1 is in the lesson twice",
            id="a student twice",
        ),
        pytest.param(
            {"students": (student("S1", hang=5, hnag=1), student("S2"), student("S3"))},
            ("students", 0, "log", "hnag"),
            "did you mean 'hang'",
            id="an unknown skill in a log",
        ),
        pytest.param(
            {"students": (student("S1", (9, "roll"), hang=5), student("S2"), student("S3"))},
            ("students", 0, "repetitions", 0, "skill"),
            "no skill 'roll'",
            id="an unknown skill in a repetition",
        ),
        pytest.param(
            {"attempts": tries(["yes"], student="S9")},
            ("attempts", 0, "student"),
            "no student 'S9'",
            id="an unknown student",
        ),
        pytest.param(
            {"attempts": tries(["yes"], skill="hangs")},
            ("attempts", 0, "skill"),
            "did you mean 'hang'",
            id="an unknown skill",
        ),
        pytest.param(
            {"clearances": choices(["let-go"], student="S9")},
            ("clearances", 0, "student"),
            "no student 'S9'",
            id="a choice for an unknown student",
        ),
        pytest.param(
            {"incidents": (Incident(at=9, criterion="left", student="S9"),)},
            ("incidents", 0, "student"),
            "no student 'S9'",
            id="an incident with an unknown student",
        ),
        pytest.param(
            {"incidents": incidents("lefd")},
            ("incidents", 0, "criterion"),
            "did you mean 'left'",
            id="an unknown incident",
        ),
        pytest.param(
            {"incidents": incidents("place")},
            ("incidents", 0, "criterion"),
            "no incident 'place'",
            id="a criterion that is no incident",
        ),
    ],
)
def test_what_is_unknown_is_named_with_the_nearest(
    other: dict[str, Any], path: Path, word: str
) -> None:
    fault = one(faults_in(sheet(**other), rubric(), syllabus()))

    assert fault.path == path
    assert word in str(fault)


# Answers


def test_a_missing_answer_and_one_not_asked_are_both_named() -> None:
    under = rubric(attempts("place"), attempts("still"))
    made = sheet(attempts=tries(["yes"], "plaice"), clearances=(), samples=(), ratings=())

    assert [(fault.path, fault.what) for fault in faults(made, under)] == [
        (("attempts", 0, "answers"), "no answer to 'place'"),
        (("attempts", 0, "answers"), "no answer to 'still'"),
        (("attempts", 0, "answers", "plaice"), "no question 'plaice'"),
    ]


@pytest.mark.parametrize(
    ("failed", "answers", "whats"),
    [
        pytest.param(True, {"after": "no"}, [], id="failed and answered"),
        pytest.param(True, {}, ["no answer to 'after'"], id="failed, not answered"),
        pytest.param(False, {}, [], id="completed, not asked"),
        pytest.param(
            False, {"after": "yes"}, ["'after' is asked of failed attempts only"], id="not asked"
        ),
    ],
)
def test_failed_attempts_have_questions_of_their_own(
    failed: bool, answers: dict[str, str], whats: list[str]
) -> None:
    attempt = {"at": 9, "student": "S1", "skill": "hang", "failed": failed, "answers": answers}
    made = sheet(attempts=(Attempt.model_validate(attempt),), clearances=(), samples=(), ratings=())
    found = faults(made, rubric(attempts("after", asked="failed")))

    assert [fault.what for fault in found] == whats


def test_a_question_about_some_skills_is_not_asked_at_others() -> None:
    made = sheet(attempts=tries(["yes"]), clearances=(), samples=(), ratings=())
    fault = the(made, rubric(attempts(skills=("sit",))))

    assert fault.what == "'place' is asked of attempts at sit only"


# Let go before


@pytest.mark.parametrize(
    ("made", "what"),
    [
        pytest.param(["let-go"], "", id="let go"),
        pytest.param(["held-back"], "was held back from it at 0:20", id="held back"),
        pytest.param(["held-back", "let-go"], "", id="held back, then let go"),
        pytest.param(["let-go", "held-back"], "was held back from it at 0:40", id="then held back"),
        pytest.param([], "no choice", id="no choice"),
    ],
)
def test_an_attempt_needs_the_student_let_go(made: list[str], what: str) -> None:
    attempt = tries(["yes", "yes"], skill="sit")[1:]  # at 1:00
    found = faults(sheet(clearances=choices(made, skill="sit"), attempts=attempt))

    assert len(found) == bool(what)
    assert all(what in fault.what and fault.path == ("attempts", 0) for fault in found)


def test_a_choice_after_the_attempt_does_not_count() -> None:
    late = choices(["let-go"] * 2, skill="sit")[1:]  # at 0:40
    attempt = tries(["yes"], skill="sit")  # at 0:30

    assert "no choice" in the(sheet(clearances=late, attempts=attempt)).what


def test_a_choice_in_the_second_of_the_attempt_counts() -> None:
    attempt = tries(["yes"], skill="sit")[0].model_copy(update={"at": 20})

    assert faults(sheet(clearances=choices(["let-go"], skill="sit"), attempts=(attempt,))) == ()


def test_a_misspelt_name_is_one_fault_and_nothing_follows_from_it() -> None:
    attempt = tries(["yes"], skill="sitt")[0].model_copy(update={"answers": {"unheard": "no"}})
    misspelt = choices(["let-go"], skill="sitt")
    tried = tries(["yes"], skill="sit")

    assert the(sheet(attempts=(attempt,))).path == ("attempts", 0, "skill")
    assert the(sheet(clearances=misspelt, attempts=tried)).path == ("clearances", 0, "skill")
    other = misspelt[0].model_copy(update={"student": "S1" if tried[0].student != "S1" else "S2"})
    assert len(faults(sheet(clearances=(other,), attempts=tried))) == 2


def test_the_name_of_a_lesson_does_not_name_the_candidate() -> None:
    [fault] = faults(sheet(practical="cato-first-lesson"))

    assert fault.path == ("practical",)
    assert "after the name is erased" in fault.what
    assert faults(sheet(practical="hall-2026-03-01")) == ()


@pytest.mark.parametrize(
    ("made", "faulty"), [(["held-back", "let-go"], False), (["let-go", "held-back"], True)]
)
def test_of_two_choices_in_one_second_the_one_written_later_holds(
    made: list[str], faulty: bool
) -> None:
    same = tuple(c.model_copy(update={"at": 20}) for c in choices(made, skill="sit"))
    attempt = tries(["yes"], skill="sit")

    assert bool(faults(sheet(clearances=same, attempts=attempt))) is faulty


def test_no_choice_is_asked_for_where_nothing_judges_it() -> None:
    made = sheet(clearances=(), attempts=tries(["yes"], skill="sit"), samples=(), ratings=())

    assert faults(made, rubric(attempts())) == ()


def test_a_sheet_of_a_part_is_asked_for_that_part_alone() -> None:
    under = rubric(attempts("place"), attempts("still"), rating("looks"), incident("left"))
    part = sheet(attempts=tries(["yes"]), clearances=(), samples=(), ratings=(), covers=("place",))
    happened = part.model_copy(update={"incidents": incidents("left")})

    assert faults(part, under) == faults(happened, under) == ()
    wrong = part.model_copy(update={"attempts": (), "covers": ("plaice",)})
    assert the(wrong, rubric(attempts())).path == ("covers", 0)


# Looks


@pytest.mark.parametrize(
    ("samples_made", "path", "word"),
    [
        pytest.param(looks([(4, 3)]), ("samples", 0, "idle"), "4 idle of 3", id="more idle"),
        pytest.param(
            looks([(0, 4)]), ("samples", 0, "waiting"), "3 students in the lesson", id="too many"
        ),
        pytest.param(
            (Sample(look=1, at=60, waiting=2),),
            ("samples", 0, "waiting"),
            "without 'idle'",
            id="no idle",
        ),
        pytest.param(
            (Sample(look=1, at=60, idle=0),), ("samples", 0, "idle"), "without 'waiting'", id="lone"
        ),
        pytest.param(
            (Sample(look=1, at=60), Sample(look=1, at=61)),
            ("samples", 1, "look"),
            "look 1 is there twice",
            id="a look twice",
        ),
        pytest.param(
            (Sample(look=2, at=151),),
            ("samples", 0, "at"),
            "0:31 after it was due, at 2:00",
            id="more than half an interval late",
        ),
        pytest.param(
            (Sample(look=2, at=89),),
            ("samples", 0, "at"),
            "0:31 before it was due",
            id="more than half an interval early",
        ),
    ],
)
def test_a_look_must_be_possible(samples_made: tuple[Sample, ...], path: Path, word: str) -> None:
    fault = the(sheet(samples=samples_made))

    assert fault.path == path
    assert word in str(fault)


def test_half_an_interval_late_and_all_idle_is_possible() -> None:
    assert faults(sheet(samples=(Sample(look=2, at=150, waiting=3, idle=3),))) == ()


# Times


def test_times_stand_in_order_within_each_list() -> None:
    first, second = tries(["yes", "yes"])
    fault = the(sheet(attempts=(second, first)))

    assert fault.path == ("attempts", 1, "at")
    assert fault.what == "0:30 comes after 1:00 in the list"


@pytest.mark.parametrize(
    ("at", "late"),
    [pytest.param(3600, False, id="at the end"), pytest.param(3601, True, id="past")],
)
def test_nothing_happens_after_the_lesson(at: int, late: bool) -> None:
    attempt = tries(["yes"])[0].model_copy(update={"at": at})
    made = sheet(attempts=(attempt,), notes=(Note(at=at, text="Quiet."),))
    paths = [("attempts", 0, "at"), ("notes", 0, "at")]

    assert [fault.path for fault in faults(made)] == (paths if late else [])


@pytest.mark.parametrize(
    ("stopped_at", "found"),
    [
        pytest.param(360, [], id="with the last record"),
        pytest.param(359, [("attempts", 11, "at")], id="a second before"),
    ],
)
def test_nothing_is_scored_after_a_stop(stopped_at: int, found: list[Path]) -> None:
    made = sheet(incidents=incidents("drop", at=stopped_at), samples=looks([(0, 3)] * 5))

    assert [fault.path for fault in faults(made)] == found


def test_an_incident_that_only_counts_stops_nothing() -> None:
    assert faults(sheet(incidents=incidents("left", at=10))) == ()


# Ratings


@pytest.mark.parametrize(
    ("ratings", "path", "word"),
    [
        pytest.param(marks(looks=5), ("ratings", 0, "level"), "has 1 to 4", id="no such level"),
        pytest.param(marks(lokks=4), ("ratings", 0, "criterion"), "did you mean", id="unknown"),
        pytest.param(marks(place=4), ("ratings", 0, "criterion"), "no rating", id="another kind"),
        pytest.param(
            (Rating(criterion="looks", level=4), Rating(criterion="looks", level=4)),
            ("ratings", 1, "criterion"),
            "rated twice",
            id="twice",
        ),
    ],
)
def test_a_rating_is_one_level_of_its_criterion(
    ratings: tuple[Rating, ...], path: Path, word: str
) -> None:
    fault = the(sheet(ratings=ratings))

    assert fault.path == path
    assert word in str(fault)


def test_a_rating_that_was_not_seen_is_none() -> None:
    assert faults(sheet(ratings=marks(looks=None))) == ()


@pytest.mark.parametrize(
    ("under", "path"),
    [
        pytest.param(
            rubric(attempts(), samples(), rating(), incident()), ("clearances",), id="choices"
        ),
        pytest.param(rubric(attempts(), clearances(), rating()), ("samples",), id="looks"),
    ],
)
def test_what_no_criterion_asks_for_is_named_once(under: Rubric, path: Path) -> None:
    assert the(sheet(), under).path == path


def test_all_faults_come_at_once() -> None:
    made = sheet(
        assessor="cato",
        attempts=tries(["yes"], student="S9"),
        samples=looks([(4, 3)]),
        ratings=marks(looks=7),
    )

    assert [fault.path[0] for fault in faults(made, assessor=person("cato"))] == [
        "attempts",
        "samples",
        "ratings",
        "assessor",
    ]
    assert all(fault.cure for fault in faults(made))
