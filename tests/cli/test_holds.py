"""What an outsider is told of a certificate: whether it counts, for what, and nothing else."""

from __future__ import annotations

from pathlib import Path
from typing import get_args

import pytest
from tests.cli.conftest import INES, MARIT, ON, RUBRIC, Run

from standfast.cli.options import moment
from standfast.desk.certificates import NO_CERTIFICATE
from standfast.desk.opening import open_desk
from standfast.model.award import COUNTING, State

NUMBER = "LT1-2026-0001"
SECRETS = (
    *("ines", "carvalho", "inês", "marit", "solheim", "hana", "tendai", "wrist"),
    *(
        "suspend",
        "withdr",
        "reinstat",
        "reduc",
        "appeal",
        "complain",
        "refresher",
        "lapse",
        "renew",
    ),
)
RULE = ("--certifier", MARIT, "--because", "her wrist is being treated")
SKILL = "rise from the hang on both knees to the seat"


@pytest.fixture
def awarded(scored: Path, standfast: Run) -> Path:
    assert standfast("award", INES, RUBRIC, "--certifier", MARIT, "--on", ON).code == 0
    return scored


def told(standfast: Run, on: str) -> str:
    """Both the words and the JSON, in small letters."""
    said = standfast("holds", NUMBER, "--on", on)
    return (said.out + said.err + standfast("holds", NUMBER, "--on", on, "--json").out).casefold()


def test_it_says_what_counts_until_when_and_for_what(awarded: Path, standfast: Run) -> None:
    said = standfast("holds", NUMBER, "--on", ON)

    assert said.code == 0
    words = " ".join(said.out.split())
    assert f"certificate {NUMBER} of Sandhof School of Low Trapeze and Tumbling" in words
    assert f"counts on {ON}" in words
    assert "last day 2027-08-31, that day included" in words
    assert SKILL in words
    assert "condition: " in words
    assert "student stays on the ground" in words
    assert "lets nobody teach anything" in words
    assert standfast("holds", NUMBER, "--on", ON, "--json").json["counts"] is True


@pytest.mark.parametrize(
    ("ruling", "on"),
    [
        pytest.param(None, ON, id="current"),
        pytest.param("suspend", "2026-11-22", id="suspended"),
        pytest.param("withdraw", "2026-11-22", id="withdrawn"),
        pytest.param(None, "2027-09-01", id="lapsed"),
        pytest.param(None, "2026-11-19", id="not begun"),
        pytest.param("reduce", "2026-11-22", id="reduced"),
    ],
)
def test_no_name_reason_or_ruling_is_in_its_words_or_its_json(
    awarded: Path, standfast: Run, ruling: str | None, on: str
) -> None:
    if ruling:
        which = ("--without", "knee-hang-rise") if ruling == "reduce" else ()
        assert standfast(ruling, INES, *which, *RULE, "--on", "2026-11-21").code == 0
        standfast("appeal", INES, "--against", NUMBER, "--because", "not so", "--on", "2026-11-21")

    said = told(standfast, on)

    assert NUMBER.casefold() in said
    assert [secret for secret in SECRETS if secret in said] == []


def test_suspended_withdrawn_and_lapsed_give_one_answer(awarded: Path, standfast: Run) -> None:
    standfast("suspend", INES, *RULE, "--on", "2026-11-21")
    standfast("withdraw", INES, *RULE, "--on", "2026-11-25")

    days = ("2026-11-21", "2026-11-25", "2027-09-01")
    answers = {told(standfast, on).replace(on, "that day") for on in days}

    assert len(answers) == 1
    assert "does not count on that day" in answers.pop()
    assert standfast("holds", NUMBER, "--on", "2026-11-21").code == 1
    assert standfast("holds", NUMBER, "--on", "2026-11-20").code == 0


def test_a_reduced_one_counts_for_what_is_left(awarded: Path, standfast: Run) -> None:
    standfast("reduce", INES, "--without", "knee-hang-rise", *RULE, "--on", "2026-11-21")

    before = standfast("holds", NUMBER, "--on", ON, "--json").json["skills"]
    after = standfast("holds", NUMBER, "--on", "2026-11-21", "--json").json["skills"]

    assert set(before) - set(after) == {SKILL}


def test_what_counts_is_what_a_certificate_is_printed_for() -> None:
    assert set(get_args(State)) == COUNTING | set(NO_CERTIFICATE)
    assert not COUNTING & set(NO_CERTIFICATE)


@pytest.mark.parametrize(
    ("on", "code"),
    [pytest.param("2027-08-31", 0, id="last day"), pytest.param("2027-09-01", 1, id="day after")],
)
def test_the_last_day_counts(awarded: Path, standfast: Run, on: str, code: int) -> None:
    assert standfast("holds", NUMBER, "--on", on).code == code


@pytest.mark.parametrize(
    "asked", ["LT1-2026-0002", INES, "", "01a135e2-84c0-74f7-bccf-f0fa8cbd9186"]
)
def test_an_unknown_number_says_no_and_a_name_is_no_number(
    awarded: Path, standfast: Run, asked: str
) -> None:
    said = standfast("holds", asked, "--on", ON)

    assert said.code == 1
    assert f"has no certificate '{asked}'" in said.err
    assert NUMBER not in said.err


def test_the_award_s_own_key_is_no_number_either(awarded: Path, standfast: Run) -> None:
    with open_desk(awarded, moment(ON)) as desk:
        kept = desk.book.find_award(NUMBER)

    assert kept
    assert standfast("holds", kept.award.id, "--on", ON).code == 1
    assert standfast("holds", f" {NUMBER.lower()} ", "--on", ON).code == 0
