"""Every parser that reads a stranger's bytes: each takes any bytes, and refuses in its own words.

A target gives nothing back; what it raises beside the refusals of the product is a fault.
"""

from __future__ import annotations

import io
import tarfile
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from pathlib import Path

from standfast.desk import heads
from standfast.files.calendar import days_in
from standfast.files.candidates import read_people
from standfast.files.people_table import read_people_table
from standfast.files.plan import read_plan
from standfast.files.ratings import read_ratings
from standfast.files.rubrics import read_rubric
from standfast.files.school import read_school
from standfast.files.sheet_table import read_sheet_table
from standfast.files.sheets import read_sheet
from standfast.files.syllabus import read_syllabus
from standfast.paper.opened import opened
from standfast.problems import StandfastError
from standfast.seal.encoding import Unreadable
from standfast.seal.handed import read as read_handed
from standfast.seal.keys import from_pem
from standfast.seal.trust import TrustFile, read
from standfast.seal.verify import Lists, verify, verify_token

ROOT = Path(__file__).resolve().parents[2]
NOW = datetime.fromisoformat("2026-11-24T10:00:00+00:00")
REFUSED = (StandfastError, Unreadable)
Seeds = Callable[[], Iterator[bytes]]


@dataclass(frozen=True)
class Target:
    """A parser, what is to be refused in no other way, and good bytes to begin with."""

    take: Callable[[bytes], object]
    seeds: Seeds


def _from_file(reader: Callable[[Path], object], ending: str) -> Callable[[bytes], object]:
    """The reader of a file, as one of bytes."""
    folder = tempfile.mkdtemp(prefix="standfast-fuzz-")
    file = Path(folder) / f"sent{ending}"

    def take(content: bytes) -> object:
        file.write_bytes(content)
        return reader(file)

    return take


def _files(*patterns: str) -> Seeds:
    def found() -> Iterator[bytes]:
        for pattern in patterns:
            for file in sorted(ROOT.glob(pattern)):
                yield file.read_bytes()

    return found


def _texts(*texts: str) -> Seeds:
    return lambda: (text.encode() for text in texts)


def _workbook() -> Iterator[bytes]:
    from standfast.files.export import write_table

    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "people.xlsx"
        write_table(file, ("person", "name"), [("a-b", "A B"), ("c-d", "C D")])
        yield file.read_bytes()


def _certificates() -> Iterator[bytes]:
    from tests.published.test_credential_cases import sample, signed, status_list

    from standfast.model.canonical import canonical

    yield canonical(sample())
    yield canonical(signed(sample()))
    yield status_list()


@cache
def _trusted() -> list[TrustFile]:
    from tests.published.test_credential_cases import TRUSTED

    return [TRUSTED]


def _token() -> Iterator[bytes]:
    from tests.published.test_credential_cases import KEY
    from tests.seal.test_hostile import TOLD

    from standfast.seal.token import token

    yield token(TOLD, KEY).encode()


def _check_token(content: bytes) -> object:
    return verify_token(content.decode("utf-8", "replace"), _trusted(), Lists(), NOW)


def _page() -> Iterator[bytes]:
    from standfast.paper.archive import Attached
    from standfast.paper.pdf import Printer
    from standfast.paper.view.letter import letter_view

    school = read_school(ROOT / "candidates" / "school.yaml").noun
    view = letter_view("A B", [], NOW.date(), school)
    files = (Attached("credential.json", b"{}", "made up", NOW),)
    yield Printer((ROOT / "templates",)).print("letter", view, attached=files)


def _trust() -> Iterator[bytes]:
    from tests.published.test_credential_cases import KEY

    from standfast.seal.trust import ListedKey, made

    since = "2026-01-01T00:00:00Z"
    keys = (ListedKey(key=KEY.public.multikey, since=since),)
    yield made("https://school.example/issuer.json", "A school", keys, KEY, NOW).content


def _heads() -> Iterator[bytes]:
    from tests.published.test_credential_cases import KEY

    from standfast.model.canonical import canonical
    from standfast.model.tree import leaf_hash
    from standfast.seal.receipts import receipt, signed_head

    made = signed_head("https://school.example/issuer.json", 1, leaf_hash(b"{}"), KEY, NOW)
    yield canonical(made)
    yield receipt(b"{}", 0, (), made)


