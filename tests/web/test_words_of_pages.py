"""Every page that can be reached, read as a person reads it."""

from __future__ import annotations

import html
import re
from collections.abc import Iterator

import pytest
from tests.web.conftest import Visit

NO_PAGE = re.compile(r"\.(?:pdf|csv|xlsx|ics|css|svg|js)\b")
MOST_OF_A_KIND = 12
"""Pages of one kind, such as people; others are made from the same template."""


def words_of(page: str) -> str:
    """What stands on the page, without what was typed by somebody or is shown as it is kept."""
    shown = re.sub(r"<(script|style|q|code|pre)\b.*?</\1>", " ", page, flags=re.DOTALL)
    return " ".join(html.unescape(re.sub(r"<[^>]*>", " ", shown)).split())


def walk(visit: Visit, login: str) -> Iterator[tuple[str, str]]:
    """Address and words of the pages that are reached from the first one."""
    visitor, waiting, seen, kinds = visit(login), ["/"], {"/"}, dict[str, int]()
    while waiting:
        address = waiting.pop(0)
        kind = re.sub(r"(?<=.)/[^/?]+$|\?.*", "", address)
        kinds[kind] = kinds.get(kind, 0) + 1
        if kinds[kind] > MOST_OF_A_KIND:
            continue
        answer = visitor.get(address)
        assert answer.status_code == 200, address
        yield address, words_of(answer.text)
        for found in re.findall(r'href="(/[^"#]*)', answer.text):
            there = html.unescape(found)
            if there not in seen and not NO_PAGE.search(there):
                seen.add(there)
                waiting.append(there)


@pytest.fixture(scope="module", params=["all", "hana", "office"])
def pages(request: pytest.FixtureRequest, visit: Visit) -> dict[str, str]:
    found = dict(walk(visit, request.param))
    assert len(found) > 10
    return found


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
