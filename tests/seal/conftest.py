"""The page with which anybody checks a certificate, open in a browser without network."""

from __future__ import annotations

import signal
from base64 import b64encode
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, Playwright, Route, sync_playwright
from tests.published.test_credential_cases import NOW, TRUSTED
from tests.web.browser import DESK, browser, forgetful, listened

from standfast.seal.check_page import page
from standfast.seal.trust import TrustFile
from standfast.seal.verify import Lists, verify

Answers = dict[str, str]

ASKED = """async ({ cases, call, longest }) => {
  const bytes = text => Uint8Array.from(atob(text), one => one.charCodeAt(0));
  const refused = error => {
    if (error instanceof standfast.Unreadable) return null;
    throw error;
  };
  const attached = bytes => {
    try {
      return standfast.attached(bytes);
    } catch (error) {
      return refused(error) ?? [];
    }
  };
  const row = one => [
    one.querySelector("th").textContent, one.querySelector(".answer").lastChild.textContent.trim()];
  const calls = {
    verify: one => standfast.verify(one.bytes, one.trusted, one.lists, one.now),
    token: one => standfast.verifyToken(
      standfast.fromUtf8(one.bytes), one.trusted, one.lists, one.now),
    trust: one => standfast.readTrust(one.bytes).then(found => found.fingerprint),
    json: one => standfast.canonical(standfast.readJson(one.bytes)),
    key: one => standfast.hex(standfast.publicKey(standfast.fromUtf8(one.bytes)).raw),
    receipt: one => standfast.checkReceipt(
      one.bytes, standfast.readJson(one.lists[0]), one.trusted),
    whole: async one => {
      document.getElementById("clear").click();
      for (const part of [...one.lists, one.bytes]) await standfast.take(new File([part], "given"));
      await standfast.show();
      const said = Array.from(document.querySelectorAll("article"),
        one => Object.fromEntries(Array.from(one.querySelectorAll("tbody tr"), row)));
      const inside = await Promise.all(attached(one.bytes).map(
        content => content().then(standfast.base64url, refused)));
      const notes = document.getElementById("given").innerText;
      if (notes.includes("this page cannot read it")) return notes;
      return { said, inside: inside.filter(Boolean) };
    },
  };
  const said = async one => {
    try {
      return await calls[call](one);
    } catch (error) {
      return error instanceof standfast.Unreadable ? null : `threw ${error}`;
    }
  };
  const found = [];
  for (const one of cases) {
    const given = { ...one, bytes: bytes(one.bytes), lists: one.lists.map(bytes) };
    const begun = performance.now();
    const answer = await said(given);
    const took = performance.now() - begun;
    found.push(took < longest ? answer : `took ${took} ms`);
  }
  return found;
}"""
QUESTIONS = {
    "Is it a certificate, and nothing beside it?": "shape",
    "Is it unchanged since it was signed?": "signature",
    "Did a key sign it that is the school's?": "key",
    "Is today within its dates?": "dates",
    "Was it left in force, and not withdrawn?": "revocation",
    "Is it free of any suspension?": "suspension",
    "Is it hers whose name you typed?": "holder",
    "Does the paper go with the file?": "paper",
    "Does it stand in the school's record book?": "book",
}
"""As they stand on the page."""
LONGEST = 5_000
"""Milliseconds; whatever the page is given, it answers sooner."""
HANGS = 120
"""Seconds, for many cases."""


@dataclass(frozen=True)
class Case:
    """A file, and what it is held against."""

    content: bytes
    lists: tuple[bytes, ...] = ()
    trusted: Sequence[TrustFile] = field(default=(TRUSTED,))
    now: datetime = NOW

    def told(self) -> dict[str, Any]:
        """As the page is given it."""
        return {
            "bytes": b64encode(self.content).decode(),
            "lists": [b64encode(one).decode() for one in self.lists],
            "trusted": [{"file": one.model_dump(mode="json")} for one in self.trusted],
            "now": self.now.timestamp() * 1000,
        }

    def by_python(self) -> Answers:
        """What `verify` answers."""
        found = verify(self.content, self.trusted, Lists(self.lists), self.now)
        return {one.question: one.answer for one in found}


