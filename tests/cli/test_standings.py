"""How awards stand on a day, and what was known of them: the command as a person runs it.

The clock stands still at instants of our choosing; entries are made at them, as in life.
"""

from __future__ import annotations

import re
import shutil
import subprocess
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
from freezegun import freeze_time
from tests.cli.conftest import INES, MARIT, ROOT, RUBRIC, SHEETS, Run, sheet
from tests.schools import copied

from standfast.cli.app import run

NUMBER = "LT1-2026-0001"
BECAUSE = ("--certifier", MARIT, "--because", "asked to")


def settings(**changes: str) -> str:
    """The invented school's settings, as of a school that lives by the common calendar."""
    text = (ROOT / "candidates" / "school.yaml").read_text("utf-8")
    text = re.sub(r"^(reference_every|invented):.*\n", "", text, flags=re.MULTILINE)
    for key, value in changes.items():
        text, found = re.subn(rf"^{key}:.*$", f"{key}: {value}", text, flags=re.MULTILINE)
        assert found == 1
    return text


@pytest.fixture(scope="module")
def granted(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A school whose one award was granted on 20 November 2026, in the morning."""
    root = tmp_path_factory.mktemp("standing") / "school"
    with freeze_time("2026-11-20T09:00:00Z"):
        assert run(["new", str(root), "--name", "Sandhof"]) == 0
        (root / "school.yaml").write_text(settings(), "utf-8")
        shutil.copyfile(ROOT / "candidates" / "people.yaml", root / "candidates" / "people.yaml")
        shutil.copytree(ROOT / "candidates" / "practicals", root / "candidates" / "practicals")
        for name in SHEETS:
            assert run(["score", str(root / sheet(name)), "--school", str(root)]) == 0
        for command in (["decide"], ["award", "--certifier", MARIT]):
            assert run([*command, INES, RUBRIC, "--school", str(root)]) == 0
    return root


@pytest.fixture
def school(granted: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A copy of it; commands run inside its folder."""
    monkeypatch.chdir(copied(granted, tmp_path / "school"))
    return tmp_path / "school"


def stands(standfast: Run, *options: str) -> dict[str, Any]:
    """How the one award stands."""
    ran = standfast("standing", INES, *options, "--json")
    assert ran.code == 0, ran.err
    (award,) = ran.json["awards"]
    return {**award, "as_known": ran.json["as_known"], "asked": ran.json["on"]}


# What was known, and what is known now


@pytest.fixture
def suspended_late(school: Path, standfast: Run) -> Path:
    """On 10 December it is entered that the award had been suspended since 1 December."""
    with freeze_time("2026-12-10T12:00:00Z"):
        assert standfast("suspend", NUMBER, *BECAUSE, "--on", "2026-12-01").code == 0
    return school


@pytest.mark.usefixtures("suspended_late")
@freeze_time("2027-02-01T12:00:00Z")
def test_the_past_is_answered_as_the_book_stood_then(standfast: Run) -> None:
    assert stands(standfast, "--on", "2026-12-05")["state"] == "current"
    assert stands(standfast, "--on", "2026-12-09")["as_known"] == "2026-12-09"
    assert stands(standfast, "--on", "2026-12-10")["state"] == "suspended"


@pytest.mark.usefixtures("suspended_late")
@freeze_time("2027-02-01T12:00:00Z")
def test_the_day_asked_about_is_told_from_the_day_of_knowledge(standfast: Run) -> None:
    by_day = {
        known: stands(standfast, "--on", "2026-12-05", "--as-known", known)["state"]
        for known in ("2026-12-05", "2026-12-09", "2026-12-10", "2027-02-01")
    }
    before = stands(standfast, "--on", "2026-11-30", "--as-known", "2027-02-01")

    assert by_day == {
        "2026-12-05": "current",
        "2026-12-09": "current",
        "2026-12-10": "suspended",
        "2027-02-01": "suspended",
    }
    assert before["state"] == "current"


@pytest.mark.usefixtures("suspended_late")
@freeze_time("2027-02-01T12:00:00Z")
def test_what_is_left_out_unasked_is_said(standfast: Run) -> None:
    unasked = standfast("standing", INES, "--on", "2026-12-05")
    asked = standfast("standing", INES, "--on", "2026-12-05", "--as-known", "2026-12-05")
    today = standfast("standing", INES)

    assert "as the book stood on 2026-12-05; --as-known 2027-02-01 answers with" in unasked.err
    assert (asked.err, today.err) == ("", "")
    assert "as the book stood on 2026-12-05" in asked.out
    assert "as the book stood" not in today.out


@pytest.mark.usefixtures("suspended_late")
@freeze_time("2027-02-01T12:00:00Z")
def test_a_future_day_can_be_asked_about_but_not_known(standfast: Run) -> None:
    told = stands(standfast, "--on", "2029-01-01")
    unknown = standfast("standing", INES, "--as-known", "2027-02-02")

    assert (told["state"], told["as_known"]) == ("suspended", "2027-02-01")
    assert unknown.code == 2
    assert "--as-known 2027-02-02: has not come yet; today is 2027-02-01" in unknown.err


@pytest.mark.usefixtures("school")
@freeze_time("2027-02-01T12:00:00Z")
def test_before_anything_was_entered_nothing_is_known(standfast: Run) -> None:
    then = standfast("standing", INES, "--on", "2026-11-19")
    since = standfast("standing", INES, "--on", "2026-11-19", "--as-known", "2027-02-01")
    number = standfast("standing", NUMBER, "--on", "2026-11-19", "--as-known", "2027-02-01")

    assert (then.code, since.code, number.code) == (2, 1, 1)
    assert "held no award on 2026-11-19" in since.err
    assert "was granted on 2026-11-20, after 2026-11-19" in number.err


@freeze_time("2027-02-01T12:00:00Z")
def test_in_the_invented_school_only_a_day_that_is_named_counts(
    suspended_late: Path, standfast: Run
) -> None:
    file = suspended_late / "school.yaml"
    file.write_text(file.read_text("utf-8") + "invented: true\n", "utf-8")

    assert stands(standfast, "--on", "2026-12-05")["state"] == "suspended"
    assert stands(standfast, "--on", "2026-12-05", "--as-known", "2026-12-05")["state"] == "current"


@pytest.mark.usefixtures("suspended_late")
@freeze_time("2027-02-01T12:00:00Z")
@pytest.mark.parametrize(
    ("question", "now"),
    [
        pytest.param(("due", "--quarter", "2027Q4"), 0, id="due"),
        pytest.param(("holds", NUMBER), 1, id="holds"),
        pytest.param(("print", "record", INES), 0, id="print record"),
        pytest.param(("print", "due", "--quarter", "2027Q4"), 0, id="print due"),
        pytest.param(("assessors",), 0, id="assessors"),
        pytest.param(("appeals",), 0, id="appeals"),
    ],
)
def test_every_question_knows_both_days(
    standfast: Run, question: tuple[str, ...], now: int
) -> None:
    then = standfast(*question, "--on", "2026-12-05")
    since = standfast(*question, "--on", "2026-12-05", "--as-known", "2027-02-01")
    too_late = standfast(*question, "--as-known", "2027-02-02")

    assert (then.code, since.code) == (0, now)
    assert "as the book stood on 2026-12-05" in then.err
    assert "as the book stood" not in since.err
    assert too_late.code == 2


def test_no_certificate_of_an_earlier_day_is_given_out_once_it_was_ruled_on(
    suspended_late: Path, standfast: Run
) -> None:
    with freeze_time("2027-02-01T12:00:00Z"):
        one = standfast("print", "certificate", NUMBER, "--on", "2026-11-25")
        all_of_them = standfast("print", "certificates", "--all", "--on", "2026-11-25", "--json")
        assert standfast("reinstate", NUMBER, *BECAUSE).code == 0
        again = standfast("print", "certificate", NUMBER, "--on", "2026-11-25", "--json")

    assert (one.code, one.out) == (1, "")
    assert f"{NUMBER} is suspended: suspended on 2026-12-01" in one.err
    assert all_of_them.json["files"] == []
    assert again.code == 0
    words = subprocess.run(
        ["pdftotext", suspended_late / again.json["files"][0], "-"], check=True, capture_output=True
    ).stdout.decode()
    assert "As the record book stood on 25 November 2026" in " ".join(words.split())


@freeze_time("2027-02-01T12:00:00Z")
def test_no_certificate_names_an_erased_person(school: Path, standfast: Run) -> None:
    assert school.is_dir()
    assert standfast("book", "forget", INES, "--yes").code == 0

    ran = standfast("print", "certificate", NUMBER)

    assert ran.code == 1
    assert "its holder's name was erased" in ran.err


def test_the_schools_settings_are_those_that_were_known(school: Path, standfast: Run) -> None:
    with freeze_time("2026-12-10T12:00:00Z"):
        (school / "school.yaml").write_text(settings() + "reference_every: P1M\n", "utf-8")
        assert standfast("people").code == 0

    with freeze_time("2027-02-01T12:00:00Z"):
        then = standfast("assessors", "--on", "2026-12-09", "--json").json["approvals"]
        since = standfast("assessors", "--on", "2026-12-10", "--json").json["approvals"]

    assert {one["state"] for one in then} == {"current"}
    assert {one["state"] for one in since} > {"current"}


@pytest.mark.usefixtures("suspended_late")
@freeze_time("2027-02-01T12:00:00Z")
def test_a_decision_is_not_kept_from_a_past_knowledge(standfast: Run) -> None:
    kept = standfast("decide", INES, RUBRIC, "--as-known", "2026-12-05", "--keep")

    assert kept.code == 2
    assert "--keep" in kept.err


# What today is: the school's own zone says


@pytest.mark.parametrize(
    ("zone", "today", "state"),
    [
        # Insurance, and with it the award, ends on 31 August 2027.
        pytest.param("Pacific/Honolulu", "2027-08-31", "current", id="the last day still"),
        pytest.param("Europe/Vienna", "2027-09-01", "lapsed", id="the day after already"),
        pytest.param("Pacific/Kiritimati", "2027-09-01", "lapsed", id="the farthest east"),
    ],
)
@freeze_time("2027-08-31T23:30:00Z")
def test_the_schools_zone_decides_what_today_is(
    school: Path, standfast: Run, zone: str, today: str, state: str
) -> None:
    (school / "school.yaml").write_text(settings(zone=zone), "utf-8")

    told = stands(standfast)

    assert (told["asked"], told["state"]) == (today, state)


@pytest.mark.parametrize(
    ("instant", "today"),
    [
        pytest.param("2027-12-31T22:59:59Z", "2027-12-31", id="last second of the year"),
        pytest.param("2027-12-31T23:00:00Z", "2028-01-01", id="first second of the year"),
        pytest.param("2028-02-28T23:00:00Z", "2028-02-29", id="leap day begins"),
        pytest.param("2028-02-29T22:59:59Z", "2028-02-29", id="leap day ends"),
        pytest.param("2028-02-29T23:00:00Z", "2028-03-01", id="the day after"),
        pytest.param("2027-02-28T23:00:00Z", "2027-03-01", id="no leap day"),
        pytest.param("2027-03-27T23:00:00Z", "2027-03-28", id="the day of 23 hours begins"),
        pytest.param("2027-03-28T21:59:59Z", "2027-03-28", id="the day of 23 hours ends"),
        pytest.param("2027-03-28T22:00:00Z", "2027-03-29", id="after the day of 23 hours"),
        pytest.param("2027-10-30T22:00:00Z", "2027-10-31", id="the day of 25 hours begins"),
        pytest.param("2027-10-31T22:59:59Z", "2027-10-31", id="the day of 25 hours ends"),
        pytest.param("2027-10-31T23:00:00Z", "2027-11-01", id="after the day of 25 hours"),
    ],
)
@pytest.mark.usefixtures("school")
def test_a_day_has_the_hours_it_has_in_that_zone(standfast: Run, instant: str, today: str) -> None:
    with freeze_time(instant):
        assert standfast("standing", "--json").json["on"] == today


@pytest.mark.parametrize(
    ("zone", "entered", "day"),
    [
        pytest.param("Europe/Vienna", "2027-03-28T21:59:59.999Z", "2027-03-28", id="23 hours"),
        pytest.param("Europe/Vienna", "2027-03-28T22:00:00.000Z", "2027-03-29", id="after them"),
        pytest.param("Australia/Sydney", "2027-04-04T13:59:59.999Z", "2027-04-04", id="25 hours"),
        pytest.param("Australia/Sydney", "2027-04-04T14:00:00.000Z", "2027-04-05", id="after 25"),
        pytest.param("Europe/Vienna", "2026-12-31T22:59:59.999Z", "2026-12-31", id="year's last"),
        pytest.param("Europe/Vienna", "2026-12-31T23:00:00.000Z", "2027-01-01", id="year's first"),
    ],
)
def test_an_entry_is_known_from_the_day_on_which_it_was_made(
    school: Path, standfast: Run, zone: str, entered: str, day: str
) -> None:
    (school / "school.yaml").write_text(settings(zone=zone), "utf-8")
    with freeze_time(entered):
        assert standfast("suspend", NUMBER, *BECAUSE).code == 0
    eve = str(date.fromisoformat(day) - timedelta(days=1))

    with freeze_time("2028-01-10T12:00:00Z"):
        on = "--on", "2029-01-01"
        assert stands(standfast, *on, "--as-known", day)["state"] == "suspended"
        assert stands(standfast, *on, "--as-known", eve)["state"] == "lapsed"


# Which awards


@pytest.mark.usefixtures("suspended_late")
@freeze_time("2027-02-01T12:00:00Z")
def test_everybody_is_listed_and_a_list_can_be_narrowed(standfast: Run) -> None:
    everybody = standfast("standing")
    site = standfast("standing", "--site", "Sandhof hall", "--json")
    none = standfast("standing", "--rubric", RUBRIC, "--site", "Mill studio")

    assert everybody.out.startswith("2027-02-01: 1 suspended\n")
    assert NUMBER in everybody.out
    assert [one["certificate"] for one in site.json["awards"]] in ([NUMBER], [])
    assert none.code == 1
    assert "no award under low-trapeze-1 at Mill studio stood on 2027-02-01" in none.err


@pytest.mark.usefixtures("school")
@pytest.mark.parametrize("narrowed", [("--rubric", "low-trapeze"), ("--site", "Sandhof")])
def test_a_site_or_rubric_that_is_not_known_says_the_nearest(
    standfast: Run, narrowed: tuple[str, str]
) -> None:
    with freeze_time("2027-02-01T12:00:00Z"):
        standing, due = standfast("standing", *narrowed), standfast("due", *narrowed)

    assert (standing.code, due.code) == (2, 2)
    assert "did you mean '" in standing.err


@freeze_time("2027-02-01T12:00:00Z")
def test_what_is_taken_from_a_scope_is_told(school: Path, standfast: Run) -> None:
    assert school.is_dir()
    assert stands(standfast)["reduced"] is None
    assert standfast("reduce", NUMBER, "--without", "tuck-turn", *BECAUSE).code == 0

    told = standfast("standing", NUMBER).out

    assert stands(standfast)["state"] == "current"
    assert "reduced: since 2027-02-01, backward turn under the bar in a tuck" in told


@pytest.mark.usefixtures("school")
def test_a_name_that_is_nobodys_suggests_people_and_numbers(standfast: Run) -> None:
    with freeze_time("2027-02-01T12:00:00Z"):
        near, far = standfast("standing", "ines-carvalho"), standfast("standing", "xyz")

    assert (near.code, far.code) == (2, 2)
    assert f"did you mean '{INES}'?" in near.err
    assert len(far.err.splitlines()) == 1
