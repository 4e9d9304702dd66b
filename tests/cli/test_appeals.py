"""Appeal, complain, answer: on screen, in the history, and what of it is on paper."""

from __future__ import annotations

import json
import subprocess
from pathlib import Path

import pytest
from tests.cli.conftest import INES, MARIT, ON, RUBRIC, Run

NUMBER = "LT1-2026-0001"
WHY, THEREFORE = "the second lesson was not looked at", "it was looked at, twice"
HANA, TENDAI, AURELIO, JOAQUIM = (
    "hana-dvorakova",
    "tendai-mukwashi",
    "aurelio-tamm-nieminen",
    "joaquim-ferrer-llobet",
)
RULE = ("--certifier", MARIT, "--because", "asked to stop")


@pytest.fixture
def awarded(scored: Path, standfast: Run) -> Path:
    assert standfast("award", INES, RUBRIC, "--certifier", MARIT, "--on", ON).code == 0
    return scored


def appeal(standfast: Run, on: str = "2026-11-23", against: str = NUMBER) -> None:
    said = standfast("appeal", INES, "--against", against, "--because", WHY, "--on", on)
    assert said.code == 0, said.err


def listed(standfast: Run, on: str) -> list[dict[str, object]]:
    found: list[dict[str, object]] = standfast("appeals", "--on", on, "--json").json["appeals"]
    return found


def on_paper(standfast: Run, what: str, on: str) -> str:
    file = standfast("print", what, INES, "--on", on, "--json").json["files"][0]
    words = subprocess.run(["pdftotext", file, "-"], check=True, capture_output=True).stdout
    return " ".join(words.decode().split())


def test_an_appeal_against_a_suspension_leaves_it_until_it_is_lifted(
    awarded: Path, standfast: Run
) -> None:
    standfast("suspend", INES, *RULE, "--on", "2026-11-21")
    appeal(standfast)
    held = standfast("print", "certificate", INES, "--on", "2026-11-24")
    assert (held.code, "is suspended" in held.err) == (1, True)

    said = standfast(
        *("answer", "appeal-2026-1", "--decider", JOAQUIM, "--upheld"),
        *("--because", THEREFORE, "--on", "2026-11-26"),
    )

    assert said.code == 0, said.err
    assert f"reinstate {NUMBER}" in said.out
    still = standfast("print", "certificate", INES, "--on", "2026-11-26")
    assert (still.code, "is suspended" in still.err) == (1, True)
    assert standfast("reinstate", NUMBER, *RULE, "--on", "2026-11-27").code == 0
    assert standfast("print", "certificate", INES, "--on", "2026-11-27").code == 0


def test_an_upheld_appeal_lets_a_withdrawn_award_be_reinstated(
    awarded: Path, standfast: Run
) -> None:
    standfast("withdraw", INES, *RULE, "--on", "2026-11-21")
    appeal(standfast)
    back = ("reinstate", NUMBER, *RULE, "--on")
    assert standfast(*back, "2026-11-24").code == 1

    answer = ("answer", "appeal-2026-1", "--decider", JOAQUIM, "--because", THEREFORE, "--upheld")
    assert standfast(*answer, "--on", "2026-11-26").code == 0

    assert standfast(*back, "2026-11-25").code == 1
    assert standfast(*back, "2026-11-26").code == 0
    assert standfast("print", "certificate", INES, "--on", "2026-11-26").code == 0


def test_the_papers_tell_days_and_outcome_and_the_history_tells_why(
    awarded: Path, standfast: Run
) -> None:
    appeal(standfast)
    assert "Appeal received on 23 November 2026, not answered yet." in on_paper(
        standfast, "record", "2026-11-24"
    )
    standfast(
        *("answer", "appeal-2026-1", "--decider", JOAQUIM, "--not-upheld"),
        *("--because", THEREFORE, "--on", "2026-11-26"),
    )
    standfast("complain", INES, "--because", "late for class", "--on", "2026-11-26")

    record = on_paper(standfast, "record", "2026-11-26")
    certificate = on_paper(standfast, "certificate", "2026-11-26")
    history = standfast("history", INES).flat

    expected = "Appeal received on 23 November 2026, answered on 26 November 2026: not upheld."
    assert expected in record
    assert "ppeal" not in certificate
    for secret in (WHY, THEREFORE, "omplaint", "Joaquim"):
        assert secret not in record + certificate
    assert (
        f"appeal-2026-1 received on 2026-11-23 from Inês Carvalho Teles, against award {NUMBER}"
        in (history)
    )
    assert f"because: {WHY}" in history
    assert "answered on 2026-11-26 by Joaquim Ferrer i Llobet: not upheld" in history
    assert f"because: {THEREFORE}" in history
    assert "complaint-2026-1 received on 2026-11-26 from outside, against the person" in history
    assert "ppeal" not in on_paper(standfast, "record", "2026-11-22")


