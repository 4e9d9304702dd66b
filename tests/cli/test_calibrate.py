"""`standfast calibrate`: from a file, shown or entered, and what follows."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from tests.cli.conftest import MARIT, Run

SHEET = "candidates/references/sandhof-2026-10-13-tendai.yaml"
TENDAI = "tendai-mukwashi"


@pytest.fixture
def panel(scored: Path) -> Path:
    """The school with two assessors' sheets of the practical, and a third one's file."""
    from tests.cli.conftest import ROOT

    folder = scored / "candidates" / "references"
    folder.mkdir()
    (folder / Path(SHEET).name).write_bytes((ROOT / SHEET).read_bytes())
    return scored


def changed(school: Path, *swaps: tuple[str, str]) -> None:
    """Writes the file otherwise."""
    text = (school / SHEET).read_text("utf-8")
    for old, new in swaps:
        assert old in text
        text = text.replace(old, new)
    (school / SHEET).write_text(text, "utf-8")


@pytest.mark.usefixtures("panel")
def test_it_shows_what_the_sheet_comes_to_and_enters_nothing(standfast: Run) -> None:
    before = standfast("history", TENDAI, "--json").json
    told = standfast("calibrate", SHEET)

    assert told.code == 0
    assert "IN STEP (not entered: no --certifier was named)" in told.out
    assert "220 of 222 marks as agreed by the panel; 0 of 14 criteria otherwise" in told.out
    assert "short-cues, try 1 of S2 at front-support: yes, agreed: no" in told.out
    assert "stays on the ground" in " ".join(told.out.split())
    assert standfast("history", TENDAI, "--json").json == before


@pytest.mark.usefixtures("panel")
def test_a_result_that_is_held_keeps_the_approval_current(standfast: Run) -> None:
    entered = standfast("calibrate", SHEET, "--certifier", MARIT, "--json")
    sheets = standfast("history", "ines-carvalho-teles").flat

    assert entered.code == 0
    assert entered.json["result"] == "in step"
    assert entered.json["standing"]["state"] == "current"
    assert "in step in reference practical sandhof-2026-10-13" in standfast("history", TENDAI).flat
    assert TENDAI not in sheets
    assert "01a1471c" not in sheets  # no evidence about the candidate
    assert standfast("book", "replay").out.splitlines()[-1] == (
        "1 calibration likewise, 0 came out otherwise"
    )
    assert standfast("book", "audit").code == 0
    assert standfast("book", "rebuild").code == 0
    assert standfast("assessors", "--json").json["approvals"]


@pytest.mark.usefixtures("panel")
def test_nobody_is_calibrated_twice_by_one_practical(standfast: Run) -> None:
    standfast("calibrate", SHEET, "--certifier", MARIT)
    again = standfast("calibrate", SHEET, "--certifier", MARIT)

    assert again.code == 1
    assert "knows what was agreed" in again.err


def test_too_few_marks_settle_nothing_and_leave_the_approval_as_it_was(
    panel: Path, standfast: Run
) -> None:
    text = (panel / SHEET).read_text("utf-8")
    text = re.sub(r'  - \{"criterion": .*"level": \d\}\n', "", text).replace("ratings:\n", "")
    (panel / SHEET).write_text(text, "utf-8")
    before = standfast("assessors", "--json").json
    told = standfast("calibrate", SHEET, "--certifier", MARIT, "--json")

    assert told.code == 1
    assert told.json["result"] == "not settled"
    assert told.json["more_to_settle"] > 0
    assert standfast("assessors", "--json").json == before


def test_a_student_held_back_that_she_marked_as_let_go_is_a_difference_and_not_grave(
    panel: Path, standfast: Run
) -> None:
    changed(panel, ('"choice": "held-back"', '"choice": "let-go"'))
    told = standfast("calibrate", SHEET, "--json").json
    choices = next(one for one in told["of_criteria"] if one["criterion"] == "let-go-or-held")

    assert choices["alike"] < choices["agreed"]
    assert told["grave"] == []  # the candidate let nobody go too early


def test_an_approval_ends_at_once_when_what_nobody_may_miss_was_missed(
    panel: Path, standfast: Run
) -> None:
    for number, name in enumerate(("hana", "leilani"), 1):
        file = panel / "candidates" / "practicals" / f"lesson-2026-10-13-{name}.yaml"
        text = file.read_text("utf-8")
        old = re.search(r'sheet: "(.*)"', text)
        assert old
        # The same lesson, corrected: the panel heard her vouch for rigging.
        text = text.replace(old[1], f"01a135e2-84c0-7000-8000-00000000000{number}")
        text += 'incidents:\n  - {"at": 120, "criterion": "vouches-for-rigging"}\n'
        text += f'corrects: {{"of": "{old[1]}", "because": "left out at first"}}\n'
        file.write_text(text, "utf-8")
        scored = standfast("score", file)
        assert scored.code == 0, scored.err
    told = standfast("calibrate", SHEET, "--certifier", MARIT, "--json").json

    assert told["result"] == "not in step"
    assert len(told["grave"]) == 1
    assert told["standing"]["state"] == "lapsed"


@pytest.mark.parametrize(
    ("swaps", "code", "words"),
    [
        ([("tendai-mukwashi", "hana-dvorakova")], 2, "has a sheet of practical sandhof-2026-10-13"),
        ([("tendai-mukwashi", "tendai-mukwash")], 2, "did you mean 'tendai-mukwashi'?"),
        ([("sandhof-2026-10-13", "sandhof-2026-10-14")], 2, "no practical in the record book"),
        ([("ines-carvalho-teles", "parvin-shirazi-nooshabadi")], 2, "candidate is parvin"),
        ([("01a1471c-3e00-7a11-8b42-5c0d7e61a9f3", "01a135e2-84c0-72b6-9d91-2892589e5b20")],
         2, "is in the record book as evidence"),
        ([('"level": 4}', '"level": 9}'), ('"skill": "sit"', '"skill": "sitt"')], 2, "sitt"),
    ],
)  # fmt: skip
def test_a_sheet_that_cannot_be_held_beside_the_panel_is_refused(
    panel: Path, standfast: Run, swaps: list[tuple[str, str]], code: int, words: str
) -> None:
    changed(panel, *swaps)
    refused = standfast("calibrate", SHEET, "--certifier", MARIT)

    assert refused.code == code
    assert words in refused.err
    assert "reference practical" not in standfast("history", TENDAI).flat


def test_one_sheet_is_no_panel(panel: Path, standfast: Run) -> None:
    changed(panel, ("sandhof-2026-10-13", "mill-2026-11-03"), ("2026-10-13T17", "2026-11-03T17"))
    refused = standfast("calibrate", SHEET)

    assert refused.code in {1, 2}
    assert "a panel has 2 or more" in refused.err or "no practical" in refused.err


@pytest.mark.usefixtures("panel")
def test_who_may_not_hold_the_result_does_not(standfast: Run) -> None:
    refused = standfast("calibrate", SHEET, "--certifier", TENDAI)

    assert refused.code == 1
    assert "somebody else must hold the result" in refused.err


@pytest.mark.usefixtures("panel")
def test_words_why_without_a_certifier_are_refused(standfast: Run) -> None:
    assert "name a --certifier too" in standfast("calibrate", SHEET, "--because", "so").err
