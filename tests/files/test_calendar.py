"""Calendar files: written by one library, read by another, and renewed in place."""

from __future__ import annotations

from datetime import date, datetime, timezone
from pathlib import Path
from typing import Any

import pytest
import vobject

from standfast.files.calendar import Day, days_in, write_calendar
from standfast.problems import StandfastError

NOW = datetime(2026, 11, 20, 9, tzinfo=timezone.utc)
LATER = datetime(2026, 11, 27, 9, tzinfo=timezone.utc)
ADA = Day("1@hall", date(2026, 11, 30), "Ada Berg: refresher", "pass it; then, rest")
KEI = Day("2@hall", date(2026, 11, 1), "Kei Ito, Ünïcøde " + "long " * 30, "a\nb; c, d")


def write(file: Path, *days: Day, now: datetime = NOW) -> None:
    write_calendar(file, days, "Hall (invented)", now)


def read(file: Path) -> dict[str, Any]:
    """The events by UID, as vobject reads them."""
    calendar = vobject.readOne(file.read_text("utf-8"))
    return {event.uid.value: event for event in calendar.vevent_list}


def test_another_parser_reads_all_day_events(tmp_path: Path) -> None:
    file = tmp_path / "due.ics"
    write(file, ADA, KEI)

    events = read(file)
    assert events["1@hall"].dtstart.value == date(2026, 11, 30)
    assert not hasattr(events["1@hall"], "dtend")
    assert events["1@hall"].description.value == "pass it; then, rest"
    assert events["2@hall"].summary.value == KEI.summary
    assert events["2@hall"].description.value == "a\nb; c, d"
    assert {event.sequence.value for event in events.values()} == {"0"}
    assert {event.transp.value for event in events.values()} == {"TRANSPARENT"}


def test_the_file_keeps_to_the_form_of_rfc_5545(tmp_path: Path) -> None:
    file = tmp_path / "due.ics"
    write(file, ADA, KEI)

    raw = file.read_bytes()
    assert raw.startswith(b"BEGIN:VCALENDAR\r\n")
    assert raw.count(b"\n") == raw.count(b"\r\n")
    # RFC 5545, 3.1: lines should not be longer than 75 octets.
    assert max(len(line) for line in raw.split(b"\r\n")) <= 75
    assert b"METHOD" not in raw
    assert b"DTSTART;VALUE=DATE:20261130" in raw
    assert raw.count(b"DTSTAMP:20261120T090000Z") == 2


def test_what_did_not_change_stays_as_it_was_to_the_byte(tmp_path: Path) -> None:
    file = tmp_path / "due.ics"
    write(file, ADA, KEI)
    before = file.read_bytes()

    write(file, ADA, KEI, now=LATER)

    assert file.read_bytes() == before


def test_what_changed_has_a_higher_sequence_under_the_same_uid(tmp_path: Path) -> None:
    file = tmp_path / "due.ics"
    write(file, ADA)
    moved = Day(ADA.uid, date(2026, 11, 15), ADA.summary, ADA.description)
    write(file, moved, now=LATER)

    [event] = read(file).values()
    assert event.dtstart.value == date(2026, 11, 15)
    assert event.sequence.value == "1"
    assert event.dtstamp.value == LATER


def test_what_is_done_is_cancelled_once(tmp_path: Path) -> None:
    file = tmp_path / "due.ics"
    write(file, ADA, KEI)
    write(file, KEI, now=LATER)
    once = file.read_bytes()
    write(file, KEI, now=LATER)

    event = read(file)["1@hall"]
    assert (event.status.value, event.sequence.value) == ("CANCELLED", "1")
    assert read(file)["2@hall"].status.value == "CONFIRMED"
    assert file.read_bytes() == once


def test_what_comes_back_is_confirmed_again(tmp_path: Path) -> None:
    file = tmp_path / "due.ics"
    for days in ((ADA,), (), (ADA,)):
        write(file, *days)

    event = read(file)["1@hall"]
    assert (event.status.value, event.sequence.value) == ("CONFIRMED", "2")


def test_what_is_cancelled_keeps_its_day_and_none_of_its_words(tmp_path: Path) -> None:
    file = tmp_path / "due.ics"
    write(file, ADA, KEI)
    write(file, KEI)

    event = read(file)["1@hall"]
    assert event.dtstart.value == ADA.on
    assert event.summary.value == "Nothing is due any more"
    assert not hasattr(event, "description")
    assert "Ada" not in file.read_text("utf-8")


def test_the_days_of_a_file_are_those_that_stand(tmp_path: Path) -> None:
    file = tmp_path / "due.ics"
    assert days_in(file) == {}
    write(file, ADA, KEI)
    write(file, KEI)

    assert days_in(file) == {KEI.uid: KEI.on}


@pytest.mark.parametrize(
    "content",
    [
        pytest.param("a shopping list", id="text"),
        pytest.param("BEGIN:VCALENDAR\r\nPRODID:-//other\r\nEND:VCALENDAR\r\n", id="another's"),
        pytest.param("", id="empty"),
    ],
)
def test_a_file_of_somebody_else_is_left_alone(tmp_path: Path, content: str) -> None:
    file = tmp_path / "mine.ics"
    file.write_bytes(content.encode())

    with pytest.raises(StandfastError, match="is no calendar that a due list wrote"):
        write(file, ADA)

    assert file.read_bytes() == content.encode()
