"""`standfast book merge`: a laptop that worked alone comes back."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from tests.cli.conftest import INES, MARIT, NAME, ON, RUBRIC, Run
from tests.schools import bytes_of_book

pytestmark = pytest.mark.of_the_file(why="a laptop's copy is a file")

LAPTOP = Path("laptop/standfast.db")
AWARD = ("award", INES, RUBRIC, "--certifier", MARIT, "--on", ON)


@pytest.fixture
def apart(scored: Path) -> Path:
    """The school, and a laptop with a copy of it."""
    shutil.copytree(scored, "laptop", ignore=shutil.ignore_patterns("laptop"))
    return scored


def test_what_the_laptop_did_is_told_then_taken_in_once(apart: Path, standfast: Run) -> None:
    del apart
    assert standfast(*AWARD, "--school", "laptop").code == 0
    before = standfast("book", "audit", "--json").json
    asked = standfast("book", "merge", LAPTOP, "--json")
    unchanged = standfast("book", "audit", "--json").json
    done = standfast("book", "merge", LAPTOP, "--yes", "--json")
    again = standfast("book", "merge", LAPTOP, "--yes")

    assert (asked.code, asked.json["done"], unchanged) == (0, False, before)
    assert (done.code, done.json["done"], done.json["added"]) == (0, True, asked.json["added"])
    assert done.json["added"] > 0
    assert "0 entries added" in again.out
    assert standfast("standing", INES, "--on", ON).code == 0
    audit = standfast("book", "audit", "--json")
    assert (audit.code, audit.json["entries"]) == (0, before["entries"] + done.json["added"])


def test_what_contradicts_is_listed_and_nothing_is_taken_in_unless_it_is_asked_for(
    apart: Path, standfast: Run
) -> None:
    del apart
    for school in ("laptop", "."):
        assert standfast(*AWARD, "--school", school).code == 0
    before = standfast("book", "audit", "--json").json["entries"]
    told = standfast("book", "merge", LAPTOP, "--yes")
    held = standfast("book", "audit", "--json").json["entries"]
    partly = standfast("book", "merge", LAPTOP, "--yes", "--partly", "--json")

    assert (told.code, held) == (1, before)
    assert "award-granted" in told.out
    assert "has a number or id that something else has here" in told.out
    assert (partly.code, partly.json["done"]) == (1, True)
    assert standfast("book", "audit").code == 0


def test_whom_the_laptop_erased_no_older_copy_brings_back(
    apart: Path, standfast: Run, typed: Run
) -> None:
    assert typed("backup", "--out", "before.backup").code == 0
    assert standfast("book", "forget", INES, "--yes", "--school", "laptop").code == 0
    asked = standfast("book", "merge", LAPTOP, "--json")
    assert not (apart / "erased.txt").exists()
    done = standfast("book", "merge", LAPTOP, "--yes")
    listed = (apart / "erased.txt").read_text("utf-8").split()
    for left in apart.glob("standfast.db*"):
        left.unlink()
    back = typed("book", "restore", "before.backup", "--into", ".", "--json")

    assert asked.json["erased"] == listed[:1]
    assert f"the name of {listed[0]} was erased there, and now here too" in done.out
    assert back.json["forgotten"] == listed[:1]
    assert NAME.encode() not in bytes_of_book(apart)


def test_what_both_changed_is_told(apart: Path, standfast: Run) -> None:
    for school, name in ((Path("laptop"), "Ines There"), (apart, "Ines Here")):
        people = school / "candidates" / "people.yaml"
        people.write_text(people.read_text("utf-8").replace(NAME, name), "utf-8")
        told = standfast("people", people, "--school", school)
        assert told.code == 0, told.err
    told = standfast("book", "merge", LAPTOP, "--yes")

    kept = f"{INES}: name, contact or site changed in both; it stays as it is here"
    assert kept in told.out
    assert standfast("book", "audit").code == 0


def test_what_is_no_copy_is_refused_in_words(apart: Path, standfast: Run) -> None:
    del apart
    Path("other.db").write_bytes(b"no record book")
    assert standfast("book", "merge", "other.db").code == 2
    missing = standfast("book", "merge", "away/not-there.db")
    assert (missing.code, "there is no such file" in missing.err) == (2, True)
