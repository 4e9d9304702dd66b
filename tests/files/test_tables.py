"""People and sheets from spreadsheets: every fault by row and column, and a way back."""

from __future__ import annotations

import random
import zipfile
from datetime import date, datetime
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from openpyxl import Workbook

from standfast.files.candidates import read_people
from standfast.files.sheet_table import sheet_table
from standfast.files.sheets import plain_sheet, read_sheet
from standfast.model.evidence import Note, Rating
from standfast.model.people import Conflict, Document, Person, Term, Tie
from standfast.model.sheet import Correction, Sheet
from standfast.problems import BadInput

ROOT = Path(__file__).resolve().parents[2]
PRACTICALS = sorted((ROOT / "candidates" / "practicals").glob("*.yaml"))

HEAD = (
    "person,name,site,first-aid issued,first-aid until,insurance until,insurance issued,"
    "trained by,trained since"
)
PEOPLE = f"""\
{HEAD}
ada-berg,Ada Berg,Hall,2026-01-01,2027-12-31,2026-12-31,2026-01-01,kei-ito,2025-09-01
ada-berg,,,2024-01-01,2025-12-31,,,lou-roy,2025-10-01
kei-ito,Kei Ito,,,,,,,
"""


def people(tmp_path: Path, text: str, name: str = "people.csv") -> tuple[Person, ...]:
    (tmp_path / name).write_text(text, "utf-8")
    return tuple(placed.noun for placed in read_people(tmp_path / name))


def faults(tmp_path: Path, text: str, name: str = "people.csv") -> list[str]:
    with pytest.raises(BadInput) as refused:
        people(tmp_path, text, name)
    return [str(problem).removeprefix(f"{tmp_path}/") for problem in refused.value.problems]


def test_rows_of_one_person_add_up(tmp_path: Path) -> None:
    ada, kei = people(tmp_path, PEOPLE)

    assert ada.name == "Ada Berg"
    assert ada.documents == (
        Document(document="first-aid", issued=date(2026, 1, 1), last_day=date(2027, 12, 31)),
        Document(document="insurance", issued=date(2026, 1, 1), last_day=date(2026, 12, 31)),
        Document(document="first-aid", issued=date(2024, 1, 1), last_day=date(2025, 12, 31)),
    )
    assert ada.trained_by == (
        Tie(trainer="kei-ito", since=date(2025, 9, 1)),
        Tie(trainer="lou-roy", since=date(2025, 10, 1)),
    )
    assert kei == Person(id="kei-ito", name="Kei Ito")


def test_ties_and_terms_have_columns_too(tmp_path: Path) -> None:
    head = "conflict with,conflict kind,conflict since,hears appeals since,hears appeals until"
    text = (
        f"person,name,{head}\nada-berg,Ada Berg,kei-ito,family,2026-01-01,2026-01-01,2027-12-31\n"
    )
    [ada] = people(tmp_path, text)

    assert ada.conflicts == (Conflict(person="kei-ito", kind="family", since=date(2026, 1, 1)),)
    assert ada.hears_appeals == (Term(since=date(2026, 1, 1), until=date(2027, 12, 31)),)
    [said] = faults(tmp_path, text.replace("family", "famly"))
    assert "people.csv:2:" in said
    assert "famly" in said


@pytest.mark.parametrize("separator", [";", "\t"], ids=["semicolon", "tab"])
def test_other_separators_say_the_same(tmp_path: Path, separator: str) -> None:
    assert people(tmp_path, PEOPLE.replace(",", separator)) == people(tmp_path, PEOPLE)


def test_capitals_and_low_lines_in_the_head_do_not_matter(tmp_path: Path) -> None:
    head, rest = PEOPLE.split("\n", 1)

    assert people(tmp_path, f"\ufeff{head.upper().replace(' ', '_')}\n{rest}")[1].name == "Kei Ito"


def workbook(path: Path, rows: list[list[object]]) -> Path:
    book = Workbook()
    assert book.active
    for row in rows:
        book.active.append(row)
    book.save(path)
    return path


def test_a_workbook_says_the_same_with_real_days(tmp_path: Path) -> None:
    rows: list[list[object]] = [list(line.split(",")) for line in PEOPLE.splitlines()]
    rows[1][3] = datetime(2026, 1, 1)  # noqa: DTZ001 - as openpyxl gives it
    rows[1][4] = date(2027, 12, 31)
    file = workbook(tmp_path / "people.xlsx", rows)

    assert tuple(placed.noun for placed in read_people(file)) == people(tmp_path, PEOPLE)


