"""Pages as others read them: pikepdf for the structure, poppler for text and places."""

from __future__ import annotations

import io
import re
import subprocess
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pikepdf
import pytest
from tests.paper.conftest import NAMES, ON, Made, head_facts

from standfast.paper.pdf import Printer
from standfast.paper.view.due_list import due_view
from standfast.paper.view.head import head_view
from standfast.paper.view.letter import letter_view
from standfast.paper.view.plan import plan_view
from standfast.paper.view.score_sheet import Lesson, score_sheet_view

LATE = (ON, "late", "May teach low static trapeze", "LT1-2026-0001", "first-aid ended")
GROUND = "When in doubt, the student stays on the ground."
Text = Callable[[bytes], str]


def every_page(made: Made, press: Printer, paper: str = "A4") -> dict[str, bytes]:
    school = made.school.model_copy(update={"paper": paper})
    line = ("2026-11-30", "refresher", "Inês Carvalho Teles", "low trapeze", "LT1-2026-0001", "do")
    sheet = score_sheet_view(made.rubric, made.syllabus, school, Lesson(), 6)
    lessons = [("09:00-10:00", "morning-1", name, name, "") for name in NAMES.values()]
    parts = [(NAMES["long"], "2", tuple(NAMES.values()))]
    plan = plan_view("Low trapeze", ON, lessons, parts, ["All are linked."], school)
    return {
        "certificate": press.print("certificate", made.certificate(paper=paper)),
        "record": press.print("record", made.record(paper=paper)),
        "score-sheet": press.print("score-sheet", sheet, most_pages=1),
        "letter": press.print("letter", letter_view(NAMES["long"], [LATE] * 3, ON, school)),
        "plan": press.print("plan", plan),
        "due-list": press.print(
            "due-list", due_view([line] * 60, "2026 Q4", "60 documents end", ON, school)
        ),
        "head": press.print("head", head_view(head_facts(), school)),
    }


@pytest.fixture(scope="module", params=["A4", "Letter"])
def pages(request: pytest.FixtureRequest, made: Made, press: Printer) -> dict[str, bytes]:
    return every_page(made, press, request.param) | {"paper": request.param.encode()}


def printed(pages: dict[str, bytes]) -> Iterator[tuple[str, pikepdf.Pdf]]:
    for name, pdf in pages.items():
        if name != "paper":
            yield name, pikepdf.open(io.BytesIO(pdf))


def test_every_page_is_tagged_titled_and_says_its_language(pages: dict[str, bytes]) -> None:
    # ISO 14289-1:2014, 5 and 7.1, 7.2: PDF/UA identifier, Marked, DisplayDocTitle, Lang.
    for name, pdf in printed(pages):
        root = pdf.Root

        assert root.MarkInfo.Marked, name
        assert str(root.Lang) == "en", name
        assert root.ViewerPreferences.DisplayDocTitle, name
        assert b'pdfuaid:part="1"' in root.Metadata.read_bytes(), name
        assert len(str(pdf.docinfo.Title)) > 5, name


def structure(node: pikepdf.Object) -> Iterator[pikepdf.Dictionary]:
    kids: Any = node.get("/K", [])
    for kid in kids if isinstance(kids, pikepdf.Array) else [kids]:
        if isinstance(kid, pikepdf.Dictionary) and "/S" in kid:
            yield kid
            yield from structure(kid)


def test_pages_have_one_top_heading_and_tables_have_scopes(pages: dict[str, bytes]) -> None:
    for name, pdf in printed(pages):
        kinds = [str(element.S) for element in structure(pdf.Root.StructTreeRoot)]

        assert kinds.count("/H1") == 1, name
        # A table is for what has rows and columns: on a certificate nothing has.
        assert ("/Table" in kinds) is ("/TH" in kinds) is (name != "certificate"), name


def test_every_table_has_headings(pages: dict[str, bytes]) -> None:
    # ISO 14289-1:2014, 7.5: tables should include headers.
    for name, pdf in printed(pages):
        for element in structure(pdf.Root.StructTreeRoot):
            if element.S == "/Table":
                assert "/TH" in {str(part.S) for part in structure(element)}, name


def test_every_figure_says_in_words_what_it_shows(pages: dict[str, bytes]) -> None:
    counts = {}
    for name, pdf in printed(pages):
        figures = [e for e in structure(pdf.Root.StructTreeRoot) if e.S == "/Figure"]
        counts[name] = len(figures)

        assert all(len(str(figure.Alt)) > 10 for figure in figures), name
    assert counts["certificate"] == 1
    assert counts["record"] >= 15


def test_only_our_own_fonts_are_embedded(pages: dict[str, bytes]) -> None:
    for name, pdf in printed(pages):
        fonts = {
            str(font.BaseFont) for page in pdf.pages for _, font in page.Resources.Font.items()
        }

        assert fonts, name
        assert all("Standfast" in font or "Noto" in font or "Droid" in font for font in fonts), name
        for font in (f for page in pdf.pages for _, f in page.Resources.Font.items()):
            descriptor = font.DescendantFonts[0].FontDescriptor
            assert {"/FontFile2", "/FontFile3"} & set(descriptor.keys()), name


