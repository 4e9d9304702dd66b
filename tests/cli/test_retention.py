"""What the school's rules let go: listed first, and only what may go."""

from __future__ import annotations

from datetime import datetime, timedelta, timezone
from pathlib import Path
from typing import Any

import pytest
from freezegun import freeze_time
from tests.cli.conftest import INES, MARIT, NAME, ON, RUBRIC, Run
from tests.schools import bytes_of_book, tables

from standfast.cli.options import moment
from standfast.desk.access import add_account
from standfast.desk.opening import open_desk

RULES = """
keep:
  names: P7Y
  accounts: P1Y
  sessions: P30D
  failures: P30D
  held: P6M
"""
WORDS = "four plain words here"
NOW = datetime(2026, 11, 24, 10, tzinfo=timezone.utc)


@pytest.fixture
def school(today: None, scored: Path, standfast: Run) -> Path:
    """The school with an award until 2028, and something of everything that may go."""
    del today
    assert standfast("award", INES, RUBRIC, "--certifier", MARIT, "--on", ON).code == 0
    with open_desk(scored, moment()) as desk:
        for login in ("left", "here"):
            add_account(desk, login, ["office"], WORDS)
        access = desk.book.access
        left, here = (access.find(login) for login in ("left", "here"))
        assert left
        assert here
        access.begin_session(here[0].id, b"a", NOW)
        access.begin_session(here[0].id, b"b", NOW - timedelta(days=20))
        access.failed("office", NOW)
        access.close("left", NOW)
        for what in ("one", "two"):
            desk.book.records.hold("r", "s", what, "no such person", "a", NOW)
        desk.book.records.settle(1, "office", "asked", NOW)
    return scored


def keep(school: Path, rules: str = RULES) -> None:
    with (school / "school.yaml").open("a", encoding="utf-8") as file:
        file.write(rules)


def listed(standfast: Run, on: str) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for one in standfast("book", "retention", "--on", on, "--json").json["leaving"]:
        found.setdefault(one["kind"], []).append(one["what"])
    return found


def test_without_rules_nothing_ever_goes(school: Path, standfast: Run) -> None:
    before = tables(school)
    told = standfast("book", "retention", "--on", "2099-01-01", "--json").json
    assert told["leaving"] == []
    assert set(told["rules"].values()) == {None}
    assert {one["what"] for one in told["never"]} >= {"the journal", "records of devices"}

    with freeze_time("2099-01-01 10:00:00", ignore=["pydantic"]):
        done = standfast("book", "retention", "--do-it")
    assert (done.code, "gone on 2099-01-01: 0 things" in done.out) == (0, True)
    assert tables(school) == before


@pytest.mark.parametrize(
    ("on", "kinds"),
    [
        pytest.param("2026-11-24", set(), id="today"),
        pytest.param("2026-12-04", set(), id="30 days after the older session"),
        pytest.param("2026-12-05", {"sessions"}, id="a day later"),
        pytest.param("2026-12-24", {"sessions"}, id="30 days after the others"),
        pytest.param("2026-12-25", {"sessions", "failures"}, id="a day after that"),
        pytest.param("2027-05-24", {"sessions", "failures"}, id="six months"),
        pytest.param("2027-05-25", {"sessions", "failures", "held"}, id="and a day"),
        pytest.param("2027-11-24", {"sessions", "failures", "held"}, id="a year"),
        pytest.param(
            "2027-11-25", {"sessions", "failures", "held", "accounts"}, id="a year and a day"
        ),
    ],
)
def test_each_rule_has_its_day(school: Path, standfast: Run, on: str, kinds: set[str]) -> None:
    keep(school)

    assert listed(standfast, on).keys() == kinds


def test_only_what_its_rule_is_about_goes(school: Path, standfast: Run) -> None:
    keep(school)
    found = listed(standfast, "2028-01-01")

    assert found["accounts"] == ["left"]
    assert found["held"] == ["held record 1"]
    assert found["sessions"] == ["a session of here"] * 2


