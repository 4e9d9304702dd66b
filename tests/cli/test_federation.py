"""Schools of one database share counts: agree, withdraw, let the federation's role in, see sums."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from tests.cli.conftest import INES, NAME, Run
from tests.store.cluster import FEDERATION, KEEPER, NEIGHBOUR, OWNER, Cluster

from standfast.cli.federation import _table, quarters_from
from standfast.store.federation import AwardCount


@pytest.mark.parametrize(
    ("day", "quarters"),
    [
        ("2026-01-01", ["2026Q1", "2026Q2", "2026Q3", "2026Q4"]),
        ("2026-11-20", ["2026Q4", "2027Q1", "2027Q2", "2027Q3"]),
        ("2026-12-31", ["2026Q4", "2027Q1", "2027Q2", "2027Q3"]),
        ("2026-04-01", ["2026Q2", "2026Q3", "2026Q4", "2027Q1"]),
    ],
)
def test_quarters_go_on_into_the_next_year(day: str, quarters: list[str]) -> None:
    assert quarters_from(day) == quarters


def test_what_is_told_by_fewer_schools_says_of_how_many() -> None:
    counts = (
        AwardCount("low-bar", "counting", None, 31, 3),
        *(AwardCount("low-bar", "due", f"2026Q{n}", 5, 1) for n in range(1, 5)),
        AwardCount("low-bar", "later", None, 0, 1),
        AwardCount("roll", "counting", None, 6, 1),
        AwardCount("walk", "counting", None, 5, 1),
        *(AwardCount("walk", "due", f"2026Q{n}", 0, 1) for n in range(1, 5)),
        AwardCount("walk", "later", None, 5, 1),
    )

    said = _table(counts, quarters_from("2026-01-01"))
    assert said[2].split() == ["low-bar", "31", "-", "5", "5", "5", "5", "0"]
    assert said[5:] == [
        "  low-bar: by quarter 1 of 3 schools",
        "  roll: by quarter 0 of 1 school",
    ]


def test_a_school_says_what_it_shares_and_takes_it_back(scored: Path, standfast: Run) -> None:
    first = standfast("federation", "agree", "--json")
    again = standfast("federation", "agree")
    fewer = standfast("federation", "agree", "--what", "awards")
    wrong = standfast("federation", "agree", "--what", "names")
    gone = standfast("federation", "withdraw", "--json")

    assert first.json["shares"] == ["awards", "agreement"]
    assert first.json["entry"]
    assert first.json["may_ask"] == []
    assert "as before" in again.out
    assert "shares awards\n" in fewer.out
    assert "fewer than 5" in " ".join(fewer.out.split())
    assert (wrong.code, "say awards or agreement" in wrong.err) == (2, True)
    assert gone.json["shares"] == []
    assert standfast("book", "audit").code == 0


@pytest.mark.of_the_file(why="it moves the books itself")
def test_the_federation_sees_sums_over_those_who_agreed(
    scored: Path, standfast: Run, cluster: Cluster, tmp_path: Path
) -> None:
    database = cluster.new_database()
    owner, asking = (cluster.address(role, database) for role in (OWNER, FEDERATION))
    loft = shutil.copytree(scored, tmp_path / "loft")
    settings = (loft / "school.yaml").read_text("utf-8")
    (loft / "school.yaml").write_text(settings.replace("school: sandhof", "school: loft"), "utf-8")
    assert standfast("book", "move", owner, "--role", KEEPER).code == 0
    assert standfast("book", "move", owner, "--role", NEIGHBOUR, "--school", loft).code == 0

    before = standfast("federation", "show", asking)
    keeper = standfast("federation", "admit", owner, "--role", KEEPER)
    admitted = standfast("federation", "admit", owner, "--role", FEDERATION)
    nobody = standfast("federation", "show", asking)
    agreed = standfast("federation", "agree")
    standfast("federation", "agree", "--what", "agreement", "--school", loft)
    seen = standfast("federation", "show", asking)
    told = standfast("federation", "show", asking, "--json")
    dismissed = standfast("federation", "dismiss", owner, "--role", FEDERATION)
    twice = standfast("federation", "dismiss", owner, "--role", FEDERATION)
    after = standfast("federation", "show", asking)

    assert (before.code, "federation admit" in before.err) == (2, True)
    assert (keeper.code, "keeps the book of 'sandhof'" in keeper.err) == (2, True)
    assert admitted.code == 0, admitted.err
    assert "may ask for the sums now: federation\n" in agreed.out
    assert "taking part: 0 schools" in nobody.out
    assert "  loft: agreement\n  sandhof: agreement, awards\n" in seen.out
    assert "no group is large enough" in seen.out
    assert "student stays on the ground" in " ".join(seen.out.split())
    assert told.json["schools"][0] == {"school": "loft", "shares": ["agreement"]}
    assert told.json["smallest_group"] == 5
    assert "caution" in told.json
    for name in (NAME, INES):
        assert name not in seen.out + told.out
    assert (dismissed.code, after.code) == (0, 2), dismissed.err + after.out
    assert (twice.code, "may do so: nobody" in twice.err) == (2, True)
    assert standfast("book", "audit").code == 0


@pytest.mark.of_the_file(why="it moves the books itself")
def test_what_was_shared_stays_when_tables_are_brought_up_to_date(
    scored: Path, standfast: Run, cluster: Cluster
) -> None:
    database = cluster.new_database()
    owner, asking = (cluster.address(role, database) for role in (OWNER, FEDERATION))
    standfast("book", "move", owner, "--role", KEEPER)
    standfast("federation", "admit", owner, "--role", FEDERATION)
    standfast("federation", "agree")
    with cluster.connect("super", database) as server:
        server.execute("UPDATE meta SET value = '7' WHERE key = 'format'")
        server.execute("DROP TABLE shared; ALTER TABLE rulings DROP COLUMN day, DROP COLUMN kind")
        server.execute("DROP FUNCTION federation_awards(), standfast_awards_of(text)")
    with cluster.connect(OWNER, database) as older:
        older.execute("DROP FUNCTION standfast_sums_of(text)")
        older.execute(
            "CREATE FUNCTION standfast_sums_of(whose text) RETURNS TABLE(rubric text) LANGUAGE sql"
            " AS 'SELECT whose'"
        )

    made = standfast("book", "tables", owner)
    admitted = standfast("federation", "admit", owner, "--role", FEDERATION)
    seen = standfast("federation", "show", asking, "--json")

    assert (made.code, admitted.code, seen.code) == (0, 0, 0), made.err + admitted.err + seen.err
    assert seen.json["schools"] == [{"school": "sandhof", "shares": ["agreement", "awards"]}]
    assert standfast("book", "audit").code == 0