@pytest.mark.parametrize(
    ("decider", "said"),
    [
        pytest.param(AURELIO, ["may not answer", "scored the evidence"], id="an assessor"),
        pytest.param(TENDAI, ["may not answer", "trained whom"], id="the trainer"),
        pytest.param(MARIT, ["confirmed LT1-2026-0001", "ruled on LT1-2026-0001"], id="certifier"),
        pytest.param(HANA, ["scored the evidence"], id="an assessor who certifies another rubric"),
        pytest.param(INES, ["may not answer", "filed the appeal", "is whom it is"], id="appellant"),
    ],
)
def test_who_took_part_is_refused_with_every_reason(
    awarded: Path, standfast: Run, decider: str, said: list[str]
) -> None:
    standfast("suspend", INES, *RULE, "--on", "2026-11-21")
    appeal(standfast)
    size = standfast("book", "audit", "--json").json["entries"]
    given = ("--upheld", "--because", THEREFORE, "--on", "2026-11-26")

    refused = standfast("answer", "appeal-2026-1", "--decider", decider, *given)

    assert refused.code == 1
    assert len(refused.err.splitlines()) == 1 + len(said)
    assert all(words in refused.err for words in said)
    assert standfast("book", "audit", "--json").json["entries"] == size


def test_an_appeal_against_a_decision_leaves_a_re_take_possible(
    scored: Path, standfast: Run
) -> None:
    standfast("decide", INES, RUBRIC, "--on", "2026-10-20", "--keep")
    appeal(standfast, "2026-10-21", against=RUBRIC)

    [one] = listed(standfast, "2026-10-21")
    assert one["against"] == f"decision of 2026-10-20 under {RUBRIC}"
    assert standfast("award", INES, RUBRIC, "--certifier", MARIT, "--on", ON).code == 0


def test_an_appeal_may_name_the_entry_of_a_decision_or_ruling(
    awarded: Path, standfast: Run
) -> None:
    ruled = standfast("suspend", INES, *RULE, "--on", "2026-11-21", "--json").json["entry"]

    appeal(standfast, against=ruled)

    assert listed(standfast, "2026-11-23")[0]["against"] == f"{NUMBER}, suspended on 2026-11-21"
    early = standfast("appeal", INES, "--against", ruled, "--because", WHY, "--on", "2026-11-20")
    assert (early.code, "after the day 2026-11-20" in early.err) == (1, True)


def test_open_ones_come_first_with_their_days_and_an_overdue_one_is_no_error(
    awarded: Path, standfast: Run
) -> None:
    appeal(standfast)
    complain = ("complain", "sandhof-2026-10-13", "--from", INES, "--because", "no mat was there")
    assert standfast(*complain, "--on", "2026-11-25").code == 0
    standfast(
        *("answer", "appeal-2026-1", "--decider", JOAQUIM, "--upheld"),
        *("--because", THEREFORE, "--on", "2026-11-26"),
    )

    def states(on: str) -> list[tuple[object, object]]:
        return [(one["number"], one["state"]) for one in listed(standfast, on)]

    assert states("2026-11-22") == []
    assert states("2026-11-25") == [("appeal-2026-1", "open"), ("complaint-2026-1", "open")]
    assert states("2026-12-25") == [("complaint-2026-1", "open"), ("appeal-2026-1", "upheld")]
    assert states("2026-12-26")[0] == ("complaint-2026-1", "overdue")
    late = standfast("appeals", "--on", "2026-12-26")
    assert late.code == 0
    assert "1 open, 1 of them overdue, 2 in all" in late.out
    assert "overdue since 2026-12-25" in late.out
    assert "0 days left" in standfast("appeals", "--on", "2026-12-25").out
    assert WHY not in late.out


def test_the_school_says_within_how_many_days(awarded: Path, standfast: Run) -> None:
    file = awarded / "school.yaml"
    said = file.read_text("utf-8").replace("appeal_days: 30", "appeal_days: 14")
    file.write_text(said, "utf-8")

    appeal(standfast)

    assert listed(standfast, "2026-11-23")[0]["due_by"] == "2026-12-07"


