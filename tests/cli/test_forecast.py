"""The forecast as a person asks for it: table, picture, CSV and JSON say the same numbers."""

from __future__ import annotations

import csv
import re
from pathlib import Path
from typing import Any
from xml.etree import ElementTree as ET

import pytest
from tests.cli.conftest import INES, MARIT, ON, RUBRIC, Run

SVG = "{http://www.w3.org/2000/svg}"
SURE = """\
forecast:
  {comes_back: 1, comes_late: 0, second_try: 0, gives_up: 0, one_more: 0, newcomers: 0}
"""


@pytest.fixture
def awarded(scored: Path, standfast: Run) -> Path:
    assert standfast("award", INES, RUBRIC, "--certifier", MARIT, "--on", ON).code == 0
    return scored


def sure(school: Path) -> None:
    with (school / "school.yaml").open("a", encoding="utf-8") as settings:
        settings.write(SURE)


def expected(value: dict[str, Any], kind: str) -> dict[str, float]:
    return {row["name"]: row[kind]["mean"] for row in value["months"] if row[kind]["mean"]}


def test_an_award_falls_due_year_after_year_and_nothing_else_when_all_is_sure(
    awarded: Path, standfast: Run
) -> None:
    sure(awarded)
    value = standfast("forecast", "--on", "2026-11-21", "--quarters", "12", "--json").json

    assert (value["first"], value["last"]) == ("2026-11-21", "2029-11-30")
    assert expected(value, "refreshers") == {"2027-11": 1, "2028-11": 1, "2029-11": 1}
    assert expected(value, "practicals") == {}
    quarters = {row["name"]: row["refreshers"] for row in value["quarters"]}
    assert list(quarters)[:3] == ["FY2026/27 Q1", "FY2026/27 Q2", "FY2026/27 Q3"]
    assert quarters["FY2027/28 Q1"] == {"mean": 1, "low": 1, "middle": 1, "high": 1}
    parts = [[row["part"] for row in value[k]] for k in ("months", "quarters", "calendar_quarters")]
    assert [(part[0], part[1], part[-1]) for part in parts] == [
        *[(True, False, False)] * 2,
        (True, False, True),
    ]
    calendar = {row["name"]: row["refreshers"]["mean"] for row in value["calendar_quarters"]}
    assert calendar["2027 Q4"] == 1
    assert value["all"]["refreshers"]["mean"] == 3
    assert [one["rubric"] for one in value["rubrics"]] == [RUBRIC]
    assert value["rubrics"][0]["awards_in_time"] == 1


def test_who_has_taught_one_of_two_lessons_still_needs_one(scored: Path, standfast: Run) -> None:
    """Both practicals are in the book; seen from the days between them, one is missing."""
    sure(scored)
    between = standfast("forecast", "--on", "2026-10-20", "--quarters", "1", "--json").json
    after = standfast("forecast", "--on", "2026-11-20", "--quarters", "1", "--json").json

    assert expected(between, "practicals") == {"2026-10": 1}
    assert expected(after, "practicals") == {}
    assert [one["rubrics"][0]["people_begun"] for one in (between, after)] == [1, 1]


def test_a_withdrawn_award_falls_due_no_more(awarded: Path, standfast: Run) -> None:
    sure(awarded)
    ruled = ("withdraw", INES, "--certifier", MARIT, "--because", "asked to", "--on", "2026-11-21")
    assert standfast(*ruled).code == 0
    value = standfast("forecast", "--on", "2026-11-22", "--json").json

    assert expected(value, "refreshers") == {}


def test_nobody_waits_for_an_erased_person(awarded: Path, standfast: Run) -> None:
    sure(awarded)
    assert standfast("book", "forget", INES, "--yes").code == 0
    value = standfast("forecast", "--on", "2026-11-22", "--json").json

    assert expected(value, "refreshers") == {}


def test_site_and_rubric_narrow_it(awarded: Path, standfast: Run) -> None:
    sure(awarded)
    people = standfast("due", "--next", "24m", "--on", "2026-11-21", "--json").json["items"]
    own = next(row["site"] for row in people if row["person"] == INES)
    said = {
        site: standfast("forecast", "--on", "2026-11-21", "--site", site, "--json").json
        for site in sorted({row["site"] for row in people} - {""})
    }
    unused = standfast("forecast", "--on", ON, "--rubric", "floor-tumbling-1", "--json").json

    assert len(said) > 1
    assert {site for site, value in said.items() if expected(value, "refreshers")} == {own}
    assert unused["rubrics"][0]["newcomers"]["over"] == 0
    assert unused["nothing_lived_yet"] is False


def test_a_new_school_is_told_that_all_of_it_is_supposed(sandhof: Path, standfast: Run) -> None:
    ran = standfast("forecast", "--on", ON, "--quarters", "2")
    value = standfast("forecast", "--on", ON, "--quarters", "2", "--json").json

    assert ran.code == 0
    assert "nothing in the record book yet" in ran.out.splitlines()[1]
    assert value["nothing_lived_yet"] is True
    assert {one["of"] for name, one in value["rests_on"].items() if "of" in one} == {0}
    assert {one["rubric"] for one in value["rubrics"]} == {RUBRIC, "floor-tumbling-1"}


NUMBERS = re.compile(r"(\d+\.\d) +\((\d+)-(\d+)\)")


