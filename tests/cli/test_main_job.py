"""From a scored practical to paper, by the commands that people type."""

from __future__ import annotations

import csv
import json
import re
import shutil
import sqlite3
import subprocess
from pathlib import Path
from typing import Any

import pytest
from tests.cli.conftest import INES, MARIT, ON, ROOT, RUBRIC, SHEETS, Run, sheet
from tests.schools import bytes_of_book

GROUND = "When in doubt, the student stays on the ground."


def flat(text: str) -> str:
    return " ".join(text.split())


def test_a_new_school_has_no_faults(tmp_path: Path, standfast: Run) -> None:
    made = standfast(
        "new", tmp_path / "school", "--name", "Halle (invented)", "--zone", "Europe/Vienna"
    )

    assert made.code == 0
    assert (tmp_path / "school" / "standfast.db").is_file()
    assert standfast("check", "--school", tmp_path / "school").code == 0
    assert standfast("book", "audit", "--school", tmp_path / "school").code == 0


def test_the_example_of_people_is_right_when_its_marks_are_taken_away(
    tmp_path: Path, standfast: Run
) -> None:
    standfast("new", tmp_path / "school")
    file = tmp_path / "school" / "candidates" / "people.yaml"
    text = file.read_text("utf-8").replace("people: []", "people:")
    file.write_text(re.sub(r"^#(?=  )", "", text, flags=re.MULTILINE), "utf-8")

    ran = standfast("people", "--school", tmp_path / "school", "--json")

    assert ran.json == {"new": ["ada-berg", "kei-ito"], "changed": [], "same": 0}


def test_a_file_checked_alone_is_held_against_its_neighbours(sandhof: Path, standfast: Run) -> None:
    alone = standfast("check", "rubrics/low-trapeze-1.yaml", "--json")
    assert (alone.code, alone.json["files"]) == (0, 1)
    Path("elsewhere").mkdir()
    shutil.copy("rubrics/low-trapeze-1.yaml", "elsewhere")

    lost = standfast("check", "elsewhere/low-trapeze-1.yaml")

    assert standfast("check", "nowhere").code == 2
    assert lost.code == 1
    assert "no syllabus 'low-trapeze'" in lost.out


def test_a_folder_that_holds_something_is_left_alone(tmp_path: Path, standfast: Run) -> None:
    (tmp_path / "notes.txt").write_text("mine")

    made = standfast("new", tmp_path)

    assert made.code == 2
    assert "holds something already" in made.err
    assert [path.name for path in tmp_path.iterdir()] == ["notes.txt"]


def test_people_are_entered_once(sandhof: Path, standfast: Run) -> None:
    first, second = standfast("people", "--json"), standfast("people", "--json")

    assert len(first.json["new"]) == 15
    assert second.json == {"new": [], "changed": [], "same": 15}


def test_a_sheet_is_taken_once(sandhof: Path, standfast: Run) -> None:
    first = standfast("score", sheet(SHEETS[0]), "--json")
    second = standfast("score", sheet(SHEETS[0]), "--json")

    assert (first.code, first.json["again"]) == (0, False)
    assert (second.code, second.json["again"]) == (0, True)
    assert first.json["entry"] == second.json["entry"]


def test_the_same_sheet_as_json_and_csv_gives_the_same_decision(
    sandhof: Path, standfast: Run
) -> None:
    from standfast.files.sheet_table import sheet_table
    from standfast.files.sheets import read_sheet
    from standfast.model.canonical import plain

    one, two, three = (read_sheet(Path(sheet(name))).noun for name in SHEETS)
    values = plain(two)
    Path("two.json").write_text(json.dumps({"sheet": values.pop("id"), **values}), "utf-8")
    Path("three.csv").write_text(sheet_table(three), "utf-8")

    for file in (sheet(SHEETS[0]), "two.json", "three.csv"):
        assert standfast("score", file).code == 0
    decided = standfast("decide", INES, RUBRIC, "--on", ON, "--json").json["decision"]
    assert decided["outcome"] == "pass"
    assert decided["sheets"] == sorted([one.id, two.id, three.id])