def test_paper_has_the_size_that_the_school_asks_for(pages: dict[str, bytes]) -> None:
    # ISO 216: A4 is 210 x 297 mm; ANSI/ASME Y14.1: Letter is 8.5 x 11 in; 72 points to the inch.
    wanted = {b"A4": (595, 842), b"Letter": (612, 792)}[pages["paper"]]
    for name, pdf in printed(pages):
        for page in pdf.pages:
            box = [float(side) for side in page.MediaBox]

            assert sorted((round(box[2]), round(box[3]))) == sorted(wanted), name


def test_certificate_score_sheet_and_head_are_one_page(pages: dict[str, bytes]) -> None:
    counts = {name: len(pdf.pages) for name, pdf in printed(pages)}

    assert counts["certificate"] == counts["score-sheet"] == counts["head"] == 1
    assert counts["due-list"] > 1


def test_every_page_defers_and_says_that_it_is_invented(
    pages: dict[str, bytes], text: Text
) -> None:
    for name in ("certificate", "record", "score-sheet", "due-list", "letter", "plan", "head"):
        words = text(pages[name])

        assert GROUND in words, name
        assert "no approval of rigging, mats or a venue" in words, name
        assert "a qualified rigger's judgement come first" in words, name
        assert "Invented for demonstration" in words, name


def test_every_page_of_a_record_says_that_it_is_invented(
    made: Made, press: Printer, tmp_path: Path
) -> None:
    file = tmp_path / "record.pdf"
    file.write_bytes(press.print("record", made.record()))
    with pikepdf.open(file) as pdf:
        count = len(pdf.pages)
    for page in range(1, count + 1):
        words = subprocess.run(
            ["pdftotext", "-f", str(page), "-l", str(page), str(file), "-"],
            check=True,
            capture_output=True,
        ).stdout.decode()

        assert "Invented for demonstration" in words, page
        assert f"{page} of {count}" in words


def test_the_certificate_says_what_an_outsider_asks(made: Made, press: Printer, text: Text) -> None:
    words = text(press.print("certificate", made.certificate()))

    for said in (
        "LT1-2026-0001",
        "Inês Carvalho Teles",
        "May teach low static trapeze for the school",
        "from 20 November 2026",
        "until 1 January 2028",
        "it ends with first aid",
        "Marit Solheim Aune",
        "13 October 2026 and 3 November 2026",
        "backward turn under the bar in a tuck",
        "One student off the ground at a time",
        "https://sandhof.example.org/check",
    ):
        assert said in words, said


def test_the_record_has_every_competency_with_figures_and_interval(
    made: Made, press: Printer, text: Text
) -> None:
    view = made.record()
    words = text(press.print("record", view))

    for competency in made.rubric.competencies:
        assert competency.title in words
        for criterion in competency.criteria:
            assert criterion.title in words
    assert re.search(r"\d\d\.\d % to \d+\.\d %", words)
    assert "each at 80 % assurance" in words
    assert "Hana Dvorakova" in words


@pytest.mark.parametrize("name", NAMES.values(), ids=NAMES)
@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_no_name_leaves_the_certificate(
    made: Made, press: Printer, tmp_path: Path, name: str, paper: str
) -> None:
    pdf = press.print("certificate", made.certificate(name, paper), most_pages=1)

    assert outside(pdf, tmp_path) == []


@pytest.mark.parametrize("name", NAMES.values(), ids=NAMES)
def test_no_name_and_no_note_leaves_the_record(
    made: Made, press: Printer, tmp_path: Path, text: Text, name: str
) -> None:
    pdf = press.print("record", made.record(name, notes=40))

    assert outside(pdf, tmp_path) == []
    words = text(pdf)
    assert all(f"Line {n}: S" in words for n in range(40))


def outside(pdf: bytes, folder: Path) -> list[str]:
    """Words that poppler finds less than 4 mm from the edge of their page, or beyond it."""
    file = folder / "placed.pdf"
    file.write_bytes(pdf)
    boxes = subprocess.run(
        ["pdftotext", "-bbox", str(file), "-"], check=True, capture_output=True
    ).stdout.decode()
    margin, found, width, height = 4 / 25.4 * 72, [], 0.0, 0.0
    pattern = (
        r'<page width="([\d.]+)" height="([\d.]+)">'
        r'|<word xMin="(-?[\d.]+)" yMin="(-?[\d.]+)"'
        r' xMax="(-?[\d.]+)" yMax="(-?[\d.]+)">(.*?)</word>'
    )
    for read in re.finditer(pattern, boxes):
        if read[1]:
            width, height = float(read[1]), float(read[2])
            continue
        left, top, right, bottom = (float(read[n]) for n in (3, 4, 5, 6))
        inside = left >= margin and top >= margin
        if not (inside and right <= width - margin and bottom <= height - margin):
            found.append(read[7])
    assert width, "poppler found no page"
    return found


def test_same_view_same_bytes_whatever_was_printed_before(made: Made, press: Printer) -> None:
    first = press.print("certificate", made.certificate())
    press.print("record", made.record(NAMES["cjk"]))

    assert press.print("certificate", made.certificate()) == first
    assert Printer(press.folders).print("certificate", made.certificate()) == first
    assert press.print("certificate", made.certificate(NAMES["cjk"])) != first
