"""The printed head of the record book, and the way back from paper to the signed head."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from tests.paper.conftest import Made, head_facts
from tests.paper.test_pages import outside

from standfast.paper.pdf import Printer
from standfast.paper.view.head import head_view, in_lines
from standfast.seal.keys import SecretKey
from standfast.seal.receipts import Head, read, signer

Text = Callable[[bytes], str]


@pytest.fixture(scope="module")
def page(made: Made, press: Printer) -> bytes:
    return press.print("head", head_view(head_facts(), made.school), most_pages=1)


def test_it_says_when_how_many_and_how_to_compare(page: bytes, text: Text, made: Made) -> None:
    words, facts = text(page), head_facts()

    # 23:30:05 in UTC is past midnight where the school is.
    assert "21 November 2026, 00:30:05, Europe/Vienna" in words
    assert "254 entries" in words
    assert made.school.name in words
    assert facts.fingerprint in words
    for number, line in enumerate(in_lines(facts.root), 1):
        assert f"line {number} {' '.join(line)}" in words


def test_it_says_what_whoever_keeps_it_can_do_with_it(page: bytes, text: Text) -> None:
    words = text(page)

    assert "standfast prove --since head-2026-11-21.json" in words
    assert "verify growth-head-2026-11-21.json --kept head-2026-11-21.json" in words
    assert "proves nothing against whoever holds its file" in words


def test_the_root_in_lines_is_the_root() -> None:
    lines = in_lines(head_facts().root)

    assert [len(line) for line in lines] == [4, 4, 4, 4]
    assert "".join("".join(line) for line in lines) == head_facts().root


def test_the_signed_head_can_be_read_back_from_the_page(page: bytes, text: Text) -> None:
    printed = text(page)
    signed = printed[printed.index("{") : printed.rindex("}") + 1].replace(" ", "")
    head = read(signed.encode(), Head)

    assert signed == head_facts().signed
    assert signer(head).thumbprint == head_facts().fingerprint


def test_same_head_same_bytes_and_another_head_other_bytes(
    page: bytes, made: Made, press: Printer
) -> None:
    again = Printer(press.folders).print("head", head_view(head_facts(), made.school))
    grown = Printer(press.folders).print("head", head_view(head_facts(size=255), made.school))

    assert again == page
    assert grown != page


LONG = "https://" + "a-school-with-a-long-name." * 9 + "example/" + "path/" * 8 + "issuer"


@pytest.mark.parametrize("paper", ["A4", "Letter"])
@pytest.mark.parametrize(
    ("issuer", "pages"),
    [
        pytest.param(f"did:key:{SecretKey(bytes(32)).public.multikey}", 1, id="a key for a name"),
        pytest.param("https://" + "sandhof-" * 8 + "school.example/" + "x" * 20, 1, id="long"),
        pytest.param(LONG, 2, id="longer than any"),
    ],
)
def test_a_long_address_and_a_long_book_stay_on_their_page(
    made: Made, press: Printer, text: Text, tmp_path: Path, paper: str, issuer: str, pages: int
) -> None:
    school = made.school.model_copy(update={"paper": paper, "name": "Sandhof of the Pines " * 8})
    facts = head_facts(issuer, 2**53 - 1)
    pdf = press.print("head", head_view(facts, school), most_pages=pages)

    assert outside(pdf, tmp_path) == []
    assert facts.signed in text(pdf).replace(" ", "")


def test_a_school_that_is_not_invented_does_not_say_so(
    made: Made, press: Printer, text: Text
) -> None:
    school = made.school.model_copy(update={"invented": False})
    words = text(press.print("head", head_view(head_facts(), school)))

    assert "Invented for demonstration" not in words
    assert "stays on the ground" in words