def test_one_practical_is_not_enough_and_what_would_be_is_said(
    sandhof: Path, standfast: Run
) -> None:
    standfast("score", sheet("lesson-2026-11-10-tendai"))

    said = standfast("decide", "parvin-shirazi-nooshabadi", RUBRIC, "--on", ON)

    assert said.code == 1
    assert said.out.splitlines()[0].endswith("MORE EVIDENCE NEEDED")
    assert "1 more practical scored under this rubric" in flat(said.out)
    assert "11 more attempts without a lapse" in flat(said.out)
    assert GROUND in flat(said.out)


def test_a_pass_says_figure_standard_and_sheet_in_the_order_of_the_rule(
    scored: Path, standfast: Run
) -> None:
    said = standfast("decide", INES, RUBRIC, "--on", ON)

    assert said.code == 0
    lines = said.out.splitlines()
    assert lines[0] == "Inês Carvalho Teles, Instructor, low static trapeze, on 2026-11-20: PASS"
    steps = [
        line.split()[1].rstrip(":") for line in lines if line.startswith(("  + ", "  x ", "  ? "))
    ]
    order = ["incident", "sufficiency", "critical", "competency", "overall"]
    assert steps == sorted(steps, key=order.index)
    assert set(steps) == set(order)
    assert "68 of 70 seen, 2 lapses, at least 93.9 % with 80 % assurance (met)" in flat(said.out)
    assert "standard: at least 85 % with 80 % assurance, from 20 or more" in flat(said.out)
    assert "sheet 1: 2026-10-13, Hana Dvořáková" in said.out
    assert "disagreements between assessors:" in said.out


def test_json_has_the_whole_derivation(scored: Path, standfast: Run) -> None:
    decided = standfast("decide", INES, RUBRIC, "--on", ON, "--json").json["decision"]

    assert {f["criterion"] for f in decided["findings"]} >= {"in-place", "waiting-idle", "briefing"}
    place = next(f for f in decided["findings"] if f["criterion"] == "in-place")
    assert place["figure"]["counted"] == 70
    assert place["figure"]["method"] == "clopper-pearson"
    assert decided["rubric"]["hash"]
    assert decided["disagreements"]


def test_deciding_changes_nothing_unless_kept(scored: Path, standfast: Run) -> None:
    before = standfast("book", "audit", "--json").json["entries"]
    standfast("decide", INES, RUBRIC, "--on", ON)

    assert standfast("book", "audit", "--json").json["entries"] == before
    assert standfast("decide", INES, RUBRIC, "--on", ON, "--keep").code == 0
    assert standfast("book", "audit", "--json").json["entries"] == before + 1
    replayed = standfast("book", "replay", "--json").json
    assert (replayed["decisions"], replayed["differing"]) == (1, [])


def test_an_award_gives_dates_conditions_and_the_caution(scored: Path, standfast: Run) -> None:
    said = standfast("award", INES, RUBRIC, "--certifier", MARIT, "--on", ON)

    assert said.code == 0
    assert "certificate LT1-2026-0001" in said.out
    assert (
        "valid from 2026-11-20 until 2027-08-31, that day included (ends by insurance)" in said.out
    )
    assert "refresher from 2027-09-20 until 2027-11-20" in said.out
    assert GROUND in flat(said.out)


@pytest.mark.parametrize(
    ("certifier", "because"),
    [
        pytest.param("hana-dvorakova", "may not confirm decisions", id="not approved"),
        pytest.param("tendai-mukwashi", "trained", id="trained the candidate"),
    ],
)
def test_an_award_is_refused_with_its_reasons(
    scored: Path, standfast: Run, certifier: str, because: str
) -> None:
    said = standfast("award", INES, RUBRIC, "--certifier", certifier, "--on", ON)

    assert said.code == 1
    assert because in said.err
    assert standfast("due", "--on", ON).out.startswith(
        "FY2026/27 Q1, 2026-09-01 to 2026-11-30: nothing due"
    )


