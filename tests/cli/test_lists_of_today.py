"""What is signed speaks of the moment in which it is signed, and of no other day."""

from __future__ import annotations

import json
import secrets
from datetime import date, datetime, timezone
from pathlib import Path

import pytest
from freezegun import freeze_time
from tests.cli.conftest import INES, MARIT, NUMBER, ON, PASSPHRASE, RUBRIC, Run

from standfast.desk import giving, issuing, keyring
from standfast.desk.opening import Desk, Moment, open_desk
from standfast.seal.status import is_set

NOW = datetime(2026, 11, 24, 10, tzinfo=timezone.utc)
BEFORE, LATER = date(2026, 11, 21), date(2026, 12, 24)


def taken_back(desk: Desk, purpose: str, place: int) -> bool:
    content = issuing.status_lists(desk, PASSPHRASE, [purpose])[purpose]
    return is_set(json.loads(content)["credentialSubject"]["encodedList"], place)


@pytest.mark.parametrize(
    ("command", "purpose"),
    [("withdraw", issuing.REVOKED), ("suspend", issuing.SUSPENDED)],
)
def test_what_was_ruled_stands_in_the_list_whatever_day_is_asked_about(
    scored: Path, standfast: Run, tmp_path: Path, command: str, purpose: str
) -> None:
    with freeze_time(NOW, ignore=["pydantic"]):
        assert standfast("award", INES, RUBRIC, "--certifier", MARIT, "--on", ON).code == 0
        with open_desk(scored, Moment(NOW, "office", secrets.token_bytes)) as desk:
            keyring.make(desk, None, PASSPHRASE)
            (made,) = giving.give_out(desk, NUMBER, PASSPHRASE, tmp_path / "out").made
            place = made.credential.issued.place
        ruled = (command, NUMBER, "--certifier", MARIT, "--because", "as the holder asked")
        assert standfast(*ruled).code == 0
    with open_desk(scored, Moment(NOW, "office", secrets.token_bytes)) as desk:
        for day in (BEFORE, NOW.date(), LATER):
            assert taken_back(desk.on_day(day), purpose, place), day


def test_a_certificate_covers_what_is_left_today_whatever_day_is_asked_about(
    scored: Path, standfast: Run, tmp_path: Path
) -> None:
    with freeze_time(NOW, ignore=["pydantic"]):
        assert standfast("award", INES, RUBRIC, "--certifier", MARIT, "--on", ON).code == 0
        reduced = ("reduce", NUMBER, "--without", "knee-hang-rise", "--certifier", MARIT)
        assert standfast(*reduced, "--because", "a spot needs both arms").code == 0
    with open_desk(scored, Moment(NOW, "office", secrets.token_bytes)) as desk:
        keyring.make(desk, None, PASSPHRASE)
        covers = []
        for day in (BEFORE, NOW.date()):
            (given,) = giving.give_out(desk.on_day(day), NUMBER, PASSPHRASE, tmp_path).made
            covers.append(set(given.credential.issued.covers or ()))

    assert covers[0] == covers[1]
    assert covers[0]
    assert "knee-hang-rise" not in covers[0]


@pytest.mark.usefixtures("scored")
@pytest.mark.parametrize("command", [("publish",), ("sign", NUMBER)])
def test_the_command_knows_no_other_day(standfast: Run, command: tuple[str, ...]) -> None:
    told = standfast(*command, "--out", "out", "--on", "2026-11-21")

    assert (told.code, "No such option: --on" in told.err) == (2, True)
