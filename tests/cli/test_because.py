"""The words why, and other free text: there, not too long, and naming nobody."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from freezegun import freeze_time
from tests.cli.conftest import INES, MARIT, ON, RUBRIC, Run, sheet

NUMBER = "LT1-2026-0001"
REFERENCE = ("reference", "hana-dvorakova", RUBRIC, "--practical", "hall-1", "--result", "in-step")
COMMANDS = (
    ("suspend", NUMBER, "--certifier", MARIT),
    ("reduce", NUMBER, "--without", "tuck-turn", "--certifier", MARIT),
    ("appeal", INES, "--against", NUMBER),
    ("complain", INES),
    ("answer", "appeal-2026-1", "--upheld", "--decider", MARIT),
    (*REFERENCE, "--certifier", MARIT),
)


@pytest.fixture
def awarded(scored: Path, standfast: Run) -> Path:
    assert standfast("award", INES, RUBRIC, "--certifier", MARIT, "--on", ON).code == 0
    return scored


@pytest.mark.usefixtures("awarded")
@pytest.mark.parametrize("command", COMMANDS, ids=[command[0] for command in COMMANDS])
def test_words_why_are_said_shortly_and_name_nobody(
    standfast: Run, command: tuple[str, ...]
) -> None:
    size = standfast("book", "audit", "--json").json["entries"]

    for text, code, said in (
        ("", 2, "no reason is given; say why in a sentence"),
        (" \n ", 2, "no reason is given"),
        ("x" * 4001, 2, "the reason has 4001 characters, and 4000 are the most"),
        ("Hana Dvořáková was asleep", 1, "it names hana-dvorakova"),
    ):
        refused = standfast(*command, "--because", text, "--on", ON)
        assert (refused.code, said in refused.err) == (code, True), refused.err
    assert standfast("book", "audit", "--json").json["entries"] == size


@pytest.mark.usefixtures("awarded")
def test_just_short_enough_is_kept(standfast: Run) -> None:
    why = ("--certifier", MARIT, "--because", " " + "x" * 4000)

    assert standfast("suspend", NUMBER, *why, "--on", ON).code == 0


@pytest.mark.usefixtures("awarded")
@pytest.mark.parametrize("form", [(), ("--json",)], ids=["words", "json"])
def test_what_does_not_fit_is_said_in_words(standfast: Run, form: tuple[str, ...]) -> None:
    reduce = ("reduce", NUMBER, "--without", "Tuck Turn", "--certifier", MARIT)

    refused = standfast(*reduce, "--because", "hurt", "--on", ON, *form)

    told = refused.json["error"] if form else refused.err
    assert refused.code == 2
    assert "without: 'Tuck Turn' is no short name; use small letters" in told


def test_an_error_of_our_own_making_is_not_hidden(monkeypatch: pytest.MonkeyPatch) -> None:
    from standfast.cli.running import run

    def wrong(*_: object, **__: object) -> int:
        raise ValueError("a slip in the code")

    with pytest.raises(ValueError, match="a slip in the code"):
        run(wrong, [])


@pytest.mark.parametrize("key", ["note", "correction"])
def test_a_name_in_a_sheet_is_refused_at_its_line(scored: Path, standfast: Run, key: str) -> None:
    said = "Hana Dvořáková stood in the way"
    if key == "note":
        text = (scored / sheet("lesson-2026-11-10-tendai")).read_text("utf-8")
        text = text.partition("notes:")[0]
        text += f"notes:\n  - {{text: {json.dumps(said, ensure_ascii=False)}}}\n"
    else:
        text = (scored / sheet("lesson-2026-10-13-hana")).read_text("utf-8")
        old = text.split('sheet: "')[1].split('"')[0]
        text = text.replace(old, "01a135e2-84c0-74f7-bccf-f0fa8cbd9999")
        text += f"corrects:\n  of: {json.dumps(old)}\n  because: {said}\n"
    (scored / "named.yaml").write_text(text, "utf-8")
    lines = text.splitlines()
    line = 1 + next(n for n, words in enumerate(lines) if said in words)

    refused = standfast("score", "named.yaml")

    assert refused.code == 2
    assert f"named.yaml:{line}:" in refused.err
    assert "it names hana-dvorakova, and would go on doing so" in refused.err


@pytest.mark.usefixtures("sandhof")
@pytest.mark.parametrize("command", ["due", "standing", "assessors", "appeals"])
@pytest.mark.parametrize(("on", "code"), [("1899-12-31", 2), ("1900-01-01", 0), ("2999-12-31", 0)])
def test_a_day_outside_the_common_calendar_is_no_day(
    standfast: Run, command: str, on: str, code: int
) -> None:
    ran = standfast(command, "--on", on)

    assert (ran.code, "lies outside the years 1900 to 2999" in ran.err) == (code, code == 2)


@pytest.mark.usefixtures("school_of_today")
@freeze_time("2026-11-25T12:00:00Z")
@pytest.mark.parametrize(
    ("command", "why"),
    [
        pytest.param(COMMANDS[0], "what is ruled is entered on its day or later", id="ruling"),
        pytest.param(COMMANDS[3], "what was received or answered is entered", id="complaint"),
        pytest.param(COMMANDS[5], "what was scored is entered on its day", id="reference"),
    ],
)
def test_a_day_ahead_is_refused_in_words_that_fit(
    standfast: Run, command: tuple[str, ...], why: str
) -> None:
    refused = standfast(*command, "--because", "asked to", "--on", "2026-11-26")

    assert (refused.code, why in refused.err) == (1, True)
    assert "an award begins" not in refused.err


@pytest.fixture
def school_of_today(awarded: Path) -> Path:
    """The school, as one that lives by the common calendar."""
    file = awarded / "school.yaml"
    lines = file.read_text("utf-8").splitlines(keepends=True)
    file.write_text("".join(line for line in lines if not line.startswith("invented")), "utf-8")
    return awarded