def test_every_fault_is_named_by_row_and_column(tmp_path: Path) -> None:
    text = (
        "person,nmae,first-aid issued,first-aid until,trained by,trained since\n"
        "Ada Berg,Ada,2026-01-01,31.12.2027,,\n"
        ",Kei,,,,\n"
        "kei-ito,Kei,2026-02-30,2027-01-01,ada-berg,yesterday\n"
    )

    found = faults(tmp_path, text)

    assert found == [
        "people.csv:1:2: column 'nmae' is not known; did you mean 'name'?",
        "people.csv:2:1: row 2, column 'person': key 'name' is missing; add it",
        (
            "people.csv:2:1: row 2, column 'person': person: 'Ada Berg' is no short name;"
            " use small letters, digits and single hyphens: tuck-hang"
        ),
        (
            "people.csv:2:4: row 2, column 'first-aid until': last_day: '31.12.2027' is no day of"
            " the calendar; write it as 2026-03-01"
        ),
        "people.csv:3:1: row 3, column 'person': is empty; write a short name",
        "people.csv:4:1: row 4, column 'person': key 'name' is missing; add it",
        *[line for line in found if line.startswith(("people.csv:4:3:", "people.csv:4:6:"))],
    ]
    assert len(found) == 8


@pytest.mark.parametrize(
    ("text", "said"),
    [
        pytest.param("person,name,name\na,b,c\n", "column 'name' is there already", id="twice"),
        pytest.param("person,name\nada,Ada,more\n", "row 2: 'more' stands past", id="past the end"),
        pytest.param("\n\n", "is empty", id="empty"),
        pytest.param("person,name\nada,Ada\nada,Eva\n", "is not the 'Ada' of", id="two names"),
        pytest.param(
            "person,name,first-aid until\nada,Ada,2027-01-01\n", "'issued' is missing", id="half"
        ),
    ],
)
def test_what_cannot_be_meant_is_refused(tmp_path: Path, text: str, said: str) -> None:
    assert any(said in line for line in faults(tmp_path, text))


@pytest.mark.parametrize(
    "content",
    [
        pytest.param(b"", id="empty"),
        pytest.param(b"person,name\n", id="text"),
        pytest.param(b"\xd0\xcf\x11\xe0" + b"\0" * 600, id="locked with a password"),
    ],
)
def test_a_file_that_is_no_workbook_is_named(tmp_path: Path, content: bytes) -> None:
    (tmp_path / "people.xlsx").write_bytes(content)

    with pytest.raises(BadInput, match="is no XLSX workbook"):
        read_people(tmp_path / "people.xlsx")


def test_a_packed_file_that_is_no_workbook_is_named(tmp_path: Path) -> None:
    with zipfile.ZipFile(tmp_path / "people.xlsx", "w") as packed:
        packed.writestr("a.txt", "a")

    with pytest.raises(BadInput, match="is no XLSX workbook"):
        read_people(tmp_path / "people.xlsx")


def test_a_workbook_that_unpacks_to_a_mountain_is_refused(tmp_path: Path) -> None:
    with zipfile.ZipFile(tmp_path / "people.xlsx", "w", zipfile.ZIP_DEFLATED) as packed:
        packed.writestr("xl/worksheets/sheet1.xml", b"\0" * 70_000_000)

    with pytest.raises(BadInput, match="too large"):
        read_people(tmp_path / "people.xlsx")


def test_a_damaged_workbook_is_named_whatever_is_damaged(tmp_path: Path) -> None:
    file = workbook(tmp_path / "people.xlsx", [["person", "name"], ["ann-b", "Ann B (invented)"]])
    whole, chance = file.read_bytes(), random.Random(1)
    damaged = 0
    for _ in range(200):
        content = bytearray(whole)
        for _ in range(5):
            content[chance.randrange(len(content))] = chance.randrange(256)
        file.write_bytes(content)
        try:
            read_people(file)
        except BadInput as error:
            damaged += "people.xlsx" in str(error)

    assert damaged > 100


def test_a_workbook_with_a_broken_name_inside_is_named(tmp_path: Path) -> None:
    """Found by throwing bytes (./dev fuzz): the flag says UTF-8, and the name is none."""
    file = workbook(tmp_path / "people.xlsx", [["person", "name"], ["ann-b", "Ann B (invented)"]])
    content = bytearray(file.read_bytes())
    at = content.index(b"PK\x01\x02")  # the first line of the list of parts
    content[at + 9] |= 0x08
    content[at + 46] = 0xEA
    file.write_bytes(content)
    with pytest.raises(BadInput, match="no XLSX workbook, is damaged"):
        read_people(file)


