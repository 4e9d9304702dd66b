"""Two copies of one record book that went on alone become one again."""

from __future__ import annotations

import json
import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path

import pytest
from sqlalchemy import insert, select
from tests.engine import made
from tests.store.school import School, open_school

from standfast.engine.decide import decide
from standfast.model.appeal import Answer
from standfast.model.award import Ruling
from standfast.model.canonical import content_hash
from standfast.model.federation import SHARES
from standfast.model.people import Conflict, Person
from standfast.model.school import School as Settings
from standfast.model.sheet import Correction
from standfast.problems import Refused
from standfast.store.bodies import Body, SheetTaken
from standfast.store.merging import Merged, Stays
from standfast.store.tables import held, journal, records


def no_objections(body: Body) -> tuple[str, ...]:
    """What the desk would say is asked in `tests/cli/test_merging.py`."""
    del body
    return ()


@dataclass
class Two:
    """The book at the school, and the one on the laptop."""

    home: School
    laptop: School
    award: str

    def merge(self) -> Merged:
        return self.home.book.merge(self.laptop.book, self.home.stamp, no_objections)


@pytest.fixture
def two(tmp_path: Path) -> Iterator[Two]:
    began = open_school(tmp_path)
    _, award = began.fill()
    began.book.close()
    (tmp_path / "laptop").mkdir()
    shutil.copyfile(tmp_path / "standfast.db", tmp_path / "laptop" / "standfast.db")
    home = open_school(tmp_path, create=False, seed=11)
    laptop = open_school(tmp_path / "laptop", create=False, seed=22)
    home.seconds, laptop.seconds = 1000, 2000
    yield Two(home, laptop, award.id)
    home.book.close()
    laptop.book.close()


def ids(school: School) -> list[str]:
    return [event.id for event in school.book.history()]


def whole(school: School) -> None:
    """Nothing is wrong with the book, and every derived row is what a rebuild makes."""
    audit = school.book.audit(decide)
    assert list(audit.faults) == []
    before = school.book.awards(), school.book.sheets(superseded=True), school.book.people()
    school.book.rebuild()
    assert (
        school.book.awards(),
        school.book.sheets(superseded=True),
        school.book.people(),
    ) == before


def test_what_only_one_has_is_added_and_the_same_again_adds_nothing(two: Two) -> None:
    two.home.take(made.sheet(4))
    two.laptop.take(made.sheet(5, assessor="bo"))
    two.laptop.book.put_people([made.person("dora")], two.laptop.stamp)
    both = {*ids(two.home), *ids(two.laptop)}
    before = len(ids(two.home))
    done = two.merge()

    assert (done.added, done.held, done.renamed) == (2, [], [])
    assert done.seen == len(ids(two.laptop)) - 2
    assert ids(two.home)[before:] == ids(two.laptop)[-2:]
    assert set(ids(two.home)) == both
    assert {kept.sheet.id for kept in two.home.book.sheets()} >= {
        made.sheet(4).id,
        made.sheet(5).id,
    }
    assert two.home.book.find_person("dora") == two.laptop.book.find_person("dora")
    whole(two.home)

    again = two.merge()
    assert (again.added, again.seen, again.held) == (0, len(ids(two.laptop)), [])


def test_either_way_round_both_hold_the_same_entries(two: Two) -> None:
    two.home.take(made.sheet(4))
    two.laptop.take(made.sheet(5, assessor="bo"))
    two.merge()
    two.laptop.book.merge(two.home.book, two.laptop.stamp, no_objections)

    assert sorted(ids(two.home)) == sorted(ids(two.laptop))
    whole(two.laptop)


