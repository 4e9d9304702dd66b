"""`standfast book merge`: a laptop that worked alone comes back."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest
from tests.cli.conftest import INES, MARIT, NAME, NUMBER, ON, RUBRIC, SHEETS, Run, sheet
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
    nothing = standfast("book", "merge", LAPTOP)

    assert (asked.code, asked.json["done"], unchanged) == (0, False, before)
    assert (done.code, done.json["done"], done.json["added"]) == (0, True, asked.json["added"])
    assert done.json["added"] > 0
    assert "0 entries added" in again.out
    assert nothing.out.endswith("there is nothing to take in\n")
    assert standfast("book", "merge", LAPTOP, "--json").json["added"] == 0
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
    assert f"award {NUMBER} already stands on the same sheets" in told.out
    assert (partly.code, partly.json["done"]) == (1, True)
    assert standfast("book", "audit").code == 0


RULE = ("--certifier", MARIT, "--because", "asked to", "--on")


def both(scored: Path, standfast: Run, *commands: tuple[object, ...]) -> None:
    """Does this in the book before a laptop takes a copy of it."""
    for command in commands:
        said = standfast(*command)
        assert said.code == 0, said.err
    shutil.copytree(scored, "laptop", ignore=shutil.ignore_patterns("laptop"))


def done(standfast: Run, *command: object, laptop: bool = False) -> None:
    said = standfast(*command, *(("--school", "laptop") if laptop else ()))
    assert said.code == 0, said.err


def merged(standfast: Run) -> list[str]:
    """Takes in what can be, and gives why the rest is held back."""
    told = standfast("book", "merge", LAPTOP, "--yes", "--partly", "--json")
    assert told.code in {0, 1}, told.err
    assert standfast("book", "audit").code == 0
    return [one["why"] for one in told.json["held"]]


def state(standfast: Run, on: str) -> str:
    return str(standfast("standing", INES, "--on", on, "--json").json["awards"][0]["state"])


@pytest.mark.parametrize(
    ("withdrawn", "reinstated"),
    [
        pytest.param("2026-11-23", "2026-11-25", id="before"),
        pytest.param("2026-11-25", "2026-11-23", id="after"),
        pytest.param("2026-11-24", "2026-11-24", id="on that day"),
    ],
)
def test_what_was_withdrawn_here_no_laptop_brings_back(
    scored: Path, standfast: Run, withdrawn: str, reinstated: str
) -> None:
    both(scored, standfast, AWARD, ("suspend", INES, *RULE, "2026-11-21"))
    done(standfast, "withdraw", INES, *RULE, withdrawn)
    done(standfast, "reinstate", INES, *RULE, reinstated, laptop=True)
    why = merged(standfast)

    assert len(why) == 1
    assert f"{NUMBER} was withdrawn here on {withdrawn}" in why[0]
    assert state(standfast, "2026-11-30") == "withdrawn"


def test_nor_with_an_appeal_that_was_about_something_else(scored: Path, standfast: Run) -> None:
    appeal = ("appeal", INES, "--against", NUMBER, "--because", "so", "--on", "2026-11-22")
    answer = ("answer", "appeal-2026-1", "--decider", "joaquim-ferrer-llobet", "--because", "it is")
    both(scored, standfast, AWARD, ("suspend", INES, *RULE, "2026-11-21"))
    done(standfast, "withdraw", INES, *RULE, "2026-11-22")
    done(standfast, *appeal, laptop=True)
    done(standfast, *answer, "--upheld", "--on", "2026-11-25", laptop=True)
    done(standfast, "reinstate", INES, *RULE, "2026-11-26", laptop=True)

    assert [f"{NUMBER} was withdrawn here" in why for why in merged(standfast)] == [True]
    assert state(standfast, "2026-11-30") == "withdrawn"


def test_an_upheld_appeal_on_the_laptop_brings_back_what_both_knew_was_withdrawn(
    scored: Path, standfast: Run
) -> None:
    appeal = ("appeal", INES, "--against", NUMBER, "--because", "so", "--on", "2026-11-22")
    answer = ("answer", "appeal-2026-1", "--decider", "joaquim-ferrer-llobet", "--because", "it is")
    both(scored, standfast, AWARD, ("withdraw", INES, *RULE, "2026-11-21"), appeal)
    done(standfast, *answer, "--upheld", "--on", "2026-11-25", laptop=True)
    done(standfast, "reinstate", INES, *RULE, "2026-11-26", laptop=True)

    assert merged(standfast) == []
    assert state(standfast, "2026-11-30") == "current"


def test_nothing_is_ruled_from_before_what_was_ruled_here(scored: Path, standfast: Run) -> None:
    both(scored, standfast, AWARD)
    done(standfast, "suspend", INES, *RULE, "2026-11-22")
    done(standfast, "reinstate", INES, *RULE, "2026-11-25")
    done(standfast, "withdraw", INES, *RULE, "2026-11-23", laptop=True)

    assert merged(standfast) == [
        "it was reinstated on 2026-11-25; what is ruled now holds from that day on or later"
    ]
    assert state(standfast, "2026-11-30") == "current"


def test_who_may_not_confirm_any_more_rules_on_nothing_and_awards_nothing(
    sandhof: Path, standfast: Run
) -> None:
    """Marit's approval was ended here, a day before the laptop granted with it."""
    done(standfast, "people")
    shutil.copytree(sandhof, "laptop", ignore=shutil.ignore_patterns("laptop"))
    of_people(sandhof, MARIT, "2026-11-19")
    done(standfast, "people")
    for name in SHEETS:
        done(standfast, "score", f"laptop/{sheet(name)}", laptop=True)
    done(standfast, *AWARD, laptop=True)
    done(standfast, "suspend", INES, *RULE, "2026-11-21", laptop=True)
    award, ruling = merged(standfast)

    assert award.startswith(f"{MARIT} may not confirm decisions under {RUBRIC} on {ON}")
    assert ruling == "rests on an entry that was held back"


