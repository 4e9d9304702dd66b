"""A signed certificate on paper: made to PDF/A-3a and PDF/UA-1, and a code that others read.

Only the structure is checked, part by part; no validator has seen these pages.

Sources: ISO 19005-3:2012 (PDF/A-3), ISO 14289-1:2014 (PDF/UA-1), ISO 32000-1:2008, ISO/IEC
18004:2015 (codes).
"""

from __future__ import annotations

import base64
import hashlib
import io
import subprocess
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from xml.etree import ElementTree as ET

import pikepdf
import pytest
import zxingcpp
from PIL import Image, ImageFilter
from tests.paper.conftest import NAMES, Made
from tests.paper.test_pages import structure

from standfast.paper.archive import Attached
from standfast.paper.code import DOTS, QUIET, code
from standfast.paper.opened import opened
from standfast.paper.pdf import Printer
from standfast.paper.view.certificate import CertificateView, Checkable
from standfast.problems import PaperError

MADE = datetime.fromisoformat("2026-11-20T09:00:00+00:00")
FILES = (
    Attached("credential.json", b'{"some": "certificate"}', "The certificate, signed", MADE),
    Attached("receipt.json", b'{"some": "receipt"}', "That the record book has it", MADE),
)
TEXT = "https://sandhof.example/v#" + hashlib.sha512(b"made up").hexdigest() * 3
"""As long as the longest that is usual: 410 characters."""
MILLIMETRES = 72 / 25.4


def signed(view: CertificateView, text: str = TEXT) -> CertificateView:
    return replace(view, signed=Checkable(text, text.partition("#")[0], "x" * 43))


@pytest.fixture(scope="module")
def page(made: Made, press: Printer) -> bytes:
    return press.print("certificate", signed(made.certificate()), attached=FILES)


@pytest.fixture
def pdf(page: bytes) -> pikepdf.Pdf:
    return pikepdf.open(io.BytesIO(page))


def test_it_says_that_it_is_made_to_both_standards(pdf: pikepdf.Pdf) -> None:
    content = pdf.Root.Metadata.read_bytes()
    told = ET.fromstring(content)  # noqa: S314 - a page of our own
    texts = {one.tag: one.text for one in told.iter()}

    assert b'pdfaid:part="3" pdfaid:conformance="A"' in content
    assert texts["{http://www.aiim.org/pdfua/ns/id/}part"] == "1"
    # A name outside of the standard's own list needs a schema beside it: ISO 19005-3, 6.6.2.3.
    schema = "{http://www.aiim.org/pdfa/ns/schema#}"
    assert texts[f"{schema}namespaceURI"] == "http://www.aiim.org/pdfua/ns/id/"
    assert texts[f"{schema}prefix"] == "pdfuaid"
    assert str(pdf.docinfo.Title) in {e.text for e in told.iter()}


def test_the_structure_of_the_file(pdf: pikepdf.Pdf, page: bytes, tmp_path: Path) -> None:
    root = pdf.Root
    kinds = {str(one.get("/S", "")) for one in pdf.objects if isinstance(one, pikepdf.Dictionary)}

    assert pdf.pdf_version == "1.7"
    assert root.MarkInfo.Marked
    assert str(root.Lang) == "en"
    assert root.ViewerPreferences.DisplayDocTitle
    assert len(root.OutputIntents) == 1
    assert len(pdf.trailer.ID) == 2
    assert "/StructTreeRoot" in root
    assert not {"/JavaScript", "/Launch"} & kinds
    assert "/Encrypt" not in pdf.trailer
    for font in (one for _, one in pdf.pages[0].Resources.Font.items()):
        assert "/ToUnicode" in font
        assert {"/FontFile2", "/FontFile3"} & set(font.DescendantFonts[0].FontDescriptor.keys())
    figures = [one for one in structure(root.StructTreeRoot) if one.S == "/Figure"]
    assert [str(one.Alt)[:12] for one in figures] == ["Code to scan"]
    (tmp_path / "page.pdf").write_bytes(page)
    asked = ["qpdf", "--check", str(tmp_path / "page.pdf")]
    assert subprocess.run(asked, capture_output=True, check=False).returncode == 0


def test_each_attachment_is_associated_once_and_whole(pdf: pikepdf.Pdf, page: bytes) -> None:
    assert [str(one.UF) for one in pdf.Root.AF] == ["credential.json", "receipt.json"]
    for one, file in zip(pdf.Root.AF, FILES, strict=True):
        inside = one.EF.F

        assert str(one.AFRelationship) == "/Data"
        assert str(one.Desc) == file.says
        assert str(inside.Subtype) == "/application/json"
        assert inside.read_bytes() == file.content
        assert hashlib.md5(file.content, usedforsecurity=False).digest() == bytes(
            inside.Params.CheckSum
        )
    assert opened(page).attached == {file.name: file.content for file in FILES}