def test_what_contradicts_the_book_is_listed_and_so_is_what_rests_on_it(two: Two) -> None:
    kept = two.home.book.find_award(two.award)
    assert kept is not None
    for school in (two.home, two.laptop):
        later = school.award(kept.award.decision, "A-2", renews=two.award)
        school.book.put_award(later, school.stamp("zoe"))
    corrected = made.sheet(6, assessor="ann", corrects=made.correcting(1))
    two.laptop.take(corrected)
    two.home.take(made.sheet(7, assessor="ann", corrects=made.correcting(1)))
    numbered = two.laptop.award(kept.award.decision, "A-9")
    two.laptop.book.put_award(numbered, two.laptop.stamp("zoe"))
    two.home.book.put_award(two.home.award(kept.award.decision, "A-9"), two.home.stamp("zoe"))
    rest = two.laptop.award(kept.award.decision, "A-10", renews=numbered.id)
    two.laptop.book.put_award(rest, two.laptop.stamp("zoe"))
    entries = ids(two.home)
    done = two.merge()
    why = [one.why for one in done.held]

    assert "renews A-1, which was renewed here already" in why
    assert any(text.startswith("corrects entry") for text in why)
    assert "has a number or id that something else has here" in why
    assert len(why) >= 3
    assert {one.entry for one in done.held} <= set(ids(two.laptop))
    assert ids(two.home)[: len(entries)] == entries
    assert len(ids(two.home)) == len(entries) + done.added
    whole(two.home)


def test_one_slug_for_two_people_becomes_two(two: Two) -> None:
    two.home.book.put_people([named("dora", "Dora Home")], two.home.stamp)
    two.laptop.book.put_people([named("dora", "Dora Away")], two.laptop.stamp)
    done = two.merge()
    found = {one.id: one.name for one in two.home.book.people()}

    assert done.renamed == [("dora", "dora-2")]
    assert (found["dora"], found["dora-2"]) == ("Dora Home", "Dora Away")
    whole(two.home)


def named(slug: str, name: str) -> Person:
    return made.person(slug).model_copy(update={"name": name})


def test_a_name_that_only_the_laptop_changed_is_taken_and_one_of_both_stays(two: Two) -> None:
    two.laptop.book.put_people([named("bo", "Bo There")], two.laptop.stamp)
    two.laptop.book.put_people([named("ann", "Ann There")], two.laptop.stamp)
    two.home.book.put_people([named("ann", "Ann Here")], two.home.stamp)
    done = two.merge()
    found = {one.id: one.name for one in two.home.book.people()}

    assert (found["bo"], found["ann"], done.kept) == (
        "Bo There",
        "Ann Here",
        [Stays("ann", "name, contact or site")],
    )
    whole(two.home)


def test_what_the_office_took_away_stays_away_and_what_the_laptop_added_is_there(two: Two) -> None:
    paper = {"first-aid": date(2029, 1, 1)}
    two.laptop.book.put_people(
        [made.person("bo", documents=paper, scores=["bar-1"])], two.laptop.stamp
    )
    tie = Conflict(person="cato", kind="family", since=date(2026, 3, 2))
    changed = made.person("bo").model_copy(update={"conflicts": (tie,)})
    two.home.book.put_people([changed], two.home.stamp)
    done = two.merge()
    bo = two.home.book.find_person("bo")

    assert bo is not None
    assert (bo.scores, bo.conflicts) == ((), (tie,))
    assert [one.document for one in bo.documents] == ["first-aid"]
    assert (done.held, done.kept) == ([], [])
    whole(two.home)
    assert two.merge().added == 0
    assert two.home.book.find_person("bo") == bo


def test_what_both_changed_of_somebody_stays_as_it_was_here_and_is_listed(two: Two) -> None:
    two.laptop.book.put_people([made.person("bo", scores=["bar-1", "floor-1"])], two.laptop.stamp)
    two.home.book.put_people([made.person("bo")], two.home.stamp)
    done = two.merge()
    bo = two.home.book.find_person("bo")

    assert bo is not None
    assert (bo.scores, done.kept) == ((), [Stays("bo", "approval to score")])
    assert len(ids(two.home)) > done.added
    whole(two.home)