def test_sheets_of_who_was_not_approved_that_day_are_held_back_with_the_award(
    sandhof: Path, standfast: Run
) -> None:
    done(standfast, "people")
    shutil.copytree(sandhof, "laptop", ignore=shutil.ignore_patterns("laptop"))
    of_people(sandhof, "hana-dvorakova", "2026-10-12")
    done(standfast, "people")
    for name in SHEETS:
        done(standfast, "score", f"laptop/{sheet(name)}", laptop=True)
    done(standfast, *AWARD, laptop=True)
    why = merged(standfast)

    assert why[0].startswith(f"hana-dvorakova was not approved to score {RUBRIC} on 2026-10-13")
    assert why[1:] == ["rests on an entry that was held back"] * 2
    assert NUMBER not in standfast("history", INES).out


def of_people(school: Path, person: str, until: str) -> None:
    """Ends all approvals of that person in the people file on that day."""
    file = school / "candidates" / "people.yaml"
    head, mark, rest = file.read_text("utf-8").partition(f"  - person: {person}\n")
    own, following, others = rest.partition("\n  - person: ")
    ended = re.sub(r"(rubric: [a-z0-9-]+, since: [0-9-]+, until:) [0-9-]+", rf"\1 {until}", own)
    file.write_text(head + mark + ended + following + others, "utf-8")


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


def test_the_folder_of_the_other_school_will_do(apart: Path, standfast: Run) -> None:
    del apart
    assert standfast(*AWARD, "--school", "laptop").code == 0
    by_file = standfast("book", "merge", LAPTOP, "--json")
    by_folder = standfast("book", "merge", LAPTOP.parent, "--json")

    assert (by_folder.code, by_folder.json) == (by_file.code, by_file.json)
    assert by_folder.json["added"] > 0


def test_what_is_no_copy_is_refused_in_words(apart: Path, standfast: Run) -> None:
    del apart
    itself = standfast("book", "merge", ".")
    assert (itself.code, "is this record book itself" in itself.err) == (1, True)
    empty = standfast("book", "merge", "candidates")
    assert (empty.code, "candidates/standfast.db: there is no" in empty.err) == (2, True)
    Path("other.db").write_bytes(b"no record book")
    assert standfast("book", "merge", "other.db").code == 2
    missing = standfast("book", "merge", "away/not-there.db")
    assert (missing.code, "there is no such file" in missing.err) == (2, True)