def test_a_name_stays_until_the_award_has_been_over_for_so_long(
    school: Path, standfast: Run
) -> None:
    keep(school)
    award: Any = standfast("standing", "LT1-2026-0001", "--on", ON, "--json").json
    with open_desk(school, moment(ON)) as desk:
        (kept,) = desk.book.awards()
        last = kept.award.dates.last_day
    assert award
    on_it, after = last.replace(year=last.year + 7), timedelta(days=1)

    assert INES not in listed(standfast, on_it.isoformat()).get("names", [])
    assert INES in listed(standfast, (on_it + after).isoformat())["names"]
    told = standfast("book", "retention", "--on", (on_it + after).isoformat(), "--json").json
    (one,) = [one for one in told["leaving"] if one["what"] == INES]
    assert one["because"] == f"last day of the last award {last}"
    assert one["kept_for"] == "P7Y"


def test_names_of_approved_people_trainers_and_who_has_a_login_stay(
    school: Path, standfast: Run
) -> None:
    keep(school, "\nkeep: {names: P1D}\n")
    names = listed(standfast, "2027-01-10")["names"]
    with open_desk(school, moment(ON)) as desk:
        day = datetime(2027, 1, 8, tzinfo=timezone.utc).date()
        people = desk.book.people()
        approved = {p.id for p in people for a in (*p.scores, *p.certifies) if a.until > day}
        trainers = {t.trainer for p in people for t in p.trained_by if not t.until}
    assert approved
    assert trainers
    assert names

    assert not {*approved, *trainers, INES} & set(names)


def test_done_it_is_gone_and_the_book_is_sound(school: Path, standfast: Run) -> None:
    keep(school)
    with freeze_time("2036-01-01 10:00:00", ignore=["pydantic"]):
        told = listed(standfast, "2036-01-01")
        before = tables(school)
        done = standfast("book", "retention", "--do-it", "--clock-is-right", "--json").json
        after = tables(school)
        again = standfast("book", "retention", "--json").json

    assert done["gone"] is True
    assert [one["what"] for one in done["leaving"]] == [w for some in told.values() for w in some]
    assert INES in told["names"]
    assert NAME.encode() not in bytes_of_book(school)
    assert standfast("book", "audit").code == 0
    assert again["leaving"] == []
    assert len(after["journal"]) == len(before["journal"]) + len(told["names"])
    assert [row[0] for row in after["held"]] == [2]
    assert (after["sessions"], after["failures"], after["settled"]) == ([], [], [])
    assert len(after["accounts"]) == 1
    assert after["awards"] == before["awards"]
    assert after["records"] == before["records"]
    listed_erased = (school / "erased.txt").read_text("utf-8").splitlines()
    assert len(listed_erased) == len(told["names"])


def test_nothing_is_let_go_by_another_day_than_today(school: Path, standfast: Run) -> None:
    keep(school)
    before = tables(school)
    ran = standfast("book", "retention", "--do-it", "--on", "2050-01-01")

    assert (ran.code, "leave out --on" in ran.err) == (1, True)
    assert tables(school) == before


def test_a_rule_that_is_no_period_is_told_with_its_line(school: Path, standfast: Run) -> None:
    keep(school, "\nkeep:\n  names: for ever\n")
    ran = standfast("book", "retention")

    assert ran.code == 2
    assert "'for ever' is no period" in ran.err


@pytest.mark.parametrize(
    ("now", "doubted"),
    [
        pytest.param("2027-02-22", False, id="90 days after the newest entry"),
        pytest.param("2027-02-23", True, id="a day more"),
        pytest.param("2099-01-01", True, id="a clock that is far ahead"),
    ],
)
def test_a_clock_that_may_be_wrong_lets_nothing_go_before_somebody_says_that_it_is_right(
    school: Path, standfast: Run, now: str, doubted: bool
) -> None:
    keep(school)
    before = tables(school)
    with freeze_time(f"{now} 10:00:00", ignore=["pydantic"]):
        asked = standfast("book", "retention")
        done = standfast("book", "retention", "--do-it")

        assert ("--do-it wants --clock-is-right" in asked.flat) == doubted
        if not doubted:
            assert (done.code, tables(school) == before) == (0, False)
            return
        assert (done.code, tables(school) == before) == (1, True)
        assert (
            f"the clock says {now}, and the newest entry of the book is of 2026-11-24" in done.err
        )
        sure = standfast("book", "retention", "--do-it", "--clock-is-right")
        assert (sure.code, tables(school) == before) == (0, False)