def test_where_the_school_allows_it_the_paper_says_that_the_certifier_took_part(
    scored: Path, standfast: Run
) -> None:
    settings = Path("school.yaml").read_text("utf-8")
    allowed = settings.replace("taken_part: false", "taken_part: true")
    assert allowed != settings
    Path("school.yaml").write_text(allowed, "utf-8")
    people = Path("candidates/people.yaml").read_text("utf-8")
    tendai = people.index("person: tendai-mukwashi")
    scores = people.index("    scores:", tendai)
    approval = (
        "    certifies:\n      - {rubric: low-trapeze-1, since: 2023-09-01, until: 2027-08-31}\n"
    )
    Path("candidates/people.yaml").write_text(people[:scores] + approval + people[scores:], "utf-8")

    said = standfast("award", INES, RUBRIC, "--certifier", "tendai-mukwashi", "--on", ON)

    assert said.code == 0, said.err
    assert "confirmed by Tendai Mukwashi, who trained" in flat(said.out)
    file = standfast("print", "certificate", INES, "--on", ON, "--json").json["files"][0]
    words = subprocess.run(["pdftotext", file, "-"], check=True, capture_output=True).stdout
    assert "Tendai Mukwashi trained" in flat(words.decode())
    assert "the school's rules allow this" in flat(words.decode())


def test_an_award_is_not_granted_ahead_of_the_calendar(scored: Path, standfast: Run) -> None:
    settings = Path("school.yaml").read_text("utf-8")
    Path("school.yaml").write_text(settings.replace("invented: true", "invented: false"), "utf-8")

    ahead = standfast("award", INES, RUBRIC, "--certifier", MARIT, "--on", "2199-01-01")

    assert ahead.code == 1
    assert "2199-01-01 has not come yet" in ahead.err


def test_an_award_is_not_granted_twice_on_the_same_evidence(scored: Path, standfast: Run) -> None:
    standfast("award", INES, RUBRIC, "--certifier", MARIT, "--on", ON)

    said = standfast("award", INES, RUBRIC, "--certifier", MARIT, "--on", ON, "--json")

    assert said.code == 1
    assert said.json["reasons"] == ["award LT1-2026-0001 already stands on the same sheets"]


