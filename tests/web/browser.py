"""A real browser: the machine's own Chromium, with a fresh profile, and nothing that calls home."""

from __future__ import annotations

import os
import re
import shutil
import signal
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Literal, TypedDict

from playwright.sync_api import Browser as Started
from playwright.sync_api import BrowserContext, Page, Playwright, sync_playwright
from tests.web.conftest import PASSWORD, Served

CHROMIUM = shutil.which("chromium") or shutil.which("google-chrome")
QUIET = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)


class Size(TypedDict):
    """Of a screen, in CSS pixels."""

    width: int
    height: int


PHONE: Size = {"width": 390, "height": 664}
TALL_PHONE: Size = {"width": 390, "height": 844}
TABLET: Size = {"width": 820, "height": 1180}
DESK: Size = {"width": 1280, "height": 900}


@dataclass
class Browser:
    """A browser on a profile; what its pages complained of is kept."""

    context: BrowserContext
    profile: Path
    complaints: list[str]

    def page(self) -> Page:
        """A new page."""
        return self.context.new_page()

    def kill(self) -> None:
        """Ends every process of this profile at once, as a dead battery would.

        The browser itself goes first, since it would start anew what it misses; and none is left
        that could still hold the profile's files when the next browser opens them.
        """
        for _ in range(200):
            alive = sorted(self._processes(), key=lambda one: b"--type=" in one[1])
            if not alive:
                return
            for number, _command in alive:
                with suppress(ProcessLookupError):
                    os.kill(number, signal.SIGKILL)
            time.sleep(0.005)
        raise AssertionError("a process of the browser outlives SIGKILL")

    def _processes(self) -> Iterator[tuple[int, bytes]]:
        """Number and command of each; a dead one that nobody waited for has no command."""
        for folder in Path("/proc").glob("[0-9]*"):
            with suppress(OSError):
                command = (folder / "cmdline").read_bytes()
                if str(self.profile).encode() in command:
                    yield int(folder.name), command


def listened(context: BrowserContext) -> list[str]:
    """What pages of it will complain of: errors and refused content."""
    complaints: list[str] = []
    context.on("weberror", lambda error: complaints.append(str(error.error)))
    context.on(
        "console", lambda told: complaints.append(told.text) if told.type == "error" else None
    )
    return complaints


@contextmanager
def forgetful(playwright: Playwright) -> Iterator[Started]:
    """A browser without a profile: each context of it is apart, and forgotten when it closes."""
    started = playwright.chromium.launch(executable_path=CHROMIUM, headless=True, args=list(QUIET))
    try:
        yield started
    finally:
        started.close()


@contextmanager
def browser(
    profile: Path,
    size: Size = PHONE,
    *,
    touch: bool = True,
    dark: bool = False,
    playwright: Playwright | None = None,
) -> Iterator[Browser]:
    """A browser with that folder as its profile; errors and refused content are complaints."""
    if playwright is None:
        with (
            sync_playwright() as started,
            browser(profile, size, touch=touch, dark=dark, playwright=started) as found,
        ):
            yield found
        return
    theme: Literal["dark", "light"] = "dark" if dark else "light"
    context = playwright.chromium.launch_persistent_context(
        profile,
        executable_path=CHROMIUM,
        headless=True,
        args=list(QUIET),
        has_touch=touch,
        is_mobile=touch,
        viewport={"width": size["width"], "height": size["height"]},
        color_scheme=theme,
    )
    found = Browser(context, profile, listened(context))
    try:
        yield found
    finally:
        with suppress(Exception):  # after a kill there is nothing to close
            context.close()


def sign_in(page: Page, house: Served, login: str, then: str = "/") -> None:
    """Signs in as a person does, and goes on to a page."""
    page.goto(f"{house.address}/sign-in")
    page.fill("#login", login)
    page.fill("#password", PASSWORD)
    page.click("button.main")
    page.wait_for_url(re.compile(r"/$"))
    if then != "/":
        page.goto(f"{house.address}{then}")
