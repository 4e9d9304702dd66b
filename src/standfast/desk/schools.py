"""Making a new school."""

from __future__ import annotations

import re
import shutil
from importlib import resources
from pathlib import Path

from standfast.desk.opening import SCHOOL_FILE, Moment, open_desk
from standfast.model.school import School
from standfast.problems import StandfastError


def shipped(name: str) -> Path:
    """A folder that comes with Standfast: `rubrics`, `candidates` or `templates`."""
    inside = Path(str(resources.files("standfast"))) / "_shipped" / name
    beside = Path(str(resources.files("standfast"))).parents[1] / name
    return inside if inside.is_dir() else beside


def new_school(folder: Path, name: str, zone: str, moment: Moment) -> School:
    """Makes a school's folder: settings, shipped rubrics, an empty record book.

    Raises:
        StandfastError: the folder holds something already, or cannot be written.
    """
    slug = re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-") or "school"
    school = School(id=slug if slug[0].isalpha() else f"school-{slug}", name=name, zone=zone)
    if folder.exists() and any(folder.iterdir()):
        raise StandfastError(f"{folder} holds something already; name a new folder")
    try:
        _fill(folder, school)
    except OSError as error:
        raise StandfastError(
            f"{folder}: {error.strerror}; name a folder that can be made"
        ) from None
    with open_desk(folder, moment, create=True) as desk:
        desk.book.put_school(desk.school, desk.stamp())
    return school


def _fill(folder: Path, school: School) -> None:
    (folder / "candidates").mkdir(parents=True)
    (folder / "templates").mkdir()
    (folder / "rubrics").mkdir()
    for file in sorted(shipped("rubrics").glob("*.yaml")):
        shutil.copyfile(file, folder / "rubrics" / file.name)
    (folder / SCHOOL_FILE).write_text(_settings(school), encoding="utf-8")
    (folder / "candidates" / "people.yaml").write_text(PEOPLE, encoding="utf-8")


PEOPLE = """\
# Everybody the school knows: candidates, assessors, certifiers.  Nobody below is real: take the
# marks away from the lines you need, and write your own people.
people: []
#  - person: ada-berg                 # a short name, for files and commands
#    name: Ada Berg (invented)
#    contact: ada.berg@people.example.org
#    documents:
#      - {document: first-aid, issued: 2026-01-10, last_day: 2028-01-09}
#      - {document: safeguarding-check, issued: 2026-01-10, last_day: 2029-01-09}
#      - {document: insurance, issued: 2026-01-01, last_day: 2026-12-31}
#    trained_by:
#      - {trainer: kei-ito, since: 2025-09-01, until: 2026-06-30}
#    conflicts:                       # of interest: family, household, business or other
#      - {person: kei-ito, kind: family, since: 2026-01-01}
#  - person: kei-ito
#    name: Kei Ito (invented)
#    scores:                          # may score under these rubrics, from and until
#      - {rubric: low-trapeze-1, since: 2025-01-01, until: 2027-12-31}
#    certifies:                       # may confirm decisions under these rubrics
#      - {rubric: low-trapeze-1, since: 2025-01-01, until: 2027-12-31}
#    hears_appeals:                   # may answer appeals, also without certifying anything
#      - {since: 2025-01-01, until: 2027-12-31}
"""


def _settings(school: School) -> str:
    quoted = school.name.replace("\\", "\\\\").replace('"', '\\"')
    return (
        f"school: {school.id}\n"
        f'name: "{quoted}"\n'
        f"zone: {school.zone}        # decides what today is\n"
        "year_starts: 1   # the month in which your own year begins\n"
        "paper: A4        # or Letter\n"
        "certifier_may_have_taken_part: false\n"
        "conflict_of_interest: refused   # or shown: allowed, and the papers say so\n"
        "appeal_days: 30  # within which an appeal or a complaint is answered\n"
        "# reference_every: P1Y   # how often assessors must score a reference practical in step\n"
    )
