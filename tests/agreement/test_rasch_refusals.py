"""What the scores cannot support is refused or left out, in words that say what would be needed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from tests.agreement.made_scores import draw

from standfast.agreement.rasch.conditional import fit_conditional
from standfast.agreement.rasch.fitted import Fitted
from standfast.agreement.rasch.joint import fit_joint
from standfast.agreement.rasch.linked import groups_of
from standfast.agreement.rasch.marginal import fit_marginal
from standfast.agreement.rasch.scores import Scored
from standfast.problems import Refused

Fitter = Callable[..., Fitted]
FITS = [
    pytest.param(fit_marginal, id="marginal"),
    pytest.param(fit_conditional, id="conditional"),
    pytest.param(fit_joint, id="joint"),
]
NAMES = {"assessor": {0: "Ines", 1: "Ruben", 9: "Tove"}, "criterion": {3: "stance"}}


def scores_of(top: int = 2) -> Scored:
    drawn = draw(2, persons=80, assessors=3, criteria=4, top=top, each=2)[1]
    return replace(drawn, names=NAMES)


def joined(one: Scored, other: Scored) -> Scored:
    return Scored(
        np.concatenate((one.person, other.person)),
        np.concatenate((one.assessor, other.assessor)),
        np.concatenate((one.criterion, other.criterion)),
        np.concatenate((one.score, other.score)),
        one.names,
    )


@pytest.mark.parametrize("fit", FITS)
def test_groups_with_nobody_in_common_are_refused_by_name(fit: Fitter) -> None:
    here = scores_of()
    there = replace(
        here, person=here.person + 500, assessor=here.assessor + 10, criterion=here.criterion + 10
    )
    with pytest.raises(Refused) as caught:
        fit(joined(here, there))

    assert "2 groups with nobody in common" in caught.value.what
    assert "let an assessor of one group also score persons of another" in caught.value.what
    assert "assessor Ines, assessor Ruben, assessor 2" in caught.value.reasons[0]
    assert "assessor 10" in caught.value.reasons[1]


def test_one_person_seen_by_both_joins_two_groups() -> None:
    apart = np.array([0, 1]), np.array([0, 1]), np.array([0, 1])
    by_both = np.array([0, 1, 0]), np.array([0, 1, 1]), np.array([0, 1, 1])

    assert groups_of(*apart)[0] == 2
    assert groups_of(*by_both)[0] == 1


@pytest.mark.parametrize("fit", FITS)
def test_groups_that_share_criteria_but_no_person_are_refused(fit: Fitter) -> None:
    here = scores_of()
    there = replace(here, person=here.person + 500, assessor=here.assessor + 10)
    with pytest.raises(Refused) as caught:
        fit(joined(here, there))

    assert "cannot be told apart" in caught.value.what


@pytest.mark.parametrize("fit", FITS)
def test_an_assessor_alone_with_a_criterion_is_refused_by_name(fit: Fitter) -> None:
    drawn = scores_of()
    only = (drawn.assessor == 0) == (drawn.criterion == 3)
    lone = Scored(
        drawn.person[only], drawn.assessor[only], drawn.criterion[only], drawn.score[only], NAMES
    )
    with pytest.raises(Refused) as caught:
        fit(lone)

    assert "severity and difficulty cannot be told apart" in caught.value.what
    assert "assessor Ines" in caught.value.reasons[0]
    assert "criterion stance" in caught.value.reasons[0]


@pytest.mark.parametrize("fit", FITS)
def test_an_assessor_who_only_gave_the_lowest_is_left_out_and_said(fit: Fitter) -> None:
    drawn = scores_of()
    seen = np.arange(0, 40)
    harsh = Scored(seen, np.full(40, 9), seen % 4, np.zeros(40, int))
    found, without = fit(joined(drawn, harsh)), fit(drawn)

    assert any("assessor Tove is left out: every score is the lowest" in n for n in found.notes)
    assert found.assessors.codes.tolist() == [0, 1, 2]
    assert found.assessors.measure == pytest.approx(without.assessors.measure, abs=1e-9)


@pytest.mark.parametrize("fit", FITS)
def test_persons_at_an_end_get_a_finite_measure_and_are_named(fit: Fitter) -> None:
    drawn = scores_of()
    score = np.where(drawn.person == 5, 2, drawn.score)
    found = fit(replace(drawn, score=score))

    assert 5 in found.extreme
    assert np.isfinite(found.persons.measure).all()
    assert np.isfinite(found.persons.se).all()
    assert "every score at one end" in found.notes[-1]
    assert found.persons.measure[5] >= found.persons.measure.max() - 1.5


@pytest.mark.parametrize("fit", [fit_conditional, fit_joint])
def test_persons_at_an_end_say_nothing_of_severity_unless_there_is_a_crowd(fit: Fitter) -> None:
    drawn = scores_of()
    perfect = replace(drawn, person=drawn.person + 500, score=np.full(len(drawn.score), 2))
    found, without = fit(joined(drawn, perfect)), fit(drawn)

    assert found.assessors.measure == pytest.approx(without.assessors.measure, abs=1e-9)


@pytest.mark.parametrize("fit", FITS)
def test_a_score_that_nobody_gave_is_refused(fit: Fitter) -> None:
    drawn = scores_of()
    with pytest.raises(Refused) as caught:
        fit(replace(drawn, score=np.where(drawn.score == 2, 3, drawn.score)))

    assert "nobody gave 2" in caught.value.reasons[0]
    assert "join it with its neighbour" in caught.value.what


@pytest.mark.parametrize("fit", FITS)
def test_scores_that_are_all_the_same_are_refused(fit: Fitter) -> None:
    drawn = scores_of()
    with pytest.raises(Refused, match="no score is left"):
        fit(replace(drawn, score=np.ones(len(drawn.score), int)))


@pytest.mark.parametrize("fit", FITS)
def test_only_persons_at_an_end_are_refused_where_they_tell_nothing(fit: Fitter) -> None:
    drawn = scores_of(top=1)
    score = np.where(drawn.person % 2 == 0, 1, 0)
    with pytest.raises(Refused):
        fit(replace(drawn, score=score))


def test_people_who_are_all_alike_are_said_to_be() -> None:
    person, assessor, criterion = (a.ravel() for a in np.indices((200, 2, 3)))
    # Everybody has the same total: less spread than chance alone would give.
    same = np.tile([1, 0, 1, 0, 1, 0], (200, 1))
    mixed = np.random.default_rng(3).permuted(same, axis=1)
    found = fit_marginal(Scored(person, assessor, criterion, mixed.ravel()))

    assert found.person_sd == pytest.approx(0, abs=0.01)
    assert "differ no more than by chance" in found.notes[0]


@pytest.mark.parametrize(
    ("change", "words"),
    [
        pytest.param({"score": np.array([1.5, 0, 1])}, "whole numbers", id="half a score"),
        pytest.param({"score": np.array([np.nan, 0, 1])}, "whole numbers", id="a gap"),
        pytest.param({"score": np.array([1, 0])}, "same length", id="one score short"),
    ],
)
def test_scores_that_cannot_be_read_are_refused(change: dict[str, Any], words: str) -> None:
    three = Scored(np.arange(3), np.zeros(3, int), np.arange(3), np.array([0, 1, 0]))
    with pytest.raises(Refused, match=words):
        fit_marginal(replace(three, **change))


def test_no_score_at_all_is_refused() -> None:
    none = np.zeros(0, int)
    with pytest.raises(Refused, match="no score to go by"):
        fit_marginal(Scored(none, none, none, none))


@pytest.mark.parametrize("fit", FITS)
def test_scores_in_perfect_order_are_refused(fit: Fitter) -> None:
    person, assessor, criterion = (a.ravel() for a in np.indices((5, 2, 2)))
    ladder = np.array([[0, 0, 0, 0], [1, 0, 0, 0], [1, 1, 0, 0], [1, 1, 1, 0], [1, 1, 1, 1]])
    with pytest.raises(Refused):
        fit(Scored(person, assessor, criterion, ladder.ravel()))


def test_figures_on_their_way_to_infinity_are_refused_by_name() -> None:
    person, assessor, criterion = (a.ravel() for a in np.indices((5, 2, 2)))
    ladder = np.array([[0, 0, 0, 0], [1, 0, 0, 0], [1, 1, 0, 0], [1, 1, 1, 0], [1, 1, 1, 1]])
    with pytest.raises(Refused) as caught:
        fit_joint(Scored(person, assessor, criterion, ladder.ravel(), NAMES))

    assert "have no bound" in caught.value.what
    assert "assessor Ines, assessor Ruben" in caught.value.reasons[0]


@pytest.mark.parametrize("fit", FITS)
def test_a_second_occasion_of_the_same_pair_is_more_to_go_by(fit: Fitter) -> None:
    once = scores_of()
    twice = joined(once, replace(once, score=once.score[::-1]))
    found, before = fit(twice), fit(once)

    assert found.assessors.n.sum() >= 1.9 * before.assessors.n.sum()
    assert (found.assessors.se < before.assessors.se).all()


def test_a_person_without_any_other_score_goes_with_the_assessor_left_out() -> None:
    drawn = scores_of()
    lone = Scored(np.full(4, 700), np.full(4, 9), np.arange(4), np.zeros(4, int))
    found = fit_marginal(joined(drawn, lone))

    assert 700 not in found.persons.codes
    assert "1 of the persons" in found.notes[1]