def test_what_cannot_be_filed_says_why(awarded: Path, standfast: Run) -> None:
    appeal(standfast)
    again = standfast("appeal", INES, "--against", NUMBER, "--because", WHY, "--on", "2026-11-24")
    other = standfast("appeal", HANA, "--against", NUMBER, "--because", WHY, "--on", "2026-11-24")
    wrong = standfast("appeal", INES, "--against", "LT1-2026-0002", "--because", WHY)
    ahead = standfast("complain", "nobody", "--because", WHY)

    assert (again.code, "appeal-2026-1 says the same" in again.err) == (1, True)
    assert (other.code, "only they appeal" in other.err) == (1, True)
    assert (wrong.code, f"did you mean '{NUMBER}'?" in wrong.err) == (2, True)
    assert (ahead.code, "no person, certificate or practical 'nobody'" in ahead.err) == (2, True)
    given = ("--decider", MARIT, "--upheld", "--because", THEREFORE)
    unknown = standfast("answer", "appeal-2026-2", *given)
    assert (unknown.code, "did you mean 'appeal-2026-1'?" in unknown.err) == (2, True)
    open_still = standfast("answer", "appeal-2026-1", *(g for g in given if g != "--upheld"))
    assert (open_still.code, "--upheld or --not-upheld" in open_still.err) == (2, True)


@pytest.mark.parametrize("name", ["Hana Dvořáková", "hana-dvorakova", "HANA DVOŘÁKOVÁ,"])
def test_reasons_name_nobody(awarded: Path, standfast: Run, name: str) -> None:
    named = ("--because", f"because {name} said so")

    for command in (
        ("appeal", INES, "--against", NUMBER),
        ("complain", INES),
        ("suspend", INES, "--certifier", MARIT),
    ):
        refused = standfast(*command, *named, "--on", ON)
        assert refused.code == 1, command
        assert f"it names {HANA}" in refused.err


def test_a_person_who_certifies_nothing_may_be_named_to_hear_appeals(
    awarded: Path, standfast: Run
) -> None:
    appeal(standfast)
    given = ("--not-upheld", "--because", THEREFORE, "--on", "2026-11-26")
    answer = ("answer", "appeal-2026-1", "--decider", "ngozi-okwuosa-bello", *given)
    assert standfast(*answer).code == 1
    file = awarded / "candidates" / "people.yaml"
    head, mark, rest = file.read_text("utf-8").partition("    name: Ngozi Chidimma Okwuosa-Bello\n")
    term = "    hears_appeals:\n      - {since: 2026-01-01, until: 2026-11-26}\n"
    file.write_text(head + mark + term + rest, "utf-8")

    assert standfast(*answer).code == 0


def test_an_erased_person_s_appeal_is_still_listed_and_answered(
    awarded: Path, standfast: Run
) -> None:
    appeal(standfast)
    assert standfast("book", "forget", INES, "--yes").code == 0
    file = awarded / "candidates" / "people.yaml"
    head, _, rest = file.read_text("utf-8").partition(f"  - person: {INES}\n")
    file.write_text(head + rest[rest.index("  - person:") :], "utf-8")

    said = standfast("appeals", "--on", "2026-11-24")
    assert "erased person" in said.out
    given = ("--upheld", "--because", THEREFORE, "--on", "2026-11-26")
    answered = standfast("answer", "appeal-2026-1", "--decider", JOAQUIM, *given)
    assert answered.code == 0, answered.err
    assert INES not in json.dumps(listed(standfast, "2026-11-26"))
    assert standfast("book", "rebuild").code == 0
    assert standfast("book", "audit").code == 0


@pytest.mark.usefixtures("awarded")
def test_the_due_list_counts_what_waits_for_an_answer(standfast: Run) -> None:
    before = standfast("due", "--on", "2026-11-23")
    appeal(standfast)

    on_the_last_day = standfast("due", "--on", "2026-12-23")
    a_day_later = standfast("due", "--on", "2026-12-24")
    as_json = standfast("due", "--on", "2026-12-24", "--json")

    assert "appeals and complaints" not in before.out
    assert "appeals and complaints: 1 open; standfast appeals" in on_the_last_day.out
    assert "appeals and complaints: 1 overdue; standfast appeals" in a_day_later.out
    assert as_json.json["appeals"] == {"overdue": 1}


@pytest.mark.parametrize(
    ("against", "undone"),
    [
        pytest.param("reduced", False, id="the entry of the reduction"),
        pytest.param("withdrawn", True, id="the entry of the withdrawal"),
        pytest.param("award", True, id="the award itself"),
        pytest.param("decision", False, id="the decision"),
    ],
)
def test_only_an_appeal_against_the_withdrawal_undoes_it(
    awarded: Path, standfast: Run, against: str, undone: bool
) -> None:
    without = ("--without", "knee-hang-rise")
    reduced = standfast("reduce", NUMBER, *without, *RULE, "--on", "2026-11-21", "--json")
    withdrawn = standfast("withdraw", NUMBER, *RULE, "--on", "2026-11-21", "--json")
    named = {
        "reduced": reduced.json["entry"],
        "withdrawn": withdrawn.json["entry"],
        "award": NUMBER,
        "decision": RUBRIC,
    }
    appeal(standfast, against=named[against])

    answered = standfast(
        *("answer", "appeal-2026-1", "--decider", JOAQUIM, "--upheld"),
        *("--because", THEREFORE, "--on", "2026-11-26"),
    )

    assert answered.code == 0, answered.err
    assert (f"reinstate {NUMBER}" in answered.out) is undone
    assert (f"restore {NUMBER}" in answered.out) is (against in {"reduced", "award"})
    back = standfast("reinstate", NUMBER, *RULE, "--on", "2026-11-27")
    assert back.code == (0 if undone else 1)
    assert undone or "for good unless an appeal against it is upheld" in back.err


