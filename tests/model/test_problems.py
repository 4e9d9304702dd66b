"""How Standfast says what is wrong."""

from __future__ import annotations

from standfast.problems import BadInput, Fault, NotFound, Place, Problem, nearest


def test_a_problem_reads_place_what_cure() -> None:
    problem = Problem(Place("rubrics/a.yaml", 12, 3), "weights sum to 1.05", "lower one by 0.05")

    assert str(problem) == "rubrics/a.yaml:12:3: weights sum to 1.05; lower one by 0.05"


def test_bad_input_says_every_problem() -> None:
    problems = [
        Problem(Place("a.yaml"), "is empty", "write a rubric"),
        Problem(Place("b.yaml"), "x", "y"),
    ]

    assert str(BadInput(problems)) == "a.yaml: is empty; write a rubric\nb.yaml: x; y"


def test_a_wrong_name_is_answered_with_the_nearest() -> None:
    assert str(NotFound("person", "ada-brg", ["ada-berg", "kei-ito"])) == (
        "no person 'ada-brg'; did you mean 'ada-berg'?"
    )
    assert nearest("zzz", []) == "there are none yet"


def test_a_fault_spells_its_path() -> None:
    assert str(Fault(("attempts", 3, "at"), "is out of order", "move it")) == (
        "attempts.3.at: is out of order; move it"
    )
