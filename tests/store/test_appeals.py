"""Appeals and complaints in the book: once each, answered once, rebuilt alike, about opaque ids."""

from __future__ import annotations

from datetime import date

import pytest
from tests.engine import made
from tests.store.raw import dump, rows
from tests.store.school import School, people

from standfast.model.appeal import Answer, Appeal
from standfast.problems import NotFound, Refused


def appeal(school: School, award: str | None = None, **other: object) -> Appeal:
    return made.appeal(**{"id": school.key(), "award": award, **other})


def answer(to: Appeal, outcome: str = "upheld") -> Answer:
    return Answer.model_validate(
        {"appeal": to.id, "by": "zoe", "on": date(2026, 6, 9), "outcome": outcome, "because": "so"}
    )


@pytest.fixture
def filed(filled: School) -> tuple[School, Appeal]:
    known = filled.book.find_award("A-1")
    assert known
    one = appeal(filled, known.award.id)
    filled.book.put_appeal(one, filled.stamp("zoe"))
    return filled, one


def test_it_is_found_by_number_id_person_and_award(filed: tuple[School, Appeal]) -> None:
    school, one = filed
    kept = school.book.find_appeal("appeal-2026-1")

    assert kept
    assert (kept.appeal, kept.answer) == (one, None)
    assert school.book.find_appeal(one.id) == kept
    assert school.book.appeals() == (kept,)
    assert school.book.appeals("cato") == (kept,)
    assert school.book.appeals(award=one.award) == (kept,)
    assert school.book.appeals("zoe") == ()
    assert school.book.find_appeal("appeal-2026-2") is None


def test_its_answer_comes_with_it(filed: tuple[School, Appeal]) -> None:
    school, one = filed
    school.book.put_answer(answer(one), school.stamp())
    kept = school.book.find_appeal(one.id)

    assert kept
    assert kept.answer == answer(one)


def test_the_same_again_adds_nothing_and_other_content_is_refused(
    filed: tuple[School, Appeal],
) -> None:
    school, one = filed
    school.book.put_answer(answer(one), school.stamp())
    size = school.book.size()

    school.book.put_appeal(one, school.stamp())
    school.book.put_answer(answer(one), school.stamp())

    assert school.book.size() == size
    with pytest.raises(Refused, match="other content"):
        school.book.put_appeal(appeal(school), school.stamp())
    with pytest.raises(Refused, match="was answered already, on 2026-06-09"):
        school.book.put_answer(answer(one, "not upheld"), school.stamp())


@pytest.mark.parametrize(
    ("field", "kind"),
    [("award", "award"), ("decision", "decision"), ("ruling", "ruling"), ("about", "person")],
)
def test_it_names_only_what_is_in_the_book(filled: School, field: str, kind: str) -> None:
    wanted = "nobody" if field == "about" else filled.key()

    with pytest.raises(NotFound, match=f"no {kind} in the record book"):
        filled.book.put_appeal(appeal(filled, **{field: wanted}), filled.stamp())
    with pytest.raises(NotFound, match="no appeal to answer"):
        filled.book.put_answer(answer(appeal(filled)), filled.stamp())


def test_audit_is_clean_and_a_rebuild_gives_the_same_rows(filed: tuple[School, Appeal]) -> None:
    school, one = filed
    school.book.put_answer(answer(one), school.stamp())
    outside = appeal(school, number="complaint-2026-1", kind="complaint", by=None, award=None)
    school.book.put_appeal(outside, school.stamp())
    before = dump(school)

    assert len(before["appeals"]) == 2
    assert school.book.audit().faults == []
    school.book.rebuild()
    assert dump(school) == before


def test_an_erased_person_s_appeal_stays_about_an_opaque_id(filed: tuple[School, Appeal]) -> None:
    school, one = filed
    assert "cato" not in str(rows(school, "SELECT * FROM journal WHERE kind = 'appeal-filed'"))
    school.book.erase("cato", school.stamp())
    kept = school.book.find_appeal("appeal-2026-1")

    assert kept
    assert kept.appeal.by == kept.appeal.about != "cato"
    school.book.put_answer(answer(one), school.stamp())
    assert len(school.book.appeals(kept.appeal.about)) == 1
    assert school.book.history(kept.appeal.about)[-1].kind == "appeal-answered"
    assert school.book.audit().clean


def test_people_s_ties_and_terms_come_out_as_they_went_in(school: School) -> None:
    cato, ann, *others = people()
    tie = {"person": "ann", "kind": "family", "since": "2026-01-01"}
    term = {"since": "2026-01-01", "until": "2026-12-31"}
    changed = type(cato).model_validate(
        {**cato.model_dump(), "conflicts": [tie], "hears_appeals": [term]}
    )
    school.book.put_people([changed, ann, *others], school.stamp)

    assert school.book.find_person("cato") == changed
    assert '"ann"' not in str(rows(school, "SELECT body FROM journal"))
