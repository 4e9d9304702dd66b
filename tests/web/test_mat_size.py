"""What a page beside the mat loads over a slow network: as little as plain code allows."""

from __future__ import annotations

import gzip
import re
import sys

import pytest

from standfast.web.routes.mat_pages import PAGES, SCRIPTS

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
    return sum(len(gzip.compress((SCRIPTS / name).read_bytes(), 9)) for name in names)


@pytest.mark.parametrize("address", PAGES)
def test_a_page_loads_at_most_15_kilobytes_of_script(address: str) -> None:
    script, _ = PAGES[address]
    size = zipped({*asked_for(f"{script}.js"), *ASIDE})
    sys.stderr.write(f"{address}: {size} bytes of script, gzipped\n")

    assert 5_000 < size <= MOST


@pytest.mark.parametrize("address", PAGES)
def test_a_page_names_beforehand_every_module_that_it_will_ask_for(address: str) -> None:
    script, modules = PAGES[address]
    asked = {name.removesuffix(".js") for name in asked_for(f"{script}.js")}

    assert {script, *modules} == asked


def test_no_script_is_there_that_no_page_asks_for() -> None:
    asked = {name for script, _ in PAGES.values() for name in asked_for(f"{script}.js")}
    there = {path.name for path in SCRIPTS.glob("*.js")}
    sys.stderr.write(f"all of it: {zipped(there)} bytes of script, gzipped\n")

    assert there == asked | ASIDE
