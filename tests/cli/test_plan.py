"""Planning a day as a person does it: the file, the book, the answer, the exit code."""

from __future__ import annotations

import csv
import json
import re
import shutil
import subprocess
from pathlib import Path

import pytest
from tests.cli.conftest import ROOT, Run
from tests.schools import bytes_of_book

DAY = "candidates/plans/trapeze-2026-12-05.yaml"


@pytest.fixture
def school(sandhof: Path, standfast: Run, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The invented school with its people in the book, and a day to plan.

    A search says nothing of what it does, however slow this machine is.
    """
    monkeypatch.setattr("standfast.cli.planning.QUIET", 600.0)
    shutil.copytree(ROOT / "candidates" / "plans", sandhof / "candidates" / "plans")
    assert standfast("people").code == 0
    return sandhof


def changed(school: Path, *changes: tuple[str, str]) -> Path:
    """The shipped day with other words in it."""
    text = (school / DAY).read_text("utf-8")
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    (school / "day.yaml").write_text(text, "utf-8")
    return school / "day.yaml"


def test_the_shipped_day_has_a_plan(school: Path, standfast: Run) -> None:
    ran = standfast("plan", DAY)

    assert ran.code == 0
    assert "trapeze-2026-12-05: Saturday 2026-12-05, Europe/Vienna, low-trapeze-1" in ran.out
    assert "Hana Dvořáková" in ran.out
    assert "Every two assessors are linked through candidates, directly" in ran.out
    assert "No plan that meets every wish is better" in ran.out
    assert "it lets nobody teach. It is no licence" in " ".join(ran.out.split())
    assert ran.err == ""


def test_json_says_the_same(school: Path, standfast: Run) -> None:
    value = standfast("plan", DAY, "--json").json

    assert [lesson["candidate"] for lesson in value["lessons"]] == [
        "parvin-shirazi-nooshabadi",
        "konstantina-papadimitrakopoulou",
        "odalys-quintero-bembe",
        "yasmin-al-khatib",
        "sasaki-hinano",
        "siggi-hrafnkelsson",
    ]
    assert value["score_sheets"] == sum(len(lesson["assessors"]) for lesson in value["lessons"])
    assert value["scored_by_two"] >= 3
    assert value["all_linked"] is True
    assert value["not_proved"] == []
    assert {one["lessons"] for one in value["assessors"]} == {2}


def test_who_did_not_train_the_candidate_is_named_first(school: Path, standfast: Run) -> None:
    file = changed(school, ("double: 0.5", "double: 1"), ("most: 2", "most: 4"))

    lessons = {one["candidate"]: one for one in standfast("plan", file, "--json").json["lessons"]}

    konstantina = lessons["konstantina-papadimitrakopoulou"]["assessors"]
    assert "hana-dvorakova" not in konstantina[:1]
    assert all(len(one["assessors"]) == 2 for one in lessons.values())


def test_a_table_of_it_is_safe_to_open(school: Path, standfast: Run) -> None:
    people = school / "candidates" / "people.yaml"
    text = people.read_text("utf-8").replace("name: Siggi Þór Hrafnkelsson", 'name: "=1+1"')
    people.write_text(text, "utf-8")
    assert standfast("people").code == 0

    assert standfast("plan", DAY, "--out", "day.csv").code == 0

    rows = list(csv.DictReader((school / "day.csv").read_text("utf-8-sig").splitlines()))
    assert len(rows) == 6
    assert [row["name"] for row in rows if row["candidate"] == "siggi-hrafnkelsson"] == ["'=1+1"]
    assert rows[0]["begins"] == "09:00"


def test_wishes_that_clash_are_said_with_their_lines(school: Path, standfast: Run) -> None:
    file = changed(
        school, ("free: [morning-1, morning-2, morning-3]", "free: [afternoon-1]"),
        ("free: [morning-2, morning-3, afternoon-1]", "free: [morning-2]"),
        ("most: 2", "most: 2, free: [morning-1]"),
        ("leilani-kahananui}", "leilani-kahananui, most: 1}"),
    )  # fmt: skip

    ran = standfast("plan", file)

    assert ran.code == 1
    assert ran.out == ""
    head, *wishes, cure = ran.err.splitlines()
    assert head.startswith(f"no plan for trapeze-2026-12-05 on 2026-12-05: these {len(wishes)}")
    assert head.endswith("wishes cannot all be met, and no fewer clash:")
    assert any("leilani-kahananui scores at most 1" in wish for wish in wishes)
    for wish in wishes:
        where, _, says = wish.strip().partition(": ")
        if "is free only in" in says:
            line = file.read_text("utf-8").splitlines()[int(where.removeprefix("line ")) - 1]
            assert says.split()[0] in line
    assert "plan again" in cure


def test_what_stands_in_the_book_is_told_from_what_can_be_changed(
    school: Path, standfast: Run
) -> None:
    text = (school / DAY).read_text("utf-8")
    kept = [
        line
        for line in text.splitlines()
        if not any(
            word in line
            for word in ("tendai", "leilani", "aurelio", "ruben", "odalys", "yasmin", "sasaki")
        )
    ]
    alone = "\n".join(kept).replace("apart:", "apart: []").replace("double: 0.5", "double: 0")
    (school / "day.yaml").write_text(alone, "utf-8")

    ran = standfast("plan", "day.yaml", "--json")

    assert ran.code == 1
    assert ran.json["error"] == "refused"
    seen, beside, cure = ran.json["reasons"]
    assert seen == (
        "line 15: each of the 3 candidates teaches a lesson (without this alone there is a plan)"
    )
    assert beside == (
        "line 16: nobody who trained konstantina-papadimitrakopoulou scores without somebody who"
        " did not (hana-dvorakova did), which the record book says"
    )
    assert cure == "change it, and plan again"


def test_what_does_not_fit_the_book_is_said_at_its_line_all_at_once(
    school: Path, standfast: Run
) -> None:
    file = changed(
        school,
        ("rubric: low-trapeze-1", "rubric: low-trapeze-2"),
        ("{candidate: sasaki-hinano}", "{candidate: sasaki-hinanu}"),
    )

    ran = standfast("plan", file, "--json")

    assert ran.code == 2
    found = [
        (problem["line"], problem["what"], problem["cure"]) for problem in ran.json["problems"]
    ]
    assert found[0] == (4, "no rubric 'low-trapeze-2'", "did you mean 'low-trapeze-1'?")
    assert found[-1][1:] == (
        "nobody is 'sasaki-hinanu' in the record book",
        "did you mean 'sasaki-hinano'?",
    )
    assert sum("is not approved to score low-trapeze-2" in what for _, what, _ in found) == 5


@pytest.mark.parametrize(
    ("day", "code"),
    [
        pytest.param("2027-01-31", 0, id="the last day of an approval"),
        pytest.param("2027-02-01", 2, id="the day after it"),
    ],
)
def test_assessors_must_be_approved_on_the_day_itself(
    school: Path, standfast: Run, day: str, code: int
) -> None:
    ran = standfast("plan", changed(school, ("day: 2026-12-05", f"day: {day}")))

    assert ran.code == code
    assert ("'leilani-kahananui' is not approved to score" in ran.err) == bool(code)


def test_a_rubric_must_be_in_force_on_the_day(school: Path, standfast: Run) -> None:
    ran = standfast("plan", changed(school, ("day: 2026-12-05", "day: 2023-08-31")))

    assert ran.code == 2
    assert "no version of low-trapeze-1 is in force on 2023-08-31" in ran.err


def test_people_who_are_only_in_the_files_are_to_be_entered_first(
    sandhof: Path, standfast: Run
) -> None:
    shutil.copytree(ROOT / "candidates" / "plans", sandhof / "candidates" / "plans")

    ran = standfast("plan", DAY)

    assert ran.code == 2
    assert "enter the people of the files with 'standfast people'" in ran.err


def test_a_plan_changes_nothing_in_the_book(school: Path, standfast: Run) -> None:
    before = bytes_of_book(school)
    size = standfast("book", "audit", "--json").json["entries"]

    standfast("plan", DAY)

    assert standfast("book", "audit", "--json").json["entries"] == size
    assert bytes_of_book(school) == before


def test_a_long_search_says_what_it_is_doing(
    school: Path, standfast: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("standfast.cli.planning.QUIET", -1.0)

    ran = standfast("plan", DAY, "--json")

    assert re.search(r"^\d+ s: looking for the fewest scorings$", ran.err, re.MULTILINE)
    assert ran.json["plan"] == "trapeze-2026-12-05"


def test_on_paper_it_says_the_same_and_lets_nobody_teach(school: Path, standfast: Run) -> None:
    value = standfast("plan", DAY, "--json").json

    ran = standfast("print", "plan", DAY, "--out", "paper")

    assert ran.out == "paper/plan-trapeze-2026-12-05.pdf\n"
    done = subprocess.run(
        ["pdftotext", "-layout", ran.out.strip(), "-"], check=True, capture_output=True
    )
    words = " ".join(done.stdout.decode().split())
    assert "Saturday, 5 December 2026 (Europe/Vienna)" in words
    assert words.count("09:00-10:00") == sum(o["begins"] == "09:00" for o in value["lessons"])
    assert "says who sees whom; it lets nobody teach. It is no licence" in words
    assert "the student stays on the ground" in words
    assert "Invented for demonstration" in words


def test_on_paper_every_name_has_the_same_weight(school: Path, standfast: Run) -> None:
    # Not every script has a bold face, so no name may be bold beside others that cannot be.
    standfast("print", "plan", DAY, "--out", "paper")
    file = school / "paper" / "plan-trapeze-2026-12-05.pdf"
    asked = ["pdftohtml", "-xml", "-stdout", "-i", str(file)]
    told = subprocess.run(asked, check=True, capture_output=True).stdout.decode()

    names = re.findall(r"<text[^>]*>(.*?(?:Odalys|Siggi|Hana|佐々木|Yasmin).*?)</text>", told)
    assert len(names) > 5
    assert not any("<b>" in name for name in names)


def test_the_same_day_gives_the_same_answer(school: Path, standfast: Run) -> None:
    one, other = standfast("plan", DAY, "--json"), standfast("plan", DAY, "--json")

    assert json.loads(one.out) == json.loads(other.out)


def test_a_recorded_conflict_of_interest_keeps_people_apart(school: Path, standfast: Run) -> None:
    def scoring() -> list[str]:
        lessons = standfast("plan", DAY, "--json").json["lessons"]
        (hinano,) = [one for one in lessons if one["candidate"] == "sasaki-hinano"]
        return [str(who) for who in hinano["assessors"]]

    before = scoring()
    people, name = school / "candidates" / "people.yaml", "    name: 佐々木 陽菜乃\n"
    tie = f"    conflicts: [{{person: {before[0]}, kind: family, since: 2024-01-01}}]\n"
    text = people.read_text("utf-8")
    assert name in text
    people.write_text(text.replace(name, name + tie), "utf-8")
    assert standfast("people").code == 0

    assert before[0] not in scoring()


def test_who_must_score_a_reference_practical_first_is_not_planned(
    school: Path, standfast: Run
) -> None:
    settings = school / "school.yaml"
    settings.write_text(settings.read_text("utf-8") + "reference_every: P1Y\n", "utf-8")

    ran = standfast("plan", DAY)

    assert ran.code == 2
    assert "'hana-dvorakova' may not score low-trapeze-1 on 2026-12-05: " in ran.err
    assert "before that day" in ran.err


SMALL = """\
plan: small
day: 2026-12-05
rubric: low-trapeze-1
rooms: 1
slots: [{slot: morning-1, begins: "09:00", ends: "10:00"}]
assessors: [{assessor: tendai-mukwashi}]
candidates: [{candidate: sasaki-hinano}]
"""


def tie(school: Path, policy: str) -> None:
    """The one assessor of the small day is tied to its candidate."""
    people, name = school / "candidates" / "people.yaml", "    name: 佐々木 陽菜乃\n"
    line = "    conflicts: [{person: tendai-mukwashi, kind: family, since: 2024-01-01}]\n"
    people.write_text(people.read_text("utf-8").replace(name, name + line), "utf-8")
    settings = school / "school.yaml"
    kept = re.sub("(?m)^conflict_of_interest: .*\n", "", settings.read_text("utf-8"))
    settings.write_text(f"{kept}conflict_of_interest: {policy}\n", "utf-8")


def test_an_assessor_with_an_allowed_tie_scores_only_beside_somebody_without(
    school: Path, standfast: Run
) -> None:
    (school / "day.yaml").write_text(SMALL, "utf-8")
    assert standfast("plan", "day.yaml").code == 0
    tie(school, "shown")
    assert standfast("people").code == 0
    alone = standfast("plan", "day.yaml")
    two = SMALL.replace("mukwashi}]", "mukwashi}, {assessor: leilani-kahananui}]")
    (school / "day.yaml").write_text(two + "double: 1\n", "utf-8")
    beside = standfast("plan", "day.yaml", "--json")

    assert alone.code == 1
    assert (
        "line 7: nobody who has a recorded conflict of interest with sasaki-hinano scores without"
        " somebody who has none (tendai-mukwashi has), which the record book says"
    ) in alone.err
    assert beside.json["lessons"][0]["assessors"] == ["leilani-kahananui", "tendai-mukwashi"]
    assert beside.json["conflicts_of_interest"] == [
        {"assessor": "tendai-mukwashi", "candidate": "sasaki-hinano"}
    ]
    said = " ".join(standfast("plan", "day.yaml").out.split())
    assert "has a recorded conflict of interest with 佐々木 陽菜乃, and does not count" in said


@pytest.mark.parametrize(
    ("rooms", "assessors", "why", "cure"),
    [
        pytest.param(
            *(1, ["tendai-mukwashi"]),
            "with 1 slot and 1 assessor at most one lesson fits, and 2 are wanted",
            "add slots or assessors, or leave some candidates for another day, and plan again",
            id="one assessor",
        ),
        pytest.param(
            *(1, ["tendai-mukwashi", "leilani-kahananui"]),
            "with 1 slot and 1 room at most one lesson fits, and 2 are wanted",
            "add rooms or slots, or leave some candidates for another day, and plan again",
            id="one room",
        ),
    ],
)
def test_too_little_room_for_all_candidates_is_said_in_numbers(
    school: Path, standfast: Run, rooms: int, assessors: list[str], why: str, cure: str
) -> None:
    listed = ", ".join(f"{{assessor: {who}}}" for who in assessors)
    text = SMALL.replace("{assessor: tendai-mukwashi}", listed).replace(
        "rooms: 1", f"rooms: {rooms}"
    )
    text = text.replace("hinano}]", "hinano}, {candidate: odalys-quintero-bembe}]")
    (school / "day.yaml").write_text(text + "linked: false\n", "utf-8")

    ran = standfast("plan", "day.yaml", "--json")

    assert ran.code == 1
    assert ran.json["reasons"][-2:] == [why, cure]


def test_a_file_that_is_no_plan_is_said_to_be_none_once(school: Path, standfast: Run) -> None:
    ran = standfast("plan", "candidates/people.yaml")

    assert school.is_dir()
    assert ran.code == 2
    [line] = ran.err.splitlines()
    assert "is no plan: it begins with 'people:'; name a file that begins with 'plan:'" in line