def _handed() -> Iterator[bytes]:
    from tests.published.test_credential_cases import KEY

    from standfast.model.tree import leaf_hash
    from standfast.seal.handed import Carried, line_of, written
    from standfast.seal.receipts import signed_head

    issuer, who = "https://school.example/issuer.json", f"p-{'0' * 32}"
    first = {
        "issuer": issuer,
        "school": "school",
        "school_name": "A school",
        "candidate": {"ref": who, "slug": "a-b", "name": "A B"},
        "people": [],
        "head": signed_head(issuer, 1, leaf_hash(b"{}"), KEY, NOW),
    }
    yield written(first, [line_of(Carried(entry="{}", index=0, path=()))], KEY, NOW)


def _part(name: str) -> Seeds:
    """A part of a small record book, as its lines."""

    def lines() -> Iterator[bytes]:
        from tests.store.full import lines_of
        from tests.store.school import open_school

        with tempfile.TemporaryDirectory() as folder:
            school = open_school(Path(folder))
            school.fill()
            yield b"".join(lines_of(school.book)[name])
            school.book.close()

    return lines


def _check_part(name: str) -> Callable[[bytes], object]:
    def take(content: bytes) -> object:
        from standfast.store.filling import check

        return check(lambda: [(name, f"{name}.jsonl", io.BytesIO(content))])

    return take


def _archive() -> Iterator[bytes]:
    from tests.store.full import NOW as THEN
    from tests.store.school import open_school

    from standfast.desk.copying import as_written, gather, nobody_watches
    from standfast.files.copies import MANIFEST, add_to_archive

    with tempfile.TemporaryDirectory() as folder:
        Path(folder, "school.yaml").write_text("school: hall\nname: The hall\n")
        school, out = open_school(Path(folder)), io.BytesIO()
        with school.book.still(THEN) as still, tarfile.open(fileobj=out, mode="w|") as archive:
            found = gather(still, Path(folder), THEN, nobody_watches)
            told = as_written(found.manifest)
            add_to_archive(archive, MANIFEST, len(told), iter((told,)))
            for carried, piece in zip(found.manifest.files, found.pieces, strict=True):
                add_to_archive(archive, piece.name, carried.bytes, piece.content())
        school.book.close()
    yield out.getvalue()


def _check_archive(content: bytes) -> object:
    from standfast.desk.opened_copies import check_copy
    from standfast.files.copies import Copy, in_archive

    return check_copy(Copy.opened(lambda: in_archive(io.BytesIO(content), "sent.backup")))


TARGETS = {
    "rubric": Target(_from_file(read_rubric, ".yaml"), _files("rubrics/*-1.yaml")),
    "syllabus": Target(_from_file(read_syllabus, ".yaml"), _files("rubrics/low-trapeze.yaml")),
    "school": Target(_from_file(read_school, ".yaml"), _files("candidates/school.yaml")),
    "people": Target(_from_file(read_people, ".yaml"), _files("candidates/people.yaml")),
    "plan": Target(_from_file(read_plan, ".yaml"), _files("candidates/plans/*.yaml")),
    "sheet": Target(_from_file(read_sheet, ".yaml"), _files("candidates/practicals/*.yaml")),
    "sheet-table": Target(
        _from_file(read_sheet_table, ".csv"), _files("candidates/practicals/*.csv")
    ),
    "people-table": Target(
        _from_file(read_people_table, ".csv"),
        _texts("person,name,document,last_day\na-b,A B,first-aid,2027-03-01\n"),
    ),
    "workbook": Target(_from_file(read_people_table, ".xlsx"), _workbook),
    "ratings": Target(
        _from_file(read_ratings, ".csv"), _texts("subject,criterion,rater,score\ns1,c1,r1,3\n")
    ),
    "calendar": Target(
        _from_file(days_in, ".ics"),
        _texts("BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:x\r\nEND:VCALENDAR\r\n"),
    ),
    "certificate": Target(
        lambda content: verify(content, _trusted(), Lists((content,)), NOW), _certificates
    ),
    "token": Target(_check_token, _token),
    "trust": Target(read, _trust),
    "head": Target(lambda content: heads.check(content, _trusted(), content), _heads),
    "handed": Target(read_handed, _handed),
    "key": Target(lambda content: from_pem(content, "x"), _texts("-----BEGIN ENCRYPTED")),
    "pdf": Target(opened, _page),
    "journal": Target(_check_part("journal"), _part("journal")),
    "identity": Target(_check_part("identity"), _part("identity")),
    "archive": Target(_check_archive, _archive),
}
"""Name to parser."""