def test_what_the_office_said_of_the_school_stays(two: Two) -> None:
    home, laptop = (Settings(id="barn", name=name) for name in ("Here", "There"))
    for school, settings, shares in ((two.laptop, laptop, SHARES), (two.home, home, ("awards",))):
        school.book.put_school(settings, school.stamp())
        school.book.put_shares(shares, school.stamp())
    done = two.merge()

    assert two.home.book.school() == home
    assert two.home.book.shares() == ("awards",)
    assert {one.what for one in done.kept} == {"settings of the school", "what is shared"}
    whole(two.home)


def test_a_text_that_the_office_changed_stays_while_no_sheet_rests_on_another(two: Two) -> None:
    here, there = (made.rubric(id="floor-1", title=title) for title in ("Here", "There"))
    two.home.book.keep_text(here, two.home.stamp())
    two.laptop.book.keep_text(there, two.laptop.stamp())
    done = two.merge()
    found = two.home.book.find_version("rubric", "floor-1")

    assert found is not None
    assert found.hash == content_hash(here)
    assert done.kept == [Stays(None, "rubric floor-1 version 1")]


def test_an_award_that_was_corrected_here_is_not_renewed_there(two: Two) -> None:
    kept = two.home.book.find_award(two.award)
    assert kept is not None
    right = two.home.award(kept.award.decision, "A-1B")
    why = Correction(of=two.award, because="wrong day")
    two.home.book.put_award(right, two.home.stamp(), why)
    later = two.laptop.award(kept.award.decision, "A-2", renews=two.award)
    two.laptop.book.put_award(later, two.laptop.stamp("zoe"))
    done = two.merge()

    assert [one.why for one in done.held] == ["renews A-1, which was corrected here already"]
    assert [one.award.number for one in two.home.book.awards()] == ["A-1B"]
    whole(two.home)


def ruled(school: School, award: str, kind: str, day: int) -> None:
    told = {"award": award, "kind": kind, "by": "zoe", "because": "so"}
    ruling = Ruling.model_validate({**told, "on": date(2026, 6, day)})
    school.book.put_ruling(ruling, school.stamp("zoe"))


@pytest.mark.parametrize("kind", ["suspended", "reduced", "withdrawn"])
@pytest.mark.parametrize("how", ["renews", "corrects"])
def test_no_award_gets_round_what_was_ruled_here_of_the_one_before_it(
    two: Two, kind: str, how: str
) -> None:
    kept = two.home.book.find_award(two.award)
    assert kept is not None
    ruled(two.home, two.award, kind, 5)
    if how == "renews":
        later = two.laptop.award(kept.award.decision, "A-2", renews=two.award)
        two.laptop.book.put_award(later, two.laptop.stamp("zoe"))
    else:
        later = two.laptop.award(kept.award.decision, "A-2")
        why = Correction(of=two.award, because="wrong day")
        two.laptop.book.put_award(later, two.laptop.stamp("zoe"), why)
    done = two.merge()

    assert [one.why for one in done.held] == [
        f"A-1 was {kind} here on 2026-06-05, which the other did not know; decide here what holds"
    ]
    assert [one.award.number for one in two.home.book.awards()] == ["A-1"]
    whole(two.home)


def test_what_both_knew_of_an_award_keeps_no_renewal_out(two: Two) -> None:
    kept = two.home.book.find_award(two.award)
    assert kept is not None
    ruled(two.home, two.award, "withdrawn", 5)
    two.laptop.book.merge(two.home.book, two.laptop.stamp, no_objections)
    later = two.laptop.award(kept.award.decision, "A-2", renews=two.award)
    two.laptop.book.put_award(later, two.laptop.stamp("zoe"))

    assert two.merge().held == []
    assert [one.award.number for one in two.home.book.awards()] == ["A-2"]


@pytest.mark.parametrize("kind", ["reinstated", "restored"])
def test_nothing_is_given_back_that_was_taken_here_meanwhile(two: Two, kind: str) -> None:
    ruled(two.home, two.award, "suspended", 2)
    two.laptop.book.merge(two.home.book, two.laptop.stamp, no_objections)
    ruled(two.home, two.award, "withdrawn", 5)
    ruled(two.laptop, two.award, kind, 7)
    done = two.merge()

    assert [one.why for one in done.held] == [
        "A-1 was withdrawn here on 2026-06-05, which the other did not know; decide here what holds"
    ]
    assert [one.kind for one in two.home.book.rulings(two.award)] == ["suspended", "withdrawn"]
    whole(two.home)


