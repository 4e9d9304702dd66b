"""What paper costs: a batch against a naive loop, tags against none, memory against length.

The naive loop is what a first version would do: for each page one HTML string with its style
sheets in it, web fonts as WOFF2, and `HTML(string=...).write_pdf()`.  What TTF alone saves is
told by the ratio to the same loop with our own faces.
"""

from __future__ import annotations

import hashlib
import os
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator, Sequence
from datetime import date
from pathlib import Path

from tests.bench.measured import Row

from standfast.engine.dates import award_dates, standing
from standfast.files.rubrics import read_rubric
from standfast.files.school import read_school
from standfast.files.syllabus import read_syllabus
from standfast.model.award import Award
from standfast.model.base import Reference
from standfast.model.canonical import content_hash
from standfast.model.people import Person
from standfast.paper.batch import Job, print_all
from standfast.paper.fonts import FACES
from standfast.paper.pdf import Printer
from standfast.paper.view.certificate import CertificateView, certificate_view
from standfast.paper.view.letter import LetterView, letter_view

ROOT = Path(__file__).resolve().parents[2]
TEMPLATES = ROOT / "templates"
KEY = "01936b00-0000-7000-8000-000000000001"
ON = date(2026, 11, 20)
NAIVE, BATCH = 20, 200
"""Pages of the naive loop, and of the batch."""


def views(count: int) -> list[CertificateView]:
    """So many certificates of invented people."""
    rubric = read_rubric(ROOT / "rubrics" / "low-trapeze-1.yaml").noun
    syllabus = read_syllabus(ROOT / "rubrics" / "low-trapeze.yaml").noun
    school = read_school(ROOT / "candidates" / "school.yaml").noun
    if rubric.grants is None or rubric.validity is None:
        raise SystemExit("the rubric grants nothing")
    certifier = Person(id="marit-solheim-aune", name="Marit Solheim Aune")
    found = []
    for number in range(count):
        award = Award(
            id=KEY,
            number=f"LT1-2026-{number:04d}",
            candidate="ines-carvalho-teles",
            rubric=Reference(id=rubric.id, version=1, hash=content_hash(rubric)),
            scope=rubric.grants,
            decision=KEY,
            granted=ON,
            certifier=certifier.id,
            dates=award_dates(rubric.validity, ON),
            conditions=rubric.grants.conditions,
        )
        holder = Person(id="ines-carvalho-teles", name=f"Inês Carvalho Teles the {number}th")
        told = standing(award, {}, ON)
        found.append(
            certificate_view(award, holder, certifier, school, rubric, syllabus, [ON], told, on=ON)
        )
    return found


def processor_seconds() -> float:
    """Of this process and of those that it has waited for."""
    used = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    return sum(one.ru_utime + one.ru_stime for one in used)


def web_fonts(folder: Path) -> str:
    """The Latin faces as WOFF2, as they come from where most people take them; their CSS."""
    from fontTools.ttLib import TTFont

    rules = []
    for family, weight, name in FACES:
        if family in {"Standfast Sans", "Standfast Serif"}:
            file = folder / f"{name}.woff2"
            with TTFont(TEMPLATES / "fonts" / name) as font:
                font.flavor = "woff2"
                font.save(file)
            rules.append(
                f"@font-face {{ font-family: '{family}'; font-weight: {weight};"
                f" src: url('{file.as_uri()}') format('woff2'); }}"
            )
    return "\n".join(rules)


def letters(count: int) -> list[LetterView]:
    """So many letters to invented people about two things each."""
    school = read_school(ROOT / "candidates" / "school.yaml").noun
    award = ("May teach low static trapeze for the school", "LT1-2026-0001")
    lines = [
        (date(2026, 12, 31), "document ends", *award, "insurance ends before the award"),
        (date(2027, 1, 20), "refresher", *award, "can be taken from 2026-11-20 on"),
    ]
    return [letter_view(f"Inês the {n}th", lines, ON, school) for n in range(count)]