def test_the_same_certificate_gives_the_same_bytes(made: Made, press: Printer) -> None:
    view = signed(made.certificate())
    first = press.print("certificate", view, attached=FILES)
    press.print("certificate", made.certificate(name=NAMES["long"]))

    assert press.print("certificate", view, attached=FILES) == first


@pytest.mark.parametrize("name", list(NAMES))
def test_it_stays_one_page_that_shows_the_name(made: Made, press: Printer, name: str) -> None:
    view = signed(made.certificate(name=NAMES[name]))
    found = opened(press.print("certificate", view, attached=FILES))

    with pikepdf.open(io.BytesIO(press.print("certificate", view, attached=FILES))) as pdf:
        assert len(pdf.pages) == 1
    if name in {"plain", "long", "vietnamese"}:
        assert NAMES[name] in found.text


# The code


def picture(page: bytes, folder: Path, dots: int) -> Image.Image:
    (folder / "page.pdf").write_bytes(page)
    made = ["pdftoppm", "-r", str(dots), "-png", "-singlefile", "page.pdf", "page"]
    subprocess.run(made, check=True, cwd=folder)
    with Image.open(folder / "page.png") as found:
        return found.convert("L")


@pytest.mark.parametrize("dots", [100, 150, 300])
@pytest.mark.parametrize("how", ["plain", "turned", "blurred"])
def test_the_code_is_read_by_a_library_that_did_not_write_it(
    page: bytes, tmp_path: Path, dots: int, how: str
) -> None:
    shown = picture(page, tmp_path, dots)
    if how == "turned":
        shown = shown.rotate(7, Image.Resampling.BICUBIC, expand=True, fillcolor=255)
    if how == "blurred":
        shown = shown.filter(ImageFilter.GaussianBlur(dots / 200))
    (found,) = zxingcpp.read_barcodes(shown)

    assert found.text == TEXT
    assert found.format == zxingcpp.BarcodeFormat.QRCode


def test_the_code_is_38_mm_wide_or_more(page: bytes, tmp_path: Path) -> None:
    (found,) = zxingcpp.read_barcodes(picture(page, tmp_path, 300))
    corner = found.position
    width = (corner.top_right.x - corner.top_left.x) / 300 * 25.4

    assert width > 38


def test_the_code_has_its_quiet_zone_and_is_the_one_of_the_standard() -> None:
    """ISO/IEC 18004, table 7: version 1 at level M holds 14 bytes; finder patterns by 6.3.3."""

    def modules(text: str) -> Image.Image:
        content = base64.b64decode(code(text).removeprefix("data:image/png;base64,"))
        with Image.open(io.BytesIO(content)) as found:
            side = found.width // DOTS
            return found.convert("L").resize((side, side), Image.Resampling.NEAREST)

    made = modules("fourteen bytes")
    dark = {
        (x, y) for x in range(made.width) for y in range(made.height) if not made.getpixel((x, y))
    }

    assert made.width == 21 + 2 * QUIET
    assert modules("fifteen bytes__").width == 25 + 2 * QUIET
    assert min(min(x, y) for x, y in dark) == QUIET
    assert max(max(x, y) for x, y in dark) == QUIET + 20
    ring = [(x, 0) for x in range(7)] + [(0, y) for y in range(7)] + [(3, 3), (2, 4)]
    assert all((QUIET + x, QUIET + y) in dark for x, y in ring)
    assert all((QUIET + at, QUIET + 1) not in dark for at in range(1, 6))


def test_too_much_is_no_code() -> None:
    with pytest.raises(ValueError, match="Data too large"):
        code("x" * 2400)


# What others send


@pytest.mark.parametrize("content", [b"", b"%PDF-1.7", b"%PDF-1.7\n%%EOF", b"x" * 9_000_000])
def test_what_is_no_page_is_refused_in_one_line(content: bytes) -> None:
    with pytest.raises(PaperError):
        opened(content)


def test_a_page_that_is_cut_or_changed_anywhere_breaks_nothing(page: bytes) -> None:
    read = 0
    for at in range(0, len(page), len(page) // 60):
        for content in (page[:at], page[:at] + b"\xff" + page[at + 1 :]):
            try:
                read += "credential.json" in opened(content).attached
            except PaperError:
                continue

    assert read > 5


def test_two_attachments_of_one_name_are_refused(page: bytes, tmp_path: Path) -> None:
    with pikepdf.open(io.BytesIO(page)) as pdf:
        names = pdf.Root.Names.EmbeddedFiles.Names
        again = pdf.make_indirect(pdf.Root.AF[1])
        again.UF = again.F = pikepdf.String("credential.json")
        names[2] = pikepdf.String("credential.json")
        assert len(names) == 4
        pdf.save(tmp_path / "twice.pdf")
    with pytest.raises(PaperError, match="two attachments named credential"):
        opened((tmp_path / "twice.pdf").read_bytes())