def test_a_cell_without_its_end_is_named(tmp_path: Path) -> None:
    (fault,) = faults(tmp_path, 'person,name\nann-b,"' + "a" * 140_000)

    assert fault.startswith("people.csv:2:")
    assert "is no CSV from here on" in fault


@pytest.mark.parametrize(("rows", "read"), [(10_000, True), (10_001, False)])
def test_a_table_of_people_has_so_many_rows_at_the_most(
    tmp_path: Path, rows: int, read: bool
) -> None:
    text = "person,name\n" + "".join(f"p-{n},P {n}\n" for n in range(rows))
    found = [] if read else faults(tmp_path, text)

    assert found or len(people(tmp_path, text)) == rows
    assert read or found == ["people.csv: has more than 10000 rows or 200 columns; split it"]


def test_nothing_comes_out_of_a_table_with_a_fault(tmp_path: Path) -> None:
    assert len(faults(tmp_path, PEOPLE + "Eva,Eva,,,,,,,\n")) == 1


# --- score sheets --------------------------------------------------------------------------


def csv_sheet(tmp_path: Path, text: str) -> Sheet:
    (tmp_path / "sheet.csv").write_text(text, "utf-8")
    return read_sheet(tmp_path / "sheet.csv").noun


@pytest.fixture(scope="module")
def practical() -> Sheet:
    return read_sheet(PRACTICALS[0]).noun


@pytest.mark.parametrize("file", PRACTICALS, ids=lambda file: file.stem)
def test_a_sheet_written_as_a_table_reads_back_equal(tmp_path: Path, file: Path) -> None:
    sheet = read_sheet(file).noun

    assert csv_sheet(tmp_path, sheet_table(sheet)) == sheet


TEXTS = (
    st.text(
        st.characters(codec="utf-8", exclude_categories=("Cc", "Cs", "Zl", "Zp")),
        min_size=1,
        max_size=40,
    )
    .map(str.strip)
    .filter(bool)
)


@given(
    note=TEXTS,
    remark=TEXTS | st.none(),
    level=st.integers(1, 4) | st.none(),
    failed=st.booleans(),
    because=TEXTS | st.none(),
)
@settings(
    max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
def test_both_forms_read_back_equal_whatever_was_written(
    tmp_path: Path,
    practical: Sheet,
    note: str,
    remark: str | None,
    level: int | None,
    failed: bool,
    because: str | None,
) -> None:
    first, *others = practical.students
    attempt, *more = practical.attempts
    sheet = practical.model_copy(
        update={
            "students": (first.model_copy(update={"remark": remark}), *others),
            "attempts": (attempt.model_copy(update={"failed": failed}), *more),
            "ratings": (Rating(criterion="briefing", level=level, note=remark),),
            "notes": (Note(text=note), Note(at=60, text=note)),
            "corrects": Correction(of=practical.id, because=because) if because else None,
            "covers": ("in-place", "still") if failed else (),
        }
    )

    assert csv_sheet(tmp_path, sheet_table(sheet)) == sheet
    (tmp_path / "sheet.yaml").write_text(plain_sheet(sheet), "utf-8")
    assert read_sheet(tmp_path / "sheet.yaml").noun == sheet


def test_faults_of_a_sheet_table_are_named_by_row(tmp_path: Path) -> None:
    text = (
        "what,at,student,skill,name,value,note,in-place\n"
        "sheet,,,,sheet,not-a-key,,\n"
        "student,,Ada,,,,,\n"
        "log,,S9,sit,,3,,\n"
        "atempt,1:00,S1,sit,,done,,yes\n"
        "attempt,1:00,S1,sit,,fell,,maybe\n"
        "look,2:00,,,1,4,,\n"
    )

    with pytest.raises(BadInput) as refused:
        csv_sheet(tmp_path, text)

    said = "\n".join(str(problem) for problem in refused.value.problems)
    for words in (
        "row 2, column 'value': sheet: 'not-a-key' is no key",
        "row 3, column 'student': student: 'Ada' is no student code",
        "row 4, column 'student': 'S9' is no student of a row above",
        "row 5, column 'what': 'atempt' is not known; did you mean 'attempt'?",
        "row 6, column 'value': 'fell' is neither done nor failed",
        "row 6, column 'in-place': in-place: 'maybe' is not one of yes, no, unseen",
        "row 7, column 'value': '4' is no look",
        "key 'practical' is missing",
    ):
        assert words in said, words
