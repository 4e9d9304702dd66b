"""Every page that can be reached, read as a person reads it."""

from __future__ import annotations

import html
import re
from collections.abc import Iterator

import pytest
from tests.web.conftest import TODAY, Served, Visit, reached

from standfast.desk.opening import Desk, Moment, open_desk
from standfast.model.canonical import canonical, plain
from standfast.web.naming import named


def words_of(page: str) -> str:
    """What stands on the page, without what was typed by somebody or is shown as it is kept."""
    shown = re.sub(r"<(script|style|q|code|pre)\b.*?</\1>", " ", page, flags=re.DOTALL)
    return " ".join(html.unescape(re.sub(r"<[^>]*>", " ", shown)).split())


def walk(visit: Visit, login: str) -> Iterator[tuple[str, str]]:
    """Address and words of the pages that are reached from the first one."""

    def got(address: str) -> str:
        answer = visit(login).get(address)
        assert answer.status_code == 200, address
        return answer.text

    for address, page in reached(got):
        yield address, words_of(page)


@pytest.fixture(scope="module", params=["all", "hana", "office"])
def pages(request: pytest.FixtureRequest, visit: Visit) -> dict[str, str]:
    found = dict(walk(visit, request.param))
    assert len(found) > 5
    return found


@pytest.fixture(scope="module")
def ids(reading_house: Served) -> set[str]:
    """Of several words, of everybody and everything in the book that has a name."""
    moment = Moment(reading_house.clock.now, "test", bytes, TODAY)
    with open_desk(reading_house.folder, moment) as desk:
        found = {one.id for one in desk.book.people()}
        found |= {one.document for who in desk.book.people() for one in who.documents}
        for kind in ("rubric", "syllabus"):
            for reference in desk.book.texts(kind):
                found |= set(re.findall(r'"id":"([^"]+)"', canonical_text(desk, reference.hash)))
    return {one for one in found if "-" in one}


def canonical_text(desk: Desk, wanted: str) -> str:
    text = desk.book.find_text(wanted)
    assert text
    return canonical(plain(text)).decode()


def found_in(pages: dict[str, str], pattern: str) -> list[tuple[str, str]]:
    """Every place with that pattern, and what stands around it."""
    return [
        (address, text[max(0, one.start() - 30) : one.end() + 30])
        for address, text in pages.items()
        for one in re.finditer(pattern, text)
    ]


def test_days_and_periods_stand_as_a_person_reads_them(pages: dict[str, str]) -> None:
    as_in_a_file = r"(?<![\w/-])\d{4}-\d{2}-\d{2}(?![\w-])|\bP\d+[YMWD]\b"

    assert found_in(pages, as_in_a_file) == []
    assert found_in(pages, r"\b\d{1,2} (?:October|November) 2026\b")


def test_whoever_and_whatever_has_a_name_is_called_by_it(
    pages: dict[str, str], ids: set[str]
) -> None:
    assert len(ids) > 40
    any_of_them = "|".join(map(re.escape, ids))

    assert found_in(pages, rf"(?<![\w/.@-])(?:{any_of_them})(?![\w@-])") == []
    assert found_in(pages, r"\b[a-z]+_[a-z_]+\b") == []


@pytest.mark.parametrize(
    ("page", "told"),
    [
        pytest.param("<p>ada-berg passed</p>", "<p>Ada &lt;Berg&gt; passed</p>", id="a name"),
        pytest.param("<p>ada-berg.</p>", "<p>Ada &lt;Berg&gt;.</p>", id="at the end"),
        pytest.param("<a href='/people/ada-berg'>", "<a href='/people/ada-berg'>", id="a tag"),
        pytest.param("<q>ada-berg</q>", "<q>ada-berg</q>", id="what somebody typed"),
        pytest.param("ada-berg-2 and x-ada-berg", "ada-berg-2 and x-ada-berg", id="part of one"),
        pytest.param("ada-berg@a.example", "ada-berg@a.example", id="an address"),
        pytest.param("people/ada-berg.yaml ada-berg.yaml", None, id="a file"),
        pytest.param("<p>no-such</p>", "<p>no-such</p>", id="nobody"),
    ],
)
def test_an_id_becomes_a_name_in_a_sentence_only(page: str, told: str | None) -> None:
    assert named(page, {"ada-berg": "Ada <Berg>"}.get) == (told or page)


def test_a_field_that_is_refused_is_called_as_its_label(house: Served) -> None:
    form = {"document": "first-aid", "issued": "2026-11-01", "last_day": "soon"}
    answer = house.visitor("office").post("/people/ines-carvalho-teles/documents", data=form)

    assert answer.status_code == 422
    assert "last day: " in words_of(answer.text)
    assert "last_day" not in words_of(answer.text)