def test_what_is_ruled_of_an_award_that_was_renewed_here_is_listed(two: Two) -> None:
    kept = two.home.book.find_award(two.award)
    assert kept is not None
    later = two.home.award(kept.award.decision, "A-2", renews=two.award)
    two.home.book.put_award(later, two.home.stamp("zoe"))
    ruled(two.laptop, two.award, "withdrawn", 5)
    done = two.merge()

    assert [one.why for one in done.held] == ["rules on A-1, which was renewed here already"]
    whole(two.home)


def test_what_is_objected_to_is_held_back_and_so_is_all_that_rests_on_it(two: Two) -> None:
    sheet = made.sheet(4)
    two.laptop.take(sheet)
    decision = two.laptop.decide([sheet])
    award = two.laptop.award(decision.id, "A-9")
    two.laptop.book.put_award(award, two.laptop.stamp("zoe"))
    ruled(two.laptop, award.id, "suspended", 5)

    def objections(body: Body) -> tuple[str, ...]:
        return ("not this one", "never") if isinstance(body, SheetTaken) else ()

    done = two.home.book.merge(two.laptop.book, two.home.stamp, objections)

    assert [(one.kind, one.why) for one in done.held] == [
        ("sheet-taken", "not this one; never"),
        *[
            (kind, "rests on an entry that was held back")
            for kind in ("decision-made", "award-granted", "award-ruled")
        ],
    ]
    whole(two.home)


def test_a_sheet_is_held_to_what_holds_here_of_its_assessor_at_every_moment(two: Two) -> None:
    paper = {"first-aid": date(2029, 1, 1)}
    bo = made.person("bo", documents=paper, scores=["bar-1"])
    two.laptop.book.put_people([bo], two.laptop.stamp)
    two.home.book.put_people([made.person("bo")], two.home.stamp)
    two.laptop.take(made.sheet(5, assessor="bo"))
    seen = []

    def objections(body: Body) -> tuple[str, ...]:
        if isinstance(body, SheetTaken):
            seen.append(two.home.book.find_person(body.sheet.assessor))
        return ()

    with two.home.book.together():
        two.home.book.merge(two.laptop.book, two.home.stamp, objections)

    assert [(one.scores, len(one.documents)) for one in seen if one] == [((), 1)]
    whole(two.home)


def test_a_corrected_renewal_comes_over(two: Two) -> None:
    kept = two.laptop.book.find_award(two.award)
    assert kept is not None
    wrong = two.laptop.award(kept.award.decision, "A-2", renews=two.award)
    two.laptop.book.put_award(wrong, two.laptop.stamp())
    two.merge()
    right = two.laptop.award(kept.award.decision, "A-3", renews=two.award)
    why = Correction(of=wrong.id, because="wrong day")
    two.laptop.book.put_award(right, two.laptop.stamp(), why)
    done = two.merge()

    assert (done.held, done.added) == ([], 1)
    assert [one.award.number for one in two.home.book.awards()] == ["A-3"]
    whole(two.home)


def test_an_appeal_keeps_the_answer_that_it_has_here(two: Two) -> None:
    one = made.appeal(id=two.home.key(), award=two.award)
    two.home.book.put_appeal(one, two.home.stamp())
    two.laptop.book.merge(two.home.book, two.laptop.stamp, no_objections)
    for school, outcome in ((two.home, "upheld"), (two.laptop, "not upheld")):
        told = {"appeal": one.id, "by": "zoe", "on": date(2026, 6, 9), "because": "so"}
        answer = Answer.model_validate({**told, "outcome": outcome})
        school.book.put_answer(answer, school.stamp())
    done = two.merge()
    kept = two.home.book.find_appeal(one.id)

    assert kept is not None
    assert kept.answer is not None
    assert kept.answer.outcome == "upheld"
    assert [held.why for held in done.held] == [
        f"answers {one.number}, which was answered here already"
    ]
    whole(two.home)


