"""A paper is the one that the school made, or what it shows is not known."""

from __future__ import annotations

from collections.abc import Callable

import pikepdf
import pytest
from tests.cli.conftest import FILE, NUMBER, Run
from tests.cli.test_sealing import LISTS, PAPER, believing, found

from standfast.desk import issuing
from standfast.paper.opened import opened

BOX = b"q 1 g 60 300 400 300 re f Q "
WORDS = b"BT /Helv 30 Tf 1 0 0 rg 80 420 Td (Somebody Else) Tj ET"


def more_ink(pdf: pikepdf.Pdf) -> None:
    """A white box over the name, and another name upon it."""
    page = pdf.pages[0]
    page.Resources.Font["/Helv"] = pikepdf.Dictionary(
        Type=pikepdf.Name.Font, Subtype=pikepdf.Name.Type1, BaseFont=pikepdf.Name.Helvetica
    )
    page.contents_add(pdf.make_stream(BOX + WORDS))


def a_note(pdf: pikepdf.Pdf) -> None:
    note = pikepdf.Dictionary(
        Type=pikepdf.Name.Annot,
        Subtype=pikepdf.Name.FreeText,
        Rect=[60, 300, 460, 600],
        Contents="Somebody Else",
    )
    pdf.pages[0].Annots = pikepdf.Array([pdf.make_indirect(note)])


def a_page_more(pdf: pikepdf.Pdf) -> None:
    pdf.add_blank_page()


def letters_that_look_otherwise(pdf: pikepdf.Pdf) -> None:
    """Each glyph is drawn as the next one, and reads as before."""
    fonts = pdf.pages[0].Resources.Font
    shift = b"".join((at + 1).to_bytes(2, "big") for at in range(2000))
    for name in fonts.keys():  # noqa: SIM118 - pikepdf's own
        fonts[name].DescendantFonts[0].CIDToGIDMap = pdf.make_stream(shift)


def a_name_beside(pdf: pikepdf.Pdf) -> None:
    pdf.docinfo["/Title"] = "Certificate of Somebody Else"


def written_anew(pdf: pikepdf.Pdf) -> None:
    """Nothing is changed but how it is written down."""
    del pdf


def changed(change: Callable[[pikepdf.Pdf], None]) -> None:
    with pikepdf.open(PAPER, allow_overwriting_input=True) as pdf:
        change(pdf)
        pdf.save(PAPER, compress_streams=False)


def a_later_version_behind_it() -> None:
    """As programs that mark a page write: the first version stays in the file."""
    PAPER.write_bytes(PAPER.read_bytes() + b"% more\n")


def another_byte_beside_the_receipt() -> None:
    """One of the spaces of the room that was left for it."""
    whole = PAPER.read_bytes()
    receipt = opened(whole).attached["receipt.json"]
    PAPER.write_bytes(whole.replace(receipt, receipt[:-1] + b"\n"))


CHANGES = [more_ink, a_note, a_page_more, letters_that_look_otherwise, a_name_beside, written_anew]


@pytest.mark.usefixtures("keyed")
def test_what_was_painted_over_added_or_swapped_is_never_a_yes(typed: Run, standfast: Run) -> None:
    believing(standfast, typed)
    whole = PAPER.read_bytes()
    as_made = standfast("verify", PAPER, *LISTS, "--json")
    answers = {}
    for change in CHANGES:
        PAPER.write_bytes(whole)
        changed(change)
        told = standfast("verify", PAPER, *LISTS, "--school", ".", "--json")
        answers[change.__name__] = (told.code, found(told)["paper"])
    PAPER.write_bytes(whole)
    a_later_version_behind_it()
    later = standfast("verify", PAPER, *LISTS, "--json")
    words = standfast("verify", PAPER, *LISTS).flat

    assert (as_made.code, found(as_made)["paper"]) == (0, "yes")
    assert answers == {change.__name__: (1, "not known") for change in CHANGES}
    assert (later.code, found(later)["paper"]) == (1, "not known")
    assert "compare what you see with what is said here" in words
    assert found(later)["signature"] == "yes"


@pytest.mark.usefixtures("keyed")
def test_each_byte_beside_the_receipt_counts(typed: Run, standfast: Run) -> None:
    believing(standfast, typed)
    whole = PAPER.read_bytes()
    another_byte_beside_the_receipt()
    spaced = found(standfast("verify", PAPER, *LISTS, "--json"))["paper"]
    answers = set()
    for at in range(0, len(whole), len(whole) // 25):
        PAPER.write_bytes(whole[:at] + bytes([whole[at] ^ 1]) + whole[at + 1 :])
        told = standfast("verify", PAPER, *LISTS, "--json")
        answers.add(found(told).get("paper", "no") if told.code != 2 else "no")

    assert spaced == "yes"  # no reader of the page shows it, and the receipt says the same
    assert answers <= {"no", "not known"}


@pytest.mark.usefixtures("keyed")
def test_one_without_a_hash_of_its_paper_is_not_known_in_this_alone(
    typed: Run, standfast: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As all were that were given out before papers had one."""

    def as_before(desk: object, draft: object, paper: str) -> object:
        del paper
        return entered(desk, draft, None)

    entered: Callable[..., object] = issuing.entered
    monkeypatch.setattr("standfast.desk.giving.entered", as_before)
    believing(standfast, typed)
    told = standfast("verify", PAPER, *LISTS, "--json")

    assert {q for q, answer in found(told).items() if answer != "yes"} == {"paper"}
    assert found(told)["paper"] == "not known"
    assert found(standfast("verify", FILE, *LISTS, "--json"))["signature"] == "yes"


@pytest.mark.usefixtures("keyed")
def test_the_book_knows_the_paper_where_the_receipt_is_not_believed(
    typed: Run, standfast: Run
) -> None:
    believing(standfast, typed)
    typed("keys", "lost", "--stolen")
    standfast("trust", "keys/trust.json")
    alone = found(standfast("verify", PAPER, *LISTS, "--json"))
    asked = found(standfast("verify", PAPER, *LISTS, "--school", ".", "--json"))

    assert (alone["key"], alone["paper"], asked["paper"]) == ("not known", "not known", "yes")


@pytest.mark.usefixtures("keyed")
def test_a_receipt_of_another_paper_makes_none_of_it(typed: Run, standfast: Run) -> None:
    """The receipt of a later certificate of the same award, put into the first one's paper."""
    believing(standfast, typed)
    first = PAPER.read_bytes()
    typed("sign", NUMBER, "--out", "out")
    second = PAPER.read_bytes()
    own, other = (opened(one).attached["receipt.json"] for one in (first, second))
    put = other.rstrip(b" ").ljust(len(own))  # the numbers in it may be longer or shorter
    assert len(put) == len(own)
    PAPER.write_bytes(first.replace(own, put))
    told = found(standfast("verify", PAPER, *LISTS, "--json"))

    assert (told["paper"], told["book"]) == ("not known", "no")