def told(out: str) -> dict[str, list[tuple[str, str, str]]]:
    """Name to practicals and refreshers, as the table has them."""
    rows: dict[str, list[tuple[str, str, str]]] = {}
    for line in out.splitlines():
        found = NUMBERS.findall(line)
        if len(found) == 2:
            rows.setdefault(line[: line.index("  ", 2)].strip(" *"), found)
    return rows


def pair(row: dict[str, Any]) -> list[tuple[str, str, str]]:
    spreads = (row["practicals"], row["refreshers"])
    return [(f"{s['mean']:.1f}", str(s["low"]), str(s["high"])) for s in spreads]


def test_table_picture_csv_and_json_say_the_same(awarded: Path, standfast: Run) -> None:
    asked = ("forecast", "--on", "2026-11-21", "--seed", "7")
    ran = standfast(*asked, "--svg", "f.svg", "--csv", "f.csv")
    value = standfast(*asked, "--json").json
    table = told(ran.out)
    picture = ET.parse("f.svg").getroot()  # noqa: S314 - our own file
    titles = ["".join(one.itertext()) for one in picture.iter(f"{SVG}title")][1:]
    texts = ["".join(one.itertext()) for one in picture.iter(f"{SVG}text")]
    with Path("f.csv").open(encoding="utf-8-sig", newline="") as file:
        rows = [row for row in csv.DictReader(file) if row["rubric"] == "all"]

    assert len(value["months"]) == 25
    for row in (*value["months"], *value["quarters"], value["all"]):
        assert table[row["name"]] == pair(row), row["name"]
    for month in value["months"]:
        for kind, (mean, low, high) in zip(("practicals", "refreshers"), pair(month), strict=True):
            assert f"{month['name']}: {kind} {mean} ({low}\u2013{high})" in titles
    for quarter in value["quarters"]:
        at = texts.index(quarter["name"])
        assert texts[at + 1 : at + 3] == [f"{m} ({lo}\u2013{hi})" for m, lo, hi in pair(quarter)]
    named = {(row["span"], row["name"]): row for row in rows}
    for span, every in (("month", value["months"]), ("quarter", value["quarters"])):
        for row in every:
            cells = named[span, row["name"]]
            for kind in ("practicals", "refreshers"):
                assert float(cells[f"{kind} expected"]) == row[kind]["mean"]
                assert int(cells[f"{kind} middle"]) == row[kind]["middle"]
    assert any("Invented" in text for text in texts)


def test_it_is_narrow_and_makes_no_promise(awarded: Path, standfast: Run) -> None:
    out = standfast("forecast", "--on", "2026-11-21").out
    flat = " ".join(out.split())

    assert all(len(line) <= 80 for line in out.splitlines() if NUMBERS.search(line))
    assert "A forecast is no promise" in flat
    assert "says nothing on who may teach" in flat
    assert "holders who come back in time: none lived yet; 0.8 supposed, worth 10" in flat


def test_the_same_seed_gives_the_same_bytes(awarded: Path, standfast: Run) -> None:
    for name, seed in (("a", "3"), ("b", "3"), ("c", "4")):
        files = ("--svg", f"{name}.svg", "--csv", f"{name}.csv")
        assert standfast("forecast", "--on", "2026-11-21", "--seed", seed, *files).code == 0

    for kind in ("svg", "csv"):
        assert Path(f"a.{kind}").read_bytes() == Path(f"b.{kind}").read_bytes()
        assert Path(f"a.{kind}").read_bytes() != Path(f"c.{kind}").read_bytes()


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        pytest.param(
            ("--rubric", "trapeze-refresher"), "no rubric that grants an award", id="rubric"
        ),
        pytest.param(("--site", "Moon"), "no site 'Moon'; known: ", id="site"),
        pytest.param(("--csv", "f.xlsx"), "a file for --csv ends in .csv", id="csv"),
        pytest.param(
            ("--csv", "f.csv", "--svg", "f.png"), "a file for --svg ends in .svg", id="svg"
        ),
        pytest.param(("--svg", "nowhere/f.svg"), "nowhere/f.svg", id="folder"),
        pytest.param(("--quarters", "0"), "--quarters", id="no quarter"),
    ],
)
def test_what_cannot_be_is_said(
    awarded: Path, standfast: Run, arguments: tuple[str, ...], said: str
) -> None:
    ran = standfast("forecast", "--on", ON, *arguments)

    assert ran.code == 2
    assert said in ran.err
    assert not [*Path().glob("f.*")]


def test_a_school_without_a_rubric_that_grants_is_refused(sandhof: Path, standfast: Run) -> None:
    for file in Path("rubrics").glob("*-1.yaml"):
        file.unlink()
    ran = standfast("forecast", "--on", ON)

    assert ran.code == 1
    assert "no rubric grants anything" in ran.err


def test_a_wrong_setting_has_its_line_and_the_cure(sandhof: Path, standfast: Run) -> None:
    lines = len(Path("school.yaml").read_text("utf-8").splitlines())
    with Path("school.yaml").open("a", encoding="utf-8") as settings:
        settings.write("forecast:\n  comes_back: 1.2\n  second_tri: 0.2\n  weight: 0\n")
    ran = standfast("forecast", "--on", ON)

    assert ran.code == 2
    assert f"school.yaml:{lines + 2}:" in ran.err
    assert f"school.yaml:{lines + 3}:" in ran.err
    assert "did you mean 'second_try'?" in ran.err
    assert f"school.yaml:{lines + 4}:" in ran.err