def of_holders(items: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """What is due of awards, without the approvals of assessors and certifiers."""
    return [item for item in items if item["role"] == "holder"]


def test_what_is_due_stands_in_its_quarter_only(scored: Path, standfast: Run) -> None:
    standfast("award", INES, RUBRIC, "--certifier", MARIT, "--on", ON)

    def due(quarter: str) -> list[tuple[str, str]]:
        items = standfast("due", "--quarter", quarter, "--on", ON, "--json").json["items"]
        return [(item["by"], item["what"]) for item in of_holders(items)]

    # The school's year begins in September: FY2026/27 Q4 is June to August 2027.
    assert due("FY2026/27 Q4") == [("2027-08-31", "document ends")]
    assert due("FY2027/28 Q1") == [("2027-11-20", "refresher")]
    assert due("FY2026/27 Q2") == []
    assert standfast("due", "--quarter", "soon").code == 2


def test_what_is_due_in_the_days_ahead_of_a_site_and_rubric(scored: Path, standfast: Run) -> None:
    standfast("award", INES, RUBRIC, "--certifier", MARIT, "--on", ON)

    def due(*asked: str) -> list[str]:
        ran = standfast("due", "--on", "2027-08-01", *asked, "--json")
        assert ran.code == 0, ran.out
        return [f"{item['by']} {item['what']}" for item in of_holders(ran.json["items"])]

    # Insurance ends on 31 August 2027, the thirtieth day after 1 August.
    assert due("--next", "29d") == []
    assert due("--next", "30d") == ["2027-08-31 document ends"]
    assert due("--next", "30d", "--site", "Sandhof hall", "--rubric", RUBRIC) == [
        "2027-08-31 document ends"
    ]
    wrong = standfast("due", "--next", "30d", "--site", "Sandhof hal")
    assert (wrong.code, "did you mean 'Sandhof hall'?" in wrong.err) == (2, True)
    both = standfast("due", "--next", "30d", "--quarter", "2026Q4")
    assert (both.code, "ask for one of them" in both.err) == (2, True)


def test_what_is_due_goes_into_a_table(scored: Path, standfast: Run) -> None:
    standfast("award", INES, RUBRIC, "--certifier", MARIT, "--on", ON)
    asked = ("due", "--quarter", "FY2026/27 Q4", "--on", ON)

    assert standfast(*asked, "--csv", "due.csv", "--xlsx", "due.xlsx").code == 0
    assert Path("due.xlsx").read_bytes()[:2] == b"PK"
    with Path("due.csv").open(encoding="utf-8-sig", newline="") as file:
        [row] = of_holders(list(csv.DictReader(file)))
    assert (row["by"], row["person"], row["what"]) == ("2027-08-31", INES, "document ends")
    wrong = standfast(*asked, "--csv", "late.csv", "--xlsx", "due.csv")
    assert (wrong.code, "a file for --xlsx ends in .xlsx" in wrong.err) == (2, True)
    assert not Path("late.csv").exists()


def test_what_is_due_goes_into_a_calendar_of_the_whole_school(scored: Path, standfast: Run) -> None:
    standfast("award", INES, RUBRIC, "--certifier", MARIT, "--on", ON)
    asked = ("due", "--quarter", "FY2026/27 Q4", "--on", ON, "--calendar", "due.ics")

    assert standfast(*asked).code == 0
    text = Path("due.ics").read_text("utf-8")
    assert "DTSTART;VALUE=DATE:20270831" in text
    assert "Inês Carvalho Teles: document ends" in text
    assert standfast(*asked, "--site", "Sandhof hall").code == 2
    standfast("withdraw", INES, "--certifier", MARIT, "--because", "left the school", "--on", ON)
    assert standfast(*asked).code == 0
    assert "STATUS:CANCELLED" in Path("due.ics").read_text("utf-8")


def test_everybody_gets_one_letter_on_paper_and_for_mail(scored: Path, standfast: Run) -> None:
    standfast("award", INES, RUBRIC, "--certifier", MARIT, "--on", ON)

    ran = standfast("due", "--next", "36m", "--on", ON, "--letters", "letters")

    assert ran.code == 0, ran.err
    assert sorted(p.name for p in Path("letters").glob(f"*{INES}*")) == [
        f"letter-{INES}.pdf",
        f"letter-{INES}.txt",
    ]
    mail = Path("letters", f"letter-{INES}.txt").read_text("utf-8")
    pdf = ["pdftotext", f"letters/letter-{INES}.pdf", "-"]
    paper = subprocess.run(pdf, check=True, capture_output=True).stdout.decode()
    for words in (flat(mail), flat(paper)):
        for said in ("Inês Carvalho Teles", "31 August 2027", "20 November 2028", GROUND):
            assert said in words, said
        assert "Invented for demonstration" in words
    assert "&" not in mail


def test_a_letter_about_something_late_says_that_nobody_teaches_meanwhile(
    scored: Path, standfast: Run
) -> None:
    standfast("award", INES, RUBRIC, "--certifier", MARIT, "--on", ON)
    said = "Until what is late is done, nobody teaches under that award."

    for day, late in ((ON, False), ("2027-09-01", True)):
        standfast("due", "--next", "36m", "--on", day, "--letters", "letters")
        mail = Path("letters", f"letter-{INES}.txt").read_text("utf-8")

        assert (said in mail) is late


def test_groups_and_counts_add_up(scored: Path, standfast: Run) -> None:
    standfast("award", INES, RUBRIC, "--certifier", MARIT, "--on", ON)

    ran = standfast("due", "--next", "36m", "--on", ON, "--json").json
    words = standfast("due", "--next", "36m", "--on", ON).flat

    assert "28 approvals end, 2 documents end, 1 refresher, 1 award ends" in words
    assert ran["counts"] == {
        "document ends": 2,
        "refresher": 1,
        "award ends": 1,
        "approval ends": 28,
    }
    assert len(ran["items"]) == sum(ran["counts"].values())
    assert [item["by"] for item in ran["items"]] == sorted(item["by"] for item in ran["items"])


def test_history_tells_the_story_in_order(scored: Path, standfast: Run) -> None:
    standfast("award", INES, RUBRIC, "--certifier", MARIT, "--on", ON)

    events = standfast("history", INES, "--json").json["events"]

    assert [event["seq"] for event in events] == sorted(event["seq"] for event in events)
    says = [event["says"] for event in events]
    assert says[0].startswith("entered or changed")
    assert sum("scored by" in line for line in says) == 3
    assert "pass, from 3 sheets" in says[-2]
    assert "granted certificate LT1-2026-0001" in says[-1]
    assert max(map(len, standfast("history", INES).out.splitlines())) <= 88


def test_a_correction_supersedes_and_is_told(scored: Path, standfast: Run) -> None:
    text = Path(sheet(SHEETS[2])).read_text("utf-8")
    old = text.split('sheet: "')[1].split('"')[0]
    new = standfast("key").out.strip()
    corrected = text.replace(old, new).replace("minutes: 55", "minutes: 56")
    corrected += f'corrects: {{of: "{old}", because: "one minute too few"}}\n'
    Path("corrected.yaml").write_text(corrected, "utf-8")

    assert standfast("score", "corrected.yaml").code == 0
    decided = standfast("decide", INES, RUBRIC, "--on", ON, "--json").json["decision"]
    assert new in decided["sheets"]
    assert old not in decided["sheets"]
    assert "because: one minute too few" in standfast("history", INES).flat
    assert standfast("book", "audit").code == 0


@pytest.mark.parametrize("name", ["certificate", "record", "sheet", "due"])
def test_paper_lands_where_it_is_asked_for(scored: Path, standfast: Run, name: str) -> None:
    standfast("award", INES, RUBRIC, "--certifier", MARIT, "--on", ON)
    what = {
        "certificate": ["certificate", "LT1-2026-0001", "--on", ON],
        "record": ["record", INES, "--on", ON],
        "sheet": ["sheet", RUBRIC, "--candidate", INES, "--practical", "hall-2026-11-25"],
        "due": ["due", "--on", ON],
    }[name]

    said = standfast("print", *what, "--out", "paper", "--json")

    assert said.code == 0, said.err
    [file] = said.json["files"]
    words = subprocess.run(
        ["pdftotext", file, "-"], check=True, capture_output=True
    ).stdout.decode()
    assert GROUND in flat(words)
    assert [path.name for path in Path("paper").iterdir()] == [Path(file).name]


def test_a_printed_record_has_the_interval_and_the_assessors(scored: Path, standfast: Run) -> None:
    file = standfast("print", "record", INES, "--on", ON, "--json").json["files"][0]

    words = flat(
        subprocess.run(["pdftotext", file, "-"], check=True, capture_output=True).stdout.decode()
    )
    for said in (
        "93.9 % to 98.9 %",
        "Hana Dvořáková",
        "not entered in the record book",
        "FA-INV-0201",
    ):
        assert said in words, said


def test_every_certificate_that_has_not_lapsed_is_printed(scored: Path, standfast: Run) -> None:
    standfast("award", INES, RUBRIC, "--certifier", MARIT, "--on", ON)

    said = standfast("print", "certificates", "--all", "--out", "all", "--on", ON)
    alone = standfast("print", "certificate", INES, "--out", "one", "--on", ON)

    assert said.code == 0
    assert "certificates: 1 of 1" in said.err
    name = Path(alone.out.strip()).name
    assert Path("all", name).read_bytes() == Path("one", name).read_bytes()


def test_no_certificate_is_printed_for_a_lapsed_award(scored: Path, standfast: Run) -> None:
    standfast("award", INES, RUBRIC, "--certifier", MARIT, "--on", ON)

    said = standfast("print", "certificate", "LT1-2026-0001", "--on", "2029-01-01")

    assert said.code == 1
    assert "has lapsed" in said.err
    assert not list(Path().glob("*.pdf"))


def test_a_forgotten_person_leaves_the_book_sound(scored: Path, standfast: Run) -> None:
    standfast("decide", INES, RUBRIC, "--on", ON, "--keep")
    assert standfast("book", "forget", INES).code == 2
    assert standfast("book", "forget", INES, "--yes").code == 0

    assert standfast("book", "audit").code == 0
    assert standfast("book", "rebuild").code == 0
    raw = bytes_of_book(Path())
    assert "Inês Carvalho".encode() not in raw
    assert b"ines.carvalho.teles@" not in raw


@pytest.mark.of_the_file(why="its file is changed aside of us")
def test_a_changed_entry_is_found_and_named(scored: Path, standfast: Run) -> None:
    with sqlite3.connect("standfast.db") as book:
        names = [
            row[0] for row in book.execute("select name from sqlite_master where type='trigger'")
        ]
        for name in names:
            book.execute(f'drop trigger "{name}"')
        book.execute(
            "update journal set body = replace(body, '\"minutes\":55', '\"minutes\":54')"
            " where seq = 20"
        )

    said = standfast("book", "audit")

    assert said.code == 1
    assert "entry 20" in said.out


def test_the_shipped_folders_have_no_faults(standfast: Run) -> None:
    said = standfast("check", ROOT / "rubrics", ROOT / "candidates", "--json")

    assert said.code == 0
    assert said.json["problems"] == []