def test_an_appeal_of_the_same_day_does_not_undo_what_was_ruled_after_it(
    awarded: Path, standfast: Run
) -> None:
    appeal(standfast)
    standfast("withdraw", NUMBER, *RULE, "--on", "2026-11-23")

    answered = standfast(
        *("answer", "appeal-2026-1", "--decider", JOAQUIM, "--upheld"),
        *("--because", THEREFORE, "--on", "2026-11-23"),
    )

    assert answered.code == 0, answered.err
    assert f"reinstate {NUMBER}" not in answered.out
    assert standfast("reinstate", NUMBER, *RULE, "--on", "2026-11-23").code == 1


def test_who_confirmed_what_rests_on_a_practical_does_not_answer_for_it(
    awarded: Path, standfast: Run
) -> None:
    complain = ("complain", "sandhof-2026-10-13", "--because", "no mat was there")
    assert standfast(*complain, "--on", "2026-11-23").code == 0
    given = ("--upheld", "--because", THEREFORE, "--on", "2026-11-24")

    refused = standfast("answer", "complaint-2026-1", "--decider", MARIT, *given)

    assert (refused.code, f"{MARIT} confirmed {NUMBER}" in refused.err) == (1, True)
    assert standfast("answer", "complaint-2026-1", "--decider", JOAQUIM, *given).code == 0


@pytest.mark.parametrize(
    ("until", "code"),
    [
        pytest.param("2026-11-20", 1, id="over since the day of the award"),
        pytest.param("2026-11-19", 0, id="over before it"),
    ],
)
def test_a_tie_that_ended_meanwhile_still_keeps_one_from_answering(
    awarded: Path, standfast: Run, until: str, code: int
) -> None:
    file = awarded / "candidates" / "people.yaml"
    tie = f"{{person: {INES}, kind: family, since: 2026-01-01, until: {until}}}"
    head, mark, rest = file.read_text("utf-8").partition(f"  - person: {JOAQUIM}\n")
    name, rest = rest.split("\n", 1)
    said = f"{head}{mark}{name}\n    conflicts:\n      - {tie}\n{rest}"
    file.write_text(said, "utf-8")
    appeal(standfast)
    given = ("--upheld", "--because", THEREFORE, "--on", "2026-11-24")

    answered = standfast("answer", "appeal-2026-1", "--decider", JOAQUIM, *given)

    assert answered.code == code, answered.err


@pytest.mark.usefixtures("awarded")
def test_what_is_said_next_leaves_the_outcome_open(standfast: Run) -> None:
    said = standfast("appeal", INES, "--against", NUMBER, "--because", WHY, "--on", "2026-11-23")

    assert "--upheld or --not-upheld" in " ".join(said.out.split())


@pytest.mark.usefixtures("awarded")
def test_the_last_day_for_an_answer_stands_in_the_calendar_until_it_is_given(
    standfast: Run,
) -> None:
    def events(on: str) -> list[str]:
        asked = ("due", "--quarter", "FY2026/27 Q2", "--on", on, "--calendar", "due.ics")
        assert standfast(*asked).code == 0
        text = Path("due.ics").read_text("utf-8").replace("\r\n ", "").replace("\r\n", "\n")
        return [event for event in text.split("BEGIN:VEVENT")[1:] if "VALUE=DATE:20261223" in event]

    assert events("2026-11-23") == []
    appeal(standfast)
    [waits] = events("2026-11-24")
    given = ("--upheld", "--because", THEREFORE, "--on", "2026-11-26")
    assert standfast("answer", "appeal-2026-1", "--decider", JOAQUIM, *given).code == 0
    [over] = events("2026-11-26")

    assert "SUMMARY:appeal-2026-1: answer\n" in waits
    assert "STATUS:CONFIRMED" in waits
    assert "Carvalho" not in waits
    assert "STATUS:CANCELLED" in over
    uids = [line for event in (waits, over) for line in event.splitlines() if "UID" in line]
    assert len(uids) == 2
    assert uids[0] == uids[1]
