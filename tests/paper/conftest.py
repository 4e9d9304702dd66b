"""One printer for all tests of paper, and the nouns that pages are made from."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime, timezone
from hashlib import sha256
from pathlib import Path

import pytest

from standfast.engine.dates import award_dates, standing
from standfast.engine.decide import decide
from standfast.files.rubrics import read_rubric
from standfast.files.school import read_school
from standfast.files.sheets import read_sheet
from standfast.files.syllabus import read_syllabus
from standfast.model.award import Award
from standfast.model.base import Reference
from standfast.model.canonical import canonical, content_hash
from standfast.model.evidence import Note
from standfast.model.people import Document, Person, Tie
from standfast.model.rubric import Rubric
from standfast.model.school import School
from standfast.model.sheet import Sheet
from standfast.model.syllabus import Syllabus
from standfast.paper.pdf import Printer
from standfast.paper.view.certificate import CertificateView, certificate_view
from standfast.paper.view.head import HeadFacts
from standfast.paper.view.record import Held, Part, RecordFacts, RecordView, record_view
from standfast.seal.keys import SecretKey
from standfast.seal.receipts import signed_head

ROOT = Path(__file__).resolve().parents[2]
TEMPLATES = ROOT / "templates"
ON = date(2026, 11, 20)
KEY = "01936b00-0000-7000-8000-000000000001"

NAMES = {
    "plain": "Inês Carvalho Teles",
    "long": "Konstantina-Evangelia Papadimitrakopoulou-Oberaschenbrenner von Wiesenbachmühlental",
    "longest": "Wilhelmina " + "Aurora-Benedikta-" * 9 + "Quist",
    "unbroken": "X" * 160,
    "arabic": "ياسمين عبد الرحمن الخطيب",
    "hebrew": "נועה בן-ארי כהן",
    "cjk": "佐々木 陽菜乃",
    "vietnamese": "Hồ Thị Mai Lan",
    "combining": "Zoe\u0308 A\u030angstro\u0308m",
}
"""Invented names that are hard to print."""


@dataclass(frozen=True)
class Made:
    """The nouns that pages are made from."""

    school: School
    rubric: Rubric
    syllabus: Syllabus
    sheets: tuple[Sheet, ...]

    def person(self, name: str) -> Person:
        documents = tuple(
            Document(document=kind, issued=date(2026, 1, 1), last_day=date(2028, 1, 1))
            for kind in self.rubric.documents
        )
        tie = Tie(trainer="tendai-mukwashi", since=date(2025, 9, 8), until=date(2026, 6, 26))
        return Person(id="ines-carvalho-teles", name=name, documents=documents, trained_by=(tie,))

    def award(self) -> Award:
        assert self.rubric.validity
        assert self.rubric.grants
        text = Reference(id=self.rubric.id, version=1, hash=content_hash(self.rubric))
        return Award(
            id=KEY,
            number="LT1-2026-0001",
            candidate="ines-carvalho-teles",
            rubric=text,
            scope=self.rubric.grants,
            decision=KEY,
            granted=ON,
            certifier="marit-solheim-aune",
            dates=award_dates(self.rubric.validity, ON),
            documents=self.rubric.documents,
            conditions=self.rubric.grants.conditions,
        )

    def certificate(self, name: str = NAMES["plain"], paper: str = "A4") -> CertificateView:
        award, holder = self.award(), self.person(name)
        documents = {kind: holder.document_until(kind, ON) for kind in award.documents}
        return certificate_view(
            award,
            holder,
            Person(id="marit-solheim-aune", name="Marit Solheim Aune"),
            self.school.model_copy(update={"paper": paper}),
            self.rubric,
            self.syllabus,
            [sheet.on for sheet in self.sheets],
            standing(award, documents, ON),
            on=ON,
        )

    def record(self, name: str = NAMES["plain"], paper: str = "A4", notes: int = 0) -> RecordView:
        holder, award = self.person(name), self.award()
        decision = decide(self.rubric, self.syllabus, self.sheets, holder, ON)
        lines = [f"Line {n}: S{n % 6 + 1} waits, is asked, goes on." for n in range(notes)]
        long_note = (Note(text="\n".join(lines)),) if notes else ()
        sheets = tuple(sheet.model_copy(update={"notes": long_note}) for sheet in self.sheets)
        documents = {kind: holder.document_until(kind, ON) for kind in award.documents}
        return record_view(
            RecordFacts(
                holder,
                self.school.model_copy(update={"paper": paper}),
                ON,
                (Part(self.rubric, decision, kept=True, sheets=sheets, ahead=decision),),
                (Held(award, standing(award, documents, ON)),),
                ((self.rubric.title, decision),),
                lambda slug: slug.replace("-", " ").title(),
            )
        )


def head_facts(issuer: str = "https://sandhof.example/issuer", size: int = 254) -> HeadFacts:
    """What was signed over a book of so many entries."""
    key, root = SecretKey(bytes(range(32))), sha256(b"some book").digest()
    at = datetime(2026, 11, 20, 23, 30, 5, tzinfo=timezone.utc)
    signed = signed_head(issuer, size, root, key, at)
    text, name = canonical(signed).decode(), "head-2026-11-21.json"
    return HeadFacts(size, root.hex(), at, issuer, key.public.thumbprint, text, name)


@pytest.fixture(scope="session")
def made() -> Made:
    """The shipped rubric, and the invented practicals that are shipped with it."""
    practicals = sorted((ROOT / "candidates" / "practicals").glob("lesson-2026-1[01]-[01]3-*.yaml"))
    return Made(
        read_school(ROOT / "candidates" / "school.yaml").noun,
        read_rubric(ROOT / "rubrics" / "low-trapeze-1.yaml").noun,
        read_syllabus(ROOT / "rubrics" / "low-trapeze.yaml").noun,
        tuple(read_sheet(file).noun for file in practicals),
    )


@pytest.fixture(scope="session")
def press() -> Printer:
    return Printer((TEMPLATES,))


Text = Callable[[bytes], str]


@pytest.fixture
def text(tmp_path: Path) -> Text:
    """What pdftotext (poppler) reads in a PDF, in reading order, spaces made one."""
    import subprocess

    def read(pdf: bytes) -> str:
        file = tmp_path / "page.pdf"
        file.write_bytes(pdf)
        out = subprocess.run(
            ["pdftotext", "-enc", "UTF-8", str(file), "-"], check=True, capture_output=True
        )
        return " ".join(out.stdout.decode().split())

    return read