def naive(
    pages: Sequence[CertificateView | LetterView], font_css: str, name: str = "certificate"
) -> tuple[float, float]:
    """Processor and wall seconds for each page of the naive loop."""
    from weasyprint import HTML

    press = Printer((TEMPLATES,))
    styles = "\n".join([font_css, *(press.style_text(one) for one in ("page", name))])
    used, began = processor_seconds(), time.perf_counter()
    for view in pages:
        page = press.html(name, view).replace("<style>", f"<style>{styles}", 1)
        HTML(string=page).write_pdf(pdf_variant="pdf/ua-1")
    return (
        (processor_seconds() - used) / len(pages),
        (time.perf_counter() - began) / len(pages),
    )


def batch(
    pages: Sequence[CertificateView | LetterView], folder: Path, name: str = "certificate"
) -> tuple[float, float, list[Path]]:
    """Processor and wall seconds for each page of a batch, and its files."""
    jobs = [Job(name, view, folder / f"{name}-{n}.pdf") for n, view in enumerate(pages)]
    used, began = processor_seconds(), time.perf_counter()
    print_all(jobs, (TEMPLATES,), lambda _done, _of: None)
    return (
        (processor_seconds() - used) / len(pages),
        (time.perf_counter() - began) / len(pages),
        [job.file for job in jobs],
    )


def tagged_to_untagged(pages: list[CertificateView]) -> float:
    """The median ratio of one tagged page to the same untagged, in turn."""
    tagged, untagged = Printer((TEMPLATES,)), Printer((TEMPLATES,), variant=None)
    ratios = []
    for view in pages:
        seconds = []
        for press in (tagged, untagged):
            began = time.process_time()
            press.print("certificate", view)
            seconds.append(time.process_time() - began)
        ratios.append(seconds[0] / seconds[1])
    return statistics.median(ratios[2:])


def peak(count: int) -> float:
    """The most MiB of any process of a batch of so many pages, each its own process tree."""
    code = (
        "import sys, tempfile; sys.path.insert(0, sys.argv[2]); from pathlib import Path;"
        "from tests.bench.measured import most_memory; from tests.bench.paper import batch, views;"
        "folder = tempfile.TemporaryDirectory(); batch(views(int(sys.argv[1])), Path(folder.name));"
        "print(most_memory())"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, str(count), str(ROOT)],
        capture_output=True,
        text=True,
        check=True,
    )
    return float(done.stdout)


def rows() -> Iterator[Row]:
    """Every ratio of paper, with the most it may be."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        slow_cpu, slow_wall = naive(views(NAIVE), web_fonts(folder))
        cpu, wall, files = batch(views(BATCH), folder)
        letter_naive = naive(letters(NAIVE), web_fonts(folder), "letter")
        letter_batch = batch(letters(BATCH), folder, "letter")
        quick_cpu, _ = naive(views(NAIVE), Printer((TEMPLATES,)).faces.css)
        press = Printer((TEMPLATES,))
        alike = [
            hashlib.sha256(files[n].read_bytes()).digest()
            == hashlib.sha256(press.print("certificate", view)).digest()
            for n, view in enumerate(views(12))
        ]
    pages = f"{BATCH} certificates; naive: {NAIVE}, 4 faces as WOFF2"
    cores = os.cpu_count() or 1
    yield Row("batch, processor time a page : naive loop", cpu / slow_cpu, 0.35, pages)
    yield Row(f"batch, wall time on {cores} cores : naive loop", wall / slow_wall, 0.20, pages)
    pages = f"{BATCH} letters; naive: {NAIVE}, 4 faces as WOFF2"
    ratio = letter_batch[0] / letter_naive[0]
    yield Row("letters, processor time a page : naive loop", ratio, 0.35, pages)
    ratio = letter_batch[1] / letter_naive[1]
    yield Row(f"letters, wall time on {cores} cores : naive loop", ratio, 0.20, pages)
    loaded = "naive with our 7 faces as TTF"
    yield Row("batch, processor time a page : naive loop", cpu / quick_cpu, None, loaded)
    yield Row("batch, files unlike the page printed alone", alike.count(False), 0, "of 12")
    ratio = tagged_to_untagged(views(14))
    yield Row("one page, tagged PDF/UA-1 : untagged", ratio, 1.10, "median of 12, in turn")
    few, many = peak(50), peak(500)
    detail = f"{few:.0f} and {many:.0f} MiB"
    yield Row("batch, peak memory at 500 pages : at 50", many / few, 1.3, detail)
