"""What a page beside the mat loads over a slow network: as little as plain code allows."""

from __future__ import annotations

import gzip
import re
import sys

import pytest
from tests.web.conftest import Served

from standfast.web.routes.mat_pages import PAGES, SCRIPTS, script

MOST = 15_000  # bytes, gzipped: at most 15 KB for a page (the project's own target)
ASIDE = {"look.js", "sw.js"}  # before each page is drawn, and the worker behind it


def asked_for(name: str, known: tuple[str, ...] = ()) -> tuple[str, ...]:
    """The script and every module that it asks for, each once."""
    known = (*known, name)
    text = (SCRIPTS / name).read_text("utf-8")
    for other in re.findall(r"""(?:from|import\()\s*["']\./([\w.-]+)["']""", text):
        if other not in known:
            known = asked_for(other, known)
    return known


def zipped(names: set[str]) -> int:
    """Bytes on the wire: each file is zipped by itself."""
    return sum(len(gzip.compress(script(name).encode(), 9)) for name in names)


@pytest.mark.parametrize("address", PAGES)
def test_a_page_loads_at_most_15_kilobytes_of_script(address: str) -> None:
    first, _ = PAGES[address]
    size = zipped({*asked_for(f"{first}.js"), *ASIDE})
    sys.stderr.write(f"{address}: {size} bytes of script, gzipped\n")

    assert 5_000 < size <= MOST


@pytest.mark.parametrize("address", PAGES)
def test_a_page_names_beforehand_every_module_that_it_will_ask_for(address: str) -> None:
    first, modules = PAGES[address]
    asked = {name.removesuffix(".js") for name in asked_for(f"{first}.js")}

    assert {first, *modules} == asked


def test_no_script_is_there_that_no_page_asks_for() -> None:
    asked = {name for first, _ in PAGES.values() for name in asked_for(f"{first}.js")}
    there = {path.name for path in SCRIPTS.glob("*.js")}
    sys.stderr.write(f"all of it: {zipped(there)} bytes of script, gzipped\n")

    assert there == asked | ASIDE


@pytest.mark.parametrize("name", [path.name for path in SCRIPTS.glob("*.js")])
def test_a_script_is_sent_as_it_is_but_for_its_lines_of_comment(name: str) -> None:
    lines = (SCRIPTS / name).read_text("utf-8").splitlines()
    sent = [line for line in lines if not line.lstrip().startswith("//")]

    assert script(name).splitlines() == sent
    assert len(sent) < len(lines)
    assert all(line.count("`") % 2 == 0 for line in sent)  # a text of two lines might hold "//"


def test_the_server_sends_the_script_so_and_answers_for_no_other_name(house: Served) -> None:
    visitor = house.visitor()
    sent = visitor.get("/static/mat/store.js")

    assert sent.text == script("store.js")
    assert sent.headers["content-type"].startswith("text/javascript")
    assert visitor.get("/static/mat/app.js").status_code == 404
