"""What can never count in the lines about a person is a fault, at its place."""

from __future__ import annotations

from datetime import date

import pytest
from tests.engine import made

from standfast.engine.people import faults_in_person
from standfast.model.base import Noun
from standfast.model.people import Approval, Conflict, Document, Term, Tie

FIRST, BEFORE = date(2026, 3, 1), date(2026, 2, 28)


def lines(until: date) -> dict[str, Noun]:
    """A line of each kind that has two days."""
    days = {"since": FIRST, "until": until}
    return {
        "documents": Document(document="first-aid", issued=FIRST, last_day=until),
        "trained_by": Tie(trainer="bo", **days),
        "scores": Approval(rubric="bar-1", **days),
        "certifies": Approval(rubric="bar-1", **days),
        "conflicts": Conflict(person="bo", kind="family", **days),
        "hears_appeals": Term(**days),
    }


@pytest.mark.parametrize("key", lines(FIRST))
def test_a_line_that_ends_before_it_begins_is_a_fault(key: str) -> None:
    same = made.person("ann").model_copy(update={key: (lines(FIRST)[key],)})
    turned = made.person("ann").model_copy(
        update={key: (lines(FIRST)[key], lines(BEFORE)[key])},
    )

    assert list(faults_in_person(same, ())) == []  # one day long
    [fault] = faults_in_person(turned, ())
    assert fault.path == (key, 1, "last_day" if key == "documents" else "until")
    assert str(FIRST) in fault.what
    assert str(BEFORE) in fault.what
    assert fault.cure == "mend one of the days"


@pytest.mark.parametrize(
    ("key", "line", "field"),
    [
        pytest.param("trained_by", Tie(trainer="ann", since=FIRST), "trainer", id="trained"),
        pytest.param(
            "conflicts", Conflict(person="ann", kind="other", since=FIRST), "person", id="conflict"
        ),
    ],
)
def test_a_tie_with_oneself_is_a_fault(key: str, line: Noun, field: str) -> None:
    person = made.person("ann").model_copy(update={key: (line,)})

    [fault] = faults_in_person(person, ())
    assert (fault.path, fault.what) == ((key, 0, field), "ann is the same person")


@pytest.mark.parametrize(
    ("key", "word", "said"),
    [
        ("scores", "bar-trapeze-1", None),
        ("scores", "bar-trapez-1", "did you mean 'bar-trapeze-1'?"),
        ("certifies", "bar-trapeez-1", "did you mean 'bar-trapeze-1'?"),
        ("scores", "bar-trapeze-2", None),  # may be past
        ("scores", "floor-1", None),
        ("documents", "firstaid", "did you mean 'first-aid'?"),
        ("documents", "insurance", None),  # none of the rubrics asks for it
    ],
)
def test_a_name_almost_like_another_is_a_fault_since_it_never_counts(
    key: str, word: str, said: str | None
) -> None:
    rubric = made.rubric(id="bar-trapeze-1", documents=("first-aid",))
    days = {"since": FIRST, "until": FIRST}
    line = (
        Document(document=word, issued=FIRST, last_day=FIRST)
        if key == "documents"
        else Approval(rubric=word, **days)
    )
    faults = list(faults_in_person(made.person("ann").model_copy(update={key: (line,)}), [rubric]))

    assert [(one.path[:2], one.cure) for one in faults] == ([((key, 0), said)] if said else [])
