"""Makes the pictures of the README's tour in a browser anew: `./dev pictures`.

Of the invented school, in the machine's own Chromium; each kept small by a palette of few colours.
"""

from __future__ import annotations

import io
import secrets
import subprocess
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

from PIL import Image
from playwright.sync_api import Page
from tests.web.browser import DESK, PHONE, browser, sign_in
from tests.web.conftest import NOW, PASSWORD, PEOPLE, Clock, Served, served
from tests.web.mat import Mat, mat

from standfast.cli.app import run
from standfast.desk.access import add_account
from standfast.desk.opening import Moment, open_desk

OUT = Path(__file__).parents[1] / ".readme"
COLOURS = 48
CERTIFICATE = "LT1-2026-0016"
GAP = 24
OFFICE = {
    "web-due": ("/due?span=90d", 860),
    "web-practical": ("/practicals/sandhof-2026-10-13", 900),
    "web-decision": ("/decisions/anouk-desrosiers/trapeze-refresher", 860),
    "web-assessors": ("/assessors", 900),
}
"""Name of a picture to the page that it shows, and how much of it."""


def main() -> None:
    """Makes them all."""
    with tempfile.TemporaryDirectory() as scratch:
        folder = school_in(Path(scratch))
        with served(folder, Clock()) as house:
            office(house, Path(scratch) / "office")
            beside_the_mat(house, Path(scratch))
        checked(folder, Path(scratch))
        drawn(Path(scratch) / f"signed-{CERTIFICATE}.pdf", OUT / "signed.png")
    for path in sorted((*OUT.glob("web-*.png"), OUT / "signed.png", OUT / "verify.png")):
        sys.stderr.write(f"{path.stat().st_size:>7} bytes  {path.name}\n")


def school_in(scratch: Path) -> Path:
    """The invented school, lived through, with accounts."""
    if run(["demo", "--out", str(scratch / "out")]) != 0:
        raise SystemExit("the demo did not run")
    folder = scratch / "out" / "school"
    with open_desk(folder, Moment(NOW, "pictures", secrets.token_bytes)) as desk:
        for login, (person, roles) in PEOPLE.items():
            add_account(desk, login, roles, PASSWORD, person=person)
    return folder


def office(house: Served, profile: Path) -> None:
    """The pages of the office, wide."""
    with browser(profile, DESK, touch=False) as found:
        page = found.page()
        sign_in(page, house, "all")
        for name, (address, height) in OFFICE.items():
            page.set_viewport_size({"width": 1100, "height": height})
            page.goto(f"{house.address}{address}")
            page.screenshot(path=OUT / f"{name}.png")
            small(OUT / f"{name}.png")


def beside_the_mat(house: Served, scratch: Path) -> None:
    """A lesson on a phone: scored, stopped, reviewed; by day and in a dim hall."""
    shots: list[Path] = []

    def shot(page: Page) -> None:
        shots.append(scratch / f"phone-{len(shots)}.png")
        page.screenshot(path=shots[-1])

    with mat(scratch / "phone", house, PHONE) as lesson:
        lesson.begin(students=6, taught=("tuck-hang", "long-hang"))
        some_marks(lesson)
        shot(lesson.page)
        in_the_dark(lesson.page, lambda: shot(lesson.page))
        lesson.page.tap("#stop")
        lesson.page.wait_for_selector("#stopped[open]")
        shot(lesson.page)
    beside_each_other(shots, OUT / "web-mat.png")


def checked(folder: Path, scratch: Path) -> None:
    """A certificate on the page with which anybody checks, saved to a disk."""
    site = scratch / "site"
    typed("keys", "make", "--issuer", "https://sandhof.example/issuer.json", "--school", folder)
    typed("sign", CERTIFICATE, "--out", scratch, "--school", folder)
    typed("publish", "--out", site, "--school", folder)
    with browser(scratch / "checking", DESK, touch=False) as found:
        page = found.page()
        page.set_viewport_size({"width": 900, "height": 900})
        page.goto((site / "verify.html").as_uri())
        lists = sorted((site / "status").iterdir())
        page.set_input_files(
            "#files", [scratch / f"signed-{CERTIFICATE}.pdf", site / "trust.json", *lists]
        )
        page.get_by_role("button", name="It is the same").click()
        page.locator(".yes", has_text="school's record book").wait_for()
        page.evaluate("scrollTo(0, 0)")
        begin, end = (page.locator(one).bounding_box() for one in ("#said", "article table"))
        if begin is None or end is None:
            raise SystemExit("nothing was found")
        height = end["y"] + end["height"] - begin["y"]
        page.screenshot(path=OUT / "verify.png", full_page=True, clip=begin | {"height": height})
    small(OUT / "verify.png")


def drawn(paper: Path, out: Path) -> None:
    """A paper as a picture."""
    there = str(out.with_suffix(""))
    made = ["pdftoppm", "-r", "80", "-png", "-singlefile", str(paper), there]
    subprocess.run(made, check=True)
    small(out)


def typed(*arguments: object) -> None:
    """A command that asks for a passphrase."""
    sys.stdin = io.StringIO("four plain words here\n")
    if run([*map(str, arguments), "--passphrase-stdin"]) != 0:
        raise SystemExit(f"{arguments[0]} did not run")


def some_marks(lesson: Mat) -> None:
    """What a minute of a lesson leaves."""
    page = lesson.page
    page.tap("#let-go")
    page.tap("#all-yes")
    lesson.student(2)
    page.tap("#let-go")
    lesson.answer(1, "yes")
    lesson.answer(2, "no")
    page.wait_for_timeout(500)


def in_the_dark(page: Page, shot: Callable[[], None]) -> None:
    """The same in the dark look, for the left hand."""
    look = "document.documentElement.dataset"
    page.evaluate(f"{look}.theme = 'dark'; {look}.hand = 'left'")
    shot()
    page.evaluate(f"{look}.theme = 'day'; {look}.hand = 'right'")


def beside_each_other(files: list[Path], out: Path) -> None:
    """One picture of several."""
    images = [Image.open(file).convert("RGB") for file in files]
    width = sum(image.width for image in images) + GAP * (len(images) - 1)
    whole = Image.new("RGB", (width, max(image.height for image in images)), "#ffffff")
    at = 0
    for image in images:
        whole.paste(image, (at, 0))
        at += image.width + GAP
    whole.save(out)
    small(out)


def small(file: Path) -> None:
    """The same picture with few colours."""
    Image.open(file).convert("RGB").quantize(COLOURS).save(file, optimize=True)


if __name__ == "__main__":
    main()
