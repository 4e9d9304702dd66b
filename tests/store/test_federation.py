"""Sums over the schools that agreed, tried as each role by plain SQL, and held to the engine's."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from datetime import date, timedelta
from typing import get_args

import pytest
from psycopg import errors
from tests.engine import made
from tests.store.cluster import FEDERATION, KEEPER, NEIGHBOUR, OWNER, STRANGER, Cluster
from tests.store.school import RUBRIC, School, open_school, people
from tests.store.two import Two, today_is, two_schools

from standfast.engine.dates import standing
from standfast.engine.decide import decide
from standfast.model.award import COUNTING, Award, AwardDates, Ruling, RulingKind
from standfast.model.federation import SHARES, SMALLEST
from standfast.model.people import Person
from standfast.model.sheet import Correction
from standfast.problems import RecordBookError
from standfast.store import founding
from standfast.store.federation import What, look
from standfast.store.grouped import grouped_marks
from standfast.store.postgres_federation import ASKED
from standfast.store.postgres_tables import made as tables

ASKED_ON = date(2026, 11, 20)
TODAY = date(2026, 11, 1)
"""All is as of the first of the month in which it is asked."""
OPEN = [one.name for one in ASKED if one.open]
HERE_ALONE = [one for one in ASKED if not one.open]


def seen(both: Two) -> dict[tuple[str, str | None], tuple[int, int]]:
    """Counts of awards and of schools, by what is counted."""
    found = look(both.cluster.address(FEDERATION, both.database))
    return {(one.what, one.quarter): (one.awards, one.schools) for one in found.awards}


@pytest.fixture
def two(cluster: Cluster) -> Iterator[Two]:
    """On a day that the server takes for today."""
    with two_schools(cluster) as both:
        with founding.owning(cluster.address(OWNER, both.database)) as conn:
            founding.admit_federation(conn, FEDERATION)
        cluster.do(today_is(ASKED_ON), both.database)
        yield both


def with_people(school: School) -> str:
    """People, one whose first aid has ended, and a decision for awards to rest on."""
    ended = made.person("dora", documents={"first-aid": TODAY - timedelta(1)})
    last = made.person("emil", documents={"first-aid": TODAY})
    school.book.put_people((*people(), ended, last), school.stamp)
    sheets = (made.sheet(1), made.sheet(2, assessor="bo"))
    for sheet in sheets:
        school.take(sheet)
    return school.decide(sheets).id


def dates(due: int, *, grace: int = 30, first: int = -400) -> AwardDates:
    """A refresher due so many days from today, then grace, and a year to mend it."""
    day = TODAY + timedelta(due)
    return AwardDates(
        counted_from=TODAY + timedelta(first),
        first_day=TODAY + timedelta(first),
        last_day=TODAY + timedelta(due + 365),
        refresher_due=day,
        grace_until=day + timedelta(grace),
        full_practical_after=day + timedelta(365),
    )


def grant(school: School, decision: str, number: str, **other: object) -> Award:
    told: dict[str, object] = {"candidate": "cato", "dates": dates(50), "granted": TODAY, **other}
    award = school.award(decision, number, **told)
    school.book.put_award(award, school.stamp("zoe"))
    return award


def granted(school: School, how_many: int, **other: object) -> None:
    decision = with_people(school)
    for number in range(how_many):
        grant(school, decision, f"A-{number}", **other)


def called(name: str) -> bytes:
    return f"SELECT * FROM {name}()".encode()  # noqa: S608 - names of our own


# --- who may ask --------------------------------------------------------------------------------


def test_the_federation_s_role_reads_sums_and_no_table(two: Two) -> None:
    granted(two.barn, 5)
    two.barn.book.put_shares(SHARES, two.barn.stamp())

    for school in ("", "barn"):
        with two.at(FEDERATION, school) as asking:
            for name in OPEN:
                asking.execute(called(name)).fetchall()
            assert asking.execute(b"SELECT awards FROM federation_awards()").fetchall() != []
            for table in (*tables().tables, "keepers"):
                with pytest.raises(errors.InsufficientPrivilege):
                    asking.execute(f"SELECT count(*) FROM {table}".encode())  # noqa: S608


def test_whoever_asks_for_sums_chooses_nothing_by_which_to_take_two_apart(two: Two) -> None:
    """No day, no school, no rubric: the difference of two answers could be one person."""
    query = b"""SELECT proname, pronargs FROM pg_proc
    WHERE pronamespace = 'public'::regnamespace AND prorettype <> 'trigger'::regtype
      AND has_function_privilege(oid, 'execute')"""
    with two.at(FEDERATION, "barn") as asking:
        found = asking.execute(query).fetchall()

    assert sorted(found) == sorted((name, 0) for name in OPEN)


@pytest.mark.parametrize("one", HERE_ALONE, ids=lambda one: one.name)
def test_what_goes_from_school_to_school_is_for_the_functions_alone(two: Two, one: object) -> None:
    name, takes = one.name, one.takes  # type: ignore[attr-defined]
    call = f"SELECT {name}({chr(39) + 'barn' + chr(39) if takes else ''})".encode()

    for role in (FEDERATION, KEEPER, NEIGHBOUR, STRANGER):
        with two.at(role, "barn") as asking, pytest.raises(errors.InsufficientPrivilege):
            asking.execute(call)


@pytest.mark.parametrize("role", [KEEPER, NEIGHBOUR, STRANGER])
@pytest.mark.parametrize("name", OPEN)
def test_nobody_asks_but_the_role_that_was_let_in(two: Two, role: str, name: str) -> None:
    with two.at(role, "barn") as asking, pytest.raises(errors.InsufficientPrivilege):
        asking.execute(called(name))
    with pytest.raises(RecordBookError, match="this role may not ask"):
        look(two.cluster.address(role, two.database))


@pytest.mark.parametrize(
    ("role", "said"),
    [
        pytest.param(KEEPER, "keeps the book of 'barn'", id="keeps a book"),
        pytest.param("super", "could change", id="a superuser"),
        pytest.param("who", "no role 'who'", id="nobody"),
    ],
)
def test_a_role_that_could_read_more_is_not_let_in(two: Two, role: str, said: str) -> None:
    owner = two.cluster.address(OWNER, two.database)

    with pytest.raises(RecordBookError, match=said), founding.owning(owner) as conn:
        founding.admit_federation(conn, role)


def test_a_role_that_asks_for_sums_keeps_no_book(two: Two) -> None:
    owner = two.cluster.address(OWNER, two.database)

    with (
        pytest.raises(RecordBookError, match="federation's sums"),
        founding.owning(owner) as conn,
    ):
        founding.admit(conn, "barn", FEDERATION)


def test_a_database_without_books_says_who_makes_them(cluster: Cluster) -> None:
    with pytest.raises(RecordBookError, match="standfast book tables"):
        look(cluster.address(FEDERATION, cluster.new_database()))


def test_whoever_asks_as_the_owner_is_of_the_same_school_afterwards(two: Two) -> None:
    granted(two.loft, 5)
    two.loft.book.put_shares(SHARES, two.loft.stamp())

    with two.at(OWNER, "barn") as owner, owner.transaction():
        assert owner.execute(b"SELECT sum(awards) FROM federation_awards()").fetchone() != (None,)
        assert owner.execute(b"SELECT count(*) FROM journal").fetchone() == (0,)
        set_now = owner.execute(b"SELECT current_setting('standfast.school')").fetchone()
    assert set_now == ("barn",)


# --- who agreed -------------------------------------------------------------------------------


def test_only_a_school_that_agreed_is_in_a_sum_until_it_withdraws(two: Two) -> None:
    for school, number in ((two.barn, 6), (two.loft, 7)):
        granted(school, number)

    def agreed() -> list[tuple[str, tuple[str, ...]]]:
        return list(look(two.cluster.address(FEDERATION, two.database)).schools)

    assert (seen(two), agreed()) == ({}, [])
    two.barn.book.put_shares(("awards",), two.barn.stamp())
    assert seen(two)["counting", None] == (6, 1)
    assert agreed() == [("barn", ("awards",))]
    two.loft.book.put_shares(SHARES, two.loft.stamp())
    assert seen(two)["counting", None] == (13, 2)
    two.barn.book.put_shares(("agreement",), two.barn.stamp())
    assert seen(two)["counting", None] == (7, 1)
    two.loft.book.put_shares((), two.loft.stamp())
    assert seen(two) == {}
    assert agreed() == [("barn", ("agreement",))]


def test_what_a_school_shares_stands_in_its_own_book_and_is_rebuilt(school: School) -> None:
    assert school.book.shares() == ()
    first = school.book.put_shares(("agreement", "awards"), school.stamp())
    again = school.book.put_shares(SHARES, school.stamp())
    assert (first is not None, again) == (True, None)
    assert school.book.shares() == SHARES
    school.book.put_shares(("agreement",), school.stamp())

    school.book.rebuild()
    assert school.book.shares() == ("agreement",)
    assert school.book.audit().clean


# --- what is counted ------------------------------------------------------------------------------


def test_a_group_smaller_than_the_smallest_leaves_no_school(two: Two) -> None:
    granted(two.barn, SMALLEST - 1)
    granted(two.loft, SMALLEST)
    for school in (two.barn, two.loft):
        school.book.put_shares(SHARES, school.stamp())

    assert seen(two)["counting", None] == (SMALLEST, 1)
    two.loft.book.put_shares((), two.loft.stamp())
    assert seen(two) == {}


CASES: dict[str, dict[str, object]] = {
    "runs": {},
    "due today": {"dates": dates(0)},
    "late by a day, in grace": {"dates": dates(-1)},
    "last day of grace": {"dates": dates(-30)},
    "past grace": {"dates": dates(-31)},
    "last day to mend": {"dates": dates(-365, first=-900)},
    "past mending": {"dates": dates(-366, first=-900)},
    "not begun": {"dates": dates(300, first=1)},
    "begins today": {"dates": dates(300, first=0)},
    "a document that runs": {"documents": ("first-aid",)},
    "a document that is missing": {"documents": ("first-aid", "insurance")},
    "a document that ended": {"documents": ("first-aid",), "candidate": "dora"},
    "a document on its last day": {"documents": ("first-aid",), "candidate": "emil"},
    "next quarter": {"dates": dates(80)},
    "a year on": {"dates": dates(364)},
    "beyond a year": {"dates": dates(420)},
}
RULED: dict[str, tuple[RulingKind, ...]] = {
    "suspended": ("suspended",),
    "reinstated": ("suspended", "reinstated"),
    "withdrawn": ("withdrawn",),
    "reduced": ("reduced",),
    "withdrawn and late": ("withdrawn",),
}


def filled_with_everything(school: School) -> None:
    """Each case several times, so that no group is too small."""
    decision = with_people(school)
    for n in range(SMALLEST):
        for case, other in CASES.items():
            grant(school, decision, f"{case} {n}", **other)
        for case, kinds in RULED.items():
            late = {"dates": dates(-10)} if "late" in case else {}
            award = grant(school, decision, f"{case} {n}", **late)
            for day, kind in enumerate(kinds):
                rule(school, award, kind, TODAY - timedelta(5 - day))
        wrong = grant(school, decision, f"corrected {n}")
        right = school.award(decision, f"corrects {n}", dates=dates(50), granted=TODAY)
        correction = Correction(of=wrong.id, because="a slip of the pen")
        school.book.put_award(right, school.stamp("zoe"), correction)
        old = grant(school, decision, f"renewed {n}")
        grant(school, decision, f"renews {n}", renews=old.id)


def rule(school: School, award: Award, kind: RulingKind, on: date) -> None:
    without = ("hang",) if kind == "reduced" else ()
    ruling = Ruling(award=award.id, kind=kind, on=on, by="zoe", because="so", without=without)
    school.book.put_ruling(ruling, school.stamp("zoe"))


def quarter(day: date) -> str:
    return f"{day.year}Q{(day.month + 2) // 3}"


def by_the_engine(school: School) -> Counter[tuple[str, str | None]]:
    """The same counts from the awards of the book, one by one."""
    found: Counter[tuple[str, str | None]] = Counter()
    for kept in school.book.awards(on=TODAY):
        award = kept.award
        holder = school.book.find_person(award.candidate)
        assert isinstance(holder, Person)
        held = {kind: holder.document_until(kind, TODAY) for kind in award.documents}
        told = standing(award, held, TODAY, school.book.rulings(award.id))
        due, mendable = award.dates.refresher_due, award.dates.full_practical_after
        assert due is not None
        assert mendable is not None
        past = (award.dates.grace_until or due) < TODAY <= mendable
        found["lapsed", None] += past and told.state != "withdrawn"
        if told.state in COUNTING:
            found["counting", None] += 1
            within = quarter(due)[:4] + quarter(due)[-1] < f"{TODAY.year + 1}{quarter(TODAY)[-1]}"
            found[("due", quarter(max(due, TODAY))) if within else ("later", None)] += 1
    return found


def test_counts_are_those_of_the_engine(two: Two) -> None:
    for school in (two.barn, two.loft):
        filled_with_everything(school)
        school.book.put_shares(("awards",), school.stamp())
    wanted = by_the_engine(two.barn) + by_the_engine(two.loft)

    found = {key: awards for key, (awards, schools) in seen(two).items() if schools == 2}
    assert found == {("due", "2027Q2"): 0, ("due", "2027Q3"): 0} | dict(wanted)
    assert {what for (what, _), awards in found.items() if awards} == set(get_args(What))
    assert len(set(found.values())) > 3


def test_an_award_whose_version_is_honoured_no_more_does_not_count(two: Two) -> None:
    granted(two.barn, 5)
    two.barn.book.put_shares(("awards",), two.barn.stamp())
    assert seen(two)["counting", None] == (5, 1)
    for version, until in ((2, TODAY), (3, TODAY - timedelta(1))):
        told = RUBRIC.model_dump(mode="json")
        more = {"version": version, "in_force": "2026-10-01"}
        text = type(RUBRIC).model_validate(
            {**told, **more, "transition": {"honoured_until": until, "top_up": True}}
        )
        two.barn.book.keep_text(text, two.barn.stamp())

        assert (("counting", None) in seen(two)) is (until >= TODAY)


WHO = tuple("cdefghij")
"""Candidates of lessons that two assessors saw."""


def by_two(school: School, number: int, candidate: str, day: date) -> None:
    """A lesson that two assessors scored."""
    first = made.sheet(number, practical=f"lesson-{number}", candidate=candidate, day=day)
    school.take(first)
    school.take(first.model_copy(update={"id": made.key(number + 1), "assessor": "bo"}))


def with_lessons(school: School, *months: tuple[int, str]) -> None:
    """In each month of 2026 a lesson of each candidate, who is called by one letter."""
    school.book.put_people((*people(), *map(made.person, WHO)), school.stamp)
    school.book.put_shares(("agreement",), school.stamp())
    each = [(month, who) for month, all_of_them in months for who in all_of_them]
    for n, (month, who) in enumerate(each):
        by_two(school, 2 * n + 1, who, date(2026, month, 1 + n % 28))


def test_what_was_marked_is_summed_over_schools_with_enough_candidates(two: Two) -> None:
    with_lessons(two.barn, (3, "cdefg"))
    with_lessons(two.loft, (3, "cdef"))
    with two.barn.book._reading() as reading:
        wanted = grouped_marks(reading.conn)
    address = two.cluster.address(FEDERATION, two.database)

    assert look(address).marks == wanted
    assert {one.sums.lessons for one in wanted} == {SMALLEST}
    by_two(two.loft, 20, "g", date(2026, 3, 9))
    assert {one.sums.lessons for one in look(address).marks} == {2 * SMALLEST}
    subjects = [sum(n for _, n in one.given) for one in look(address).marks]
    assert subjects == [2 * sum(n for _, n in one.given) for one in wanted]


@pytest.mark.parametrize(
    ("months", "lessons"),
    [
        pytest.param([(3, "cdefg")], 5, id="one month of five"),
        pytest.param([(3, "cccccc")], 0, id="six lessons of one"),
        pytest.param([(3, "cd"), (4, "cd"), (5, "ef")], 0, id="four in all"),
        pytest.param([(3, "cd"), (4, "de"), (5, "fgh")], 7, id="three months together"),
        pytest.param([(3, "cdefg"), (5, "cdef")], 5, id="four more wait"),
        pytest.param([(3, "cdefg"), (5, "cdef"), (8, "gc")], 11, id="with a fifth they go"),
        pytest.param([(3, "cd"), (11, "efg")], 0, id="this month is not over"),
        pytest.param([(3, "cdefg"), (11, "cdefg")], 5, id="a whole lot of this month"),
    ],
)
def test_marks_leave_a_school_in_lots(
    two: Two, months: list[tuple[int, str]], lessons: int
) -> None:
    with_lessons(two.barn, *months)

    seen = {one.sums.lessons for one in look(two.cluster.address(FEDERATION, two.database)).marks}
    assert seen == ({lessons} if lessons else set())


def test_two_answers_differ_by_a_lot_of_enough_candidates(two: Two) -> None:
    """Asked every month while one school goes on: what is new is of five candidates or nobody."""
    months = [(n, "".join(WHO[(n * k) % 8] for k in range(1, 1 + n % 5))) for n in range(1, 11)]
    with_lessons(two.barn, *months)
    address = two.cluster.address(FEDERATION, two.database)

    before, steps, last = 0, [], 0
    for month in range(2, 13):
        two.cluster.do(today_is(date(2026, month, 20)), two.database)
        found = {one.sums.lessons for one in look(address).marks} or {0}
        (lessons,) = found
        if lessons > before:
            new = [who for n, who in months if last < n < month]
            assert len(set("".join(new))) >= SMALLEST
            assert lessons - before <= len("".join(new))
            steps.append(lessons - before)
            before, last = lessons, month - 1
    assert len(steps) >= 2
    assert min(steps) >= SMALLEST


def test_nothing_but_rubrics_criteria_and_numbers_comes_out(two: Two) -> None:
    granted(two.barn, 5)
    two.barn.book.put_shares(SHARES, two.barn.stamp())
    with two.at(FEDERATION) as asking:
        words = {
            cell
            for name in OPEN
            for row in asking.execute(called(name)).fetchall()
            for cell in row
            if isinstance(cell, str)
        }

    quarters = {"2026Q4", "2027Q1", "2027Q2", "2027Q3"}
    whats = {"counting", "due", "later"}
    assert words == {"2026-11-01", "barn", "awards", "agreement", "bar-1"} | whats | quarters


# --- whether it is guarded --------------------------------------------------------------------


@pytest.mark.parametrize(
    ("statement", "what"),
    [
        pytest.param(
            "GRANT EXECUTE ON FUNCTION federation_awards() TO PUBLIC",
            "everybody may call federation_awards; take it back with REVOKE",
            id="open to everybody",
        ),
        pytest.param(
            "GRANT EXECUTE ON FUNCTION standfast_awards_of(text) TO federation",
            "federation may call standfast_awards_of; take it back with REVOKE",
            id="one school alone",
        ),
        pytest.param(
            "DROP FUNCTION federation_day()", "function federation_day is missing", id="dropped"
        ),
        pytest.param(
            "CREATE OR REPLACE FUNCTION standfast_shares(wanted text) RETURNS SETOF text"
            " LANGUAGE sql SECURITY DEFINER SET search_path = public, pg_temp"
            " AS $$SELECT school FROM keepers$$",
            "function standfast_shares is not as written",
            id="whoever did not agree",
        ),
        pytest.param(
            "ALTER FUNCTION standfast_sums_of(text) RESET search_path",
            "function standfast_sums_of is not as written",
            id="other tables",
        ),
    ],
)
def test_a_changed_function_is_named(cluster: Cluster, statement: str, what: str) -> None:
    database = cluster.new_database("founded")
    school = open_school(cluster.address(KEEPER, database))
    school.fill()
    assert school.book.audit(decide).faults == []
    with cluster.connect(OWNER, database) as owner:
        owner.execute(statement.encode())

    assert [str(fault) for fault in school.book.audit(decide).faults] == [what]
    school.book.close()


def test_the_day_is_that_of_utc_wherever_whoever_asks_says_that_she_is(cluster: Cluster) -> None:
    database = cluster.new_database("founded")
    with founding.owning(cluster.address(OWNER, database)) as conn:
        founding.admit_federation(conn, FEDERATION)
        conn.exec_driver_sql("SET TIME ZONE 'UTC'")
        today = str(conn.exec_driver_sql("SELECT CURRENT_DATE").scalar_one())

    found = look(cluster.address(FEDERATION, database))
    first = f"{today[:8]}01"
    assert (found.day, found.schools, found.awards, found.marks) == (first, (), (), ())
    with cluster.connect(OWNER, database) as asking:
        for zone in (b"Pacific/Kiritimati", b"Etc/GMT+12"):  # never on one day
            asking.execute(b"SET TIME ZONE '" + zone + b"'")
            assert asking.execute(b"SELECT standfast_today()").fetchone() == (today,)
