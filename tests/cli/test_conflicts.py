"""A conflict of interest at every place where somebody judges: refused, or allowed and shown."""

from __future__ import annotations

import subprocess
from pathlib import Path

import pytest
from tests.cli.conftest import INES, MARIT, ON, RUBRIC, Run, sheet

HANA, AURELIO = "hana-dvorakova", "aurelio-tamm-nieminen"
TIE = "    conflicts:\n      - {{person: {0}, kind: household, since: {1}}}\n"


def record_tie(school: Path, who: str, other: str, since: str = "2026-01-01") -> None:
    """Adds the tie to who's lines in the people file."""
    file = school / "candidates" / "people.yaml"
    head, mark, rest = file.read_text("utf-8").partition(f"  - person: {who}\n")
    name, rest = rest.split("\n", 1)
    file.write_text(f"{head}{mark}{name}\n{TIE.format(other, since)}{rest}", "utf-8")


def allow(school: Path) -> None:
    file = school / "school.yaml"
    said = file.read_text("utf-8")
    file.write_text(said.replace("interest: refused", "interest: shown"), "utf-8")


def on_paper(standfast: Run, what: str, on: str = ON) -> str:
    file = standfast("print", what, INES, "--on", on, "--json").json["files"][0]
    words = subprocess.run(["pdftotext", file, "-"], check=True, capture_output=True).stdout
    return " ".join(words.decode().split())


@pytest.mark.parametrize(("who", "other"), [(HANA, INES), (INES, HANA)], ids=["assessor", "other"])
def test_a_sheet_of_somebody_tied_is_refused_at_its_line(
    sandhof: Path, standfast: Run, who: str, other: str
) -> None:
    record_tie(sandhof, who, other)
    lines = (sandhof / sheet("lesson-2026-10-13-hana")).read_text("utf-8").splitlines()
    line = 1 + next(n for n, words in enumerate(lines) if words.startswith("assessor:"))

    refused = standfast("score", sheet("lesson-2026-10-13-hana"))

    assert refused.code == 2
    assert f"hana.yaml:{line}:" in refused.err
    assert "recorded conflict of interest with the candidate on 2026-10-13" in refused.err
    assert "household" not in refused.err
    assert "conflict of interest" in standfast("check").out
    assert standfast("score", sheet("lesson-2026-10-13-leilani")).code == 0


def test_asking_in_the_terminal_is_refused_before_the_lesson(sandhof: Path, standfast: Run) -> None:
    record_tie(sandhof, HANA, INES)
    lesson = ("--candidate", INES, "--rubric", RUBRIC, "--assessor", HANA, "--practical", "hall-1")

    refused = standfast("score", *lesson)

    assert refused.code == 1
    assert f"{HANA} has a recorded conflict of interest with {INES}" in refused.err


def test_shown_the_papers_say_it_without_saying_which_tie(sandhof: Path, standfast: Run) -> None:
    allow(sandhof)
    record_tie(sandhof, HANA, INES)
    record_tie(sandhof, MARIT, INES)
    for name in (
        "lesson-2026-10-13-hana",
        "lesson-2026-10-13-leilani",
        "lesson-2026-11-03-aurelio",
    ):
        assert standfast("score", sheet(name)).code == 0

    granted = standfast("award", INES, RUBRIC, "--certifier", MARIT, "--on", ON)

    assert granted.code == 0, granted.err
    assert "has a conflict of interest, as the paper says" in granted.out
    certificate, record = on_paper(standfast, "certificate"), on_paper(standfast, "record")
    assert (
        "Marit Solheim Aune had a conflict of interest with the holder and an assessor of the"
        " evidence had a conflict of interest with the holder; the school's rules allow this."
    ) in certificate
    assert "1 sheet by an assessor who had a conflict of interest with the candidate" in record
    assert "who had a conflict of interest, which the school's rules allow" in record
    assert "household" not in certificate + record
    assert standfast("book", "replay").code == 0
    allow_no_more = (sandhof / "school.yaml").read_text("utf-8").replace(": shown", ": refused")
    (sandhof / "school.yaml").write_text(allow_no_more, "utf-8")
    standfast("people")
    assert standfast("book", "rebuild").code == 0
    assert standfast("book", "audit").code == 0


def test_a_tie_that_comes_to_light_later_leaves_the_sheet_out(scored: Path, standfast: Run) -> None:
    record_tie(scored, AURELIO, INES)
    standfast("people")

    decided = standfast("decide", INES, RUBRIC, "--on", ON, "--keep")

    assert decided.code == 1
    assert "conflict of interest with the candidate on that day" in " ".join(decided.out.split())
    assert standfast("book", "replay").code == 0


def test_nobody_confirms_or_rules_on_somebody_tied_to_her(scored: Path, standfast: Run) -> None:
    record_tie(scored, INES, MARIT, since="2026-11-21")
    award = ("award", INES, RUBRIC, "--certifier", MARIT)
    rule = ("suspend", INES, "--certifier", MARIT, "--because", "asked to")

    refused = standfast(*award, "--on", "2026-11-21")
    assert refused.code == 1
    assert f"{MARIT} has a recorded conflict of interest with the candidate" in refused.err
    assert standfast(*award, "--on", ON).code == 0
    late = standfast(*rule, "--on", "2026-11-22")
    assert (late.code, "conflict of interest with the holder" in late.err) == (1, True)
    allow(scored)
    assert standfast(*rule, "--on", "2026-11-22").code == 0
    assert (
        "suspended on 22 November 2026 by somebody with a conflict of interest, which the rules"
        " allow"
    ) in on_paper(standfast, "record", "2026-11-22")


def test_check_finds_ties_that_can_never_count(sandhof: Path, standfast: Run) -> None:
    record_tie(sandhof, MARIT, MARIT)
    file = sandhof / "candidates" / "people.yaml"
    said = file.read_text("utf-8").replace(
        "since: 2024-10-01}", "since: 2024-10-01, until: 2024-09-30}"
    )
    file.write_text(said, "utf-8")

    found = standfast("check").out

    assert f"{MARIT} is the same person; name the other one" in found
    assert "it ends on 2024-09-30, before it begins on 2024-10-01" in found


def test_the_history_tells_of_the_tie_and_of_its_days(scored: Path, standfast: Run) -> None:
    record_tie(scored, INES, MARIT)
    standfast("people")

    told = standfast("history", INES).flat

    assert "conflict of interest with Marit Solheim Aune from 2026-01-01" in told


def test_forgetting_the_other_leaves_the_tie_without_a_name(scored: Path, standfast: Run) -> None:
    record_tie(scored, INES, "ngozi-okwuosa-bello")
    standfast("people")

    assert standfast("book", "forget", "ngozi-okwuosa-bello", "--yes").code == 0

    assert "conflict of interest with erased person" in standfast("history", INES).flat
    assert standfast("book", "audit").code == 0
