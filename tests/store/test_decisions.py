"""Decisions in the book, and making them again."""

from __future__ import annotations

import pytest
from tests.engine import made
from tests.store.school import ON, RUBRIC, SYLLABUS, School, people

from standfast.engine.decide import decide
from standfast.model.people import Person
from standfast.model.sheet import Correction
from standfast.problems import NotFound, Refused
from standfast.store.bodies import DecisionInputs


@pytest.fixture
def scored(school: School) -> School:
    school.book.put_people((*people(), made.person("dot")), school.stamp)
    school.take(made.sheet(1))
    return school


def cato(school: School) -> Person:
    found = school.book.find_person("cato")
    assert found is not None
    return found


def test_a_decision_comes_out_as_it_went_in_with_its_inputs(scored: School) -> None:
    sheet = made.sheet(1)
    entry = scored.decide([sheet])
    kept = scored.book.find_decision(entry.id)

    assert kept is not None
    assert kept.decision == decide(RUBRIC, SYLLABUS, [sheet], cato(scored), ON)
    assert kept.inputs == DecisionInputs.of(cato(scored), [sheet])
    assert (kept.entry, kept.who, kept.superseded_by) == (entry.id, "office", None)
    assert scored.book.decisions("cato", "bar-1") == (kept,)
    assert scored.book.decisions("dot") == ()


def test_a_decision_sent_again_is_the_same_entry(scored: School) -> None:
    made_now = decide(RUBRIC, SYLLABUS, [made.sheet(1)], cato(scored), ON)
    inputs = DecisionInputs.of(cato(scored), [made.sheet(1)])
    before = scored.decide([made.sheet(1)])
    correction, stamp = Correction(of=before.id, because="a slip"), scored.stamp()
    first = scored.book.put_decision(made_now, inputs, stamp, correction)

    assert scored.book.put_decision(made_now, inputs, stamp, correction) == first


def test_a_decision_on_a_sheet_that_is_not_in_the_book_is_refused(scored: School) -> None:
    with pytest.raises(NotFound, match=f"'{made.key(2)}'"):
        scored.decide([made.sheet(1), made.sheet(2)])

    assert scored.book.decisions() == ()


def test_a_decision_under_a_text_that_is_not_kept_is_refused(scored: School) -> None:
    other = RUBRIC.model_copy(update={"title": "Other"})
    made_now = decide(other, SYLLABUS, [made.sheet(1)], cato(scored), ON)

    with pytest.raises(NotFound, match="kept text of bar-1 version 1"):
        scored.book.put_decision(
            made_now, DecisionInputs.of(cato(scored), [made.sheet(1)]), scored.stamp()
        )


def test_inputs_about_somebody_else_are_refused(scored: School) -> None:
    made_now = decide(RUBRIC, SYLLABUS, [made.sheet(1)], cato(scored), ON)

    with pytest.raises(Refused, match="inputs about dot, a decision about cato"):
        scored.book.put_decision(
            made_now, DecisionInputs.of(made.person("dot"), [made.sheet(1)]), scored.stamp()
        )


def test_a_corrected_decision_is_left_out_unless_asked_for(scored: School) -> None:
    first = scored.decide([made.sheet(1)])
    second = scored.decide([made.sheet(1)], Correction(of=first.id, because="wrong day"))
    everything = scored.book.decisions("cato", superseded=True)

    assert [kept.entry for kept in scored.book.decisions("cato")] == [second.id]
    assert [kept.superseded_by for kept in everything] == [second.id, None]
    assert scored.book.history("cato")[-1].supersedes == first.id
    with pytest.raises(Refused, match="corrected already"):
        scored.decide([made.sheet(1)], Correction(of=first.id, because="again"))


def test_a_decision_that_is_not_there_cannot_be_corrected(scored: School) -> None:
    with pytest.raises(NotFound, match="decision to correct"):
        scored.decide([made.sheet(1)], Correction(of=made.key(5), because="x"))


def test_another_candidates_decision_cannot_be_corrected(scored: School) -> None:
    scored.take(made.sheet(2, candidate="dot"))
    first = scored.decide([made.sheet(1)])

    with pytest.raises(Refused, match="is about cato"):
        scored.decide([made.sheet(2, candidate="dot")], Correction(of=first.id, because="x"))