def _as_answers(said: Sequence[dict[str, str]]) -> Answers:
    return {one["question"]: one["answer"] for one in said}


@dataclass(frozen=True)
class Checking:
    """The page, and what it says."""

    page: Page
    apart: Browser
    """Where a page opens that neither knows nor leaves anything of another's."""
    playwright: Playwright
    """What starts another browser: there is one of it at a time."""

    def each(self, cases: Sequence[Case], call: str) -> list[Any]:
        """What the function of the page says of each case, in one call."""
        asked = {"cases": [one.told() for one in cases], "call": call, "longest": LONGEST}
        with within(HANGS):
            return list(self.page.evaluate(ASKED, asked))

    def answers(self, *cases: Case) -> list[Answers]:
        """The page's answers to the same questions."""
        return [_as_answers(said) for said in self.each(cases, "verify")]

    def of_tokens(self, *cases: Case) -> list[Answers]:
        """The page's answers about codes on paper."""
        return [_as_answers(said) for said in self.each(cases, "token")]


@contextmanager
def within(seconds: int) -> Iterator[None]:
    """Ends what takes longer: a page that hangs answers nothing."""

    def late(*_: object) -> None:
        raise TimeoutError(f"no answer within {seconds} seconds")

    before = signal.signal(signal.SIGALRM, late)
    signal.alarm(seconds)
    try:
        yield
    finally:
        signal.alarm(0)
        signal.signal(signal.SIGALRM, before)


@pytest.fixture(scope="session")
def page_file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The page as a file on a disk."""
    file = tmp_path_factory.mktemp("page") / "verify.html"
    file.write_bytes(page())
    return file


@pytest.fixture(scope="module")
def checking(page_file: Path) -> Iterator[Checking]:
    """The page, opened from the disk, with the network off."""
    with sync_playwright() as started, forgetful(started) as found, alone(found) as opened:
        opened.goto(page_file.as_uri())
        opened.evaluate("standfast.begun")
        yield Checking(opened, found, started)


@contextmanager
def alone(found: Browser) -> Iterator[Page]:
    """A tab with a memory of its own, and with the network off; it must complain of nothing."""
    context = found.new_context(viewport=DESK, offline=True)
    complaints = listened(context)
    try:
        yield context.new_page()
    finally:
        context.close()
    assert complaints == []


@contextmanager
def believing(
    playwright: Playwright, apart: Browser, page_file: Path, trust: bytes, now: datetime = NOW
) -> Iterator[Checking]:
    """The page in a tab of its own, at that time, where a school is believed."""
    with alone(apart) as tab:
        tab.clock.set_fixed_time(now)
        tab.goto(page_file.as_uri())
        tab.evaluate("standfast.begun")
        tab.set_input_files("#files", {"name": "trust.json", "mimeType": "", "buffer": trust})
        tab.get_by_role("button", name="It is the same").click()
        yield Checking(tab, apart, playwright)


@contextmanager
def on_site(
    playwright: Playwright, profile: Path, address: tuple[str, str], files: Mapping[str, bytes]
) -> Iterator[tuple[Page, list[str]]]:
    """The page as a school's site gives it, and all that it asks for.

    `address` is what that of every file begins with, and the page's own; a file of no name is
    answered with 404.
    """
    site, path = address
    requests: list[str] = []

    def answer(route: Route) -> None:
        wanted = route.request.url.removeprefix(site).partition("#")[0]
        requests.append(wanted)
        found = files.get(f"{wanted}index.html" if wanted.endswith("/") else wanted)
        if found is None:
            route.fulfill(status=404)
        else:
            html = found.startswith(b"<!doctype html>")
            route.fulfill(body=found, content_type="text/html" if html else "application/json")

    with browser(profile, DESK, touch=False, playwright=playwright) as opened:
        opened.context.route("**", answer)
        tab = opened.page()
        tab.clock.set_fixed_time(NOW)
        tab.goto(f"{site}{path}")
        tab.evaluate("standfast.begun")
        yield tab, requests
        assert [one for one in opened.complaints if "404" not in one] == []