def test_sheets_under_two_texts_of_one_version_are_not_joined(two: Two) -> None:
    for number, school, title in ((4, two.home, "Here"), (5, two.laptop, "There")):
        text = made.rubric(id="floor-1", title=title)
        rubric, syllabus = school.keep_texts(text)
        sheet = made.sheet(number, rubric="floor-1")
        school.book.put_sheet(sheet, rubric, syllabus, school.stamp("ann"))
    done = two.merge()

    assert [one.why for one in done.held] == [
        "was scored under another text of rubric floor-1 version 1 than sheets here"
    ]
    whole(two.home)


def test_whoever_one_book_forgot_is_forgotten_in_both(two: Two) -> None:
    two.laptop.book.erase("bo", two.laptop.stamp())
    two.home.book.erase("zoe", two.home.stamp())
    two.laptop.take(made.sheet(5, assessor="ann"))
    (bo,) = (ref for ref, slug in two.home.book.handles().items() if slug == "bo")
    done = two.merge()

    assert {one.id for one in two.home.book.people()} == {"ann", "cato"}
    assert done.erased == [bo]
    whole(two.home)


def test_what_devices_sent_is_joined_and_a_place_taken_twice_waits_for_the_office(
    two: Two,
) -> None:
    for school, body in ((two.home, "home"), (two.laptop, "away")):
        with school.book._transactions.writing() as writing:
            for n, text in ((1, "same"), (2, body)):
                number = 1 if text == "same" else school.seconds
                writing.conn.execute(insert(records), row(number, n, text))
    done = two.merge()
    again = two.merge()

    assert (done.records, done.records_held) == (0, 1)
    assert (again.records, again.records_held) == (0, 0)
    with two.home.book._transactions.reading() as reading:
        assert list(reading.conn.scalars(select(held.c.body))) == ["away"]
        assert list(reading.conn.scalars(select(records.c.body))) == ["same", "home"]


def test_what_waited_and_went_with_a_name_does_not_wait_again(two: Two) -> None:
    cato = next(ref for ref, slug in two.home.book.handles().items() if slug == "cato")
    for school, number in ((two.home, 1), (two.laptop, 2)):
        body = json.dumps({"kind": "begin", "candidate": cato, "number": number})
        with school.book._transactions.writing() as writing:
            writing.conn.execute(insert(records), row(number, 1, body))
    assert two.merge().records_held == 1
    two.home.book.erase("cato", two.home.stamp())

    assert two.merge().records_held == 0
    assert two.home.book.records.held() == ()


def row(number: int, n: int, body: str) -> dict[str, object]:
    at = datetime.fromisoformat("2026-03-02T10:00:00+00:00").isoformat()
    told = {"id": f"r{number}", "sheet": "s1", "n": n, "at": at, "got": at}
    return {**told, "account": "a1", "body": body}


def test_another_schools_book_is_none_of_ours(two: Two, tmp_path: Path) -> None:
    (tmp_path / "other").mkdir()
    other = open_school(tmp_path / "other", seed=99)
    other.seconds = 5000
    other.fill()
    before = ids(two.home)
    with pytest.raises(Refused, match="no copy of this record book"):
        two.home.book.merge(other.book, two.home.stamp, no_objections)
    other.book.close()

    assert ids(two.home) == before


def test_heads_that_were_given_out_still_hold(two: Two) -> None:
    head = two.home.book.remember_head(two.home.stamp().at)
    two.laptop.take(made.sheet(5, assessor="bo"))
    two.merge()

    assert two.home.book.audit(decide, [head]).clean
    with two.home.book._transactions.reading() as reading:
        count = len(list(reading.conn.scalars(select(journal.c.seq))))
    assert count > head.size
