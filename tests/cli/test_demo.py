"""The demonstration as a newcomer runs it, and every sample of the README in its school."""

from __future__ import annotations

import json
import re
import shlex
import subprocess
import sys
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timezone
from pathlib import Path

import pytest
from sqlalchemy import select
from tests.cli.conftest import ON, ROOT, Run
from tests.cli.test_help import EXAMPLES, example_of
from tests.desk.closeness import same as same_figure
from tests.schools import copied
from tests.store.cluster import KEEPER, Cluster

from standfast.agreement.percent import alike, percent_agreement
from standfast.agreement.ratings import shared
from standfast.cli.app import run
from standfast.cli.options import moment
from standfast.desk.awards import documents_of, reduction_of
from standfast.desk.figures import (
    OneCriterion,
    alpha,
    figures_of,
    other_chances,
    with_gaps,
    without_paradox,
)
from standfast.desk.grouped import agreement_of
from standfast.desk.marks import marks_of_book
from standfast.desk.opening import Desk, open_desk
from standfast.engine.dates import standing
from standfast.engine.decide import decide
from standfast.engine.impartiality import tied
from standfast.model.award import Award
from standfast.store.audit import entries
from standfast.store.connect import open_book
from standfast.store.grouped import grouped_marks
from standfast.store.journal import Draft
from standfast.store.tables import DERIVED

pytestmark = [pytest.mark.slow, pytest.mark.xdist_group("demo")]


@dataclass(frozen=True)
class Shown:
    """What the demonstration left and said."""

    folder: Path
    out: str
    err: str


@pytest.fixture(scope="module")
def shown(tmp_path_factory: pytest.TempPathFactory) -> Shown:
    """The whole demonstration, run once in an empty folder."""
    folder = tmp_path_factory.mktemp("newcomer")
    done = subprocess.run(
        [sys.executable, "-m", "standfast", "demo"],
        cwd=folder,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return Shown(folder, done.stdout, done.stderr)


@pytest.fixture
def inside(shown: Shown, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Inside the invented school."""
    monkeypatch.chdir(shown.folder / "demo-out" / "school")
    return shown.folder / "demo-out" / "school"


def test_it_does_the_main_job_before_one_s_eyes(shown: Shown) -> None:
    typed = [line.split()[2] for line in shown.out.splitlines() if line.startswith("$ standfast ")]

    assert typed == [
        *["check", "score", "score", "score", "score", "decide", "decide", "award", "history"],
        *["due", "due", "print", "print", "print", "print", "print", "book"],
    ]
    assert "days lived: 1176 of 1176" in shown.err


def test_it_leaves_the_four_papers_and_says_where(shown: Shown) -> None:
    files = sorted(path.name for path in (shown.folder / "demo-out").glob("*.pdf"))

    assert [name.split("-")[0] for name in files] == ["certificate", "due", "record", "score"]
    assert all(f"demo-out/{name}" in shown.out for name in files)


def test_every_paper_says_that_it_is_invented(shown: Shown) -> None:
    papers = [*(shown.folder / "demo-out").rglob("*.pdf")]
    assert len(papers) > 20
    for paper in papers:
        words = subprocess.run(["pdftotext", paper, "-"], check=True, capture_output=True).stdout

        assert b"Invented for demonstration" in words, paper


def test_the_school_is_as_it_is_described(inside: Path, standfast: Run) -> None:
    assert standfast("people", "--json").json == {"new": [], "changed": [], "same": 47}
    with open_desk(inside, moment(ON)) as desk:
        trained = [p for p in desk.book.people() if not p.scores and not p.certifies]
        sheets = [one.sheet for one in desk.book.sheets()]
        decisions = [one.decision for one in desk.book.decisions()]
        awards = [one.award for one in desk.book.awards()]
        past = desk.book.awards(past=True)
        states = Counter(how_it_stands(desk, award) for award in awards)

    assert len(trained) == 40
    assert len({sheet.assessor for sheet in sheets}) == 6
    scored = Counter(sheet.practical for sheet in sheets)
    assert max(scored.values()) == 2
    assert sum(count == 2 for count in scored.values()) > 20
    assert (max(s.on for s in sheets) - min(s.on for s in sheets)).days > 900
    outcomes = Counter(decision.outcome for decision in decisions)
    assert outcomes["fail"] > 5
    assert outcomes["stopped"] >= 1
    assert max(Counter((d.candidate, d.rubric.id) for d in decisions).values()) >= 2
    assert len(past) > len(awards)
    assert states["current"] > 5
    assert states["lapsed"] > 1


def how_it_stands(desk: Desk, award: Award) -> str:
    holder = desk.book.find_person(award.candidate)
    assert holder
    return standing(award, documents_of(award, holder, desk.today), desk.today).state


def test_a_scope_is_reduced_one_appeal_is_open_and_one_answered(
    inside: Path, standfast: Run
) -> None:
    with open_desk(inside, moment(ON)) as desk:
        kept = desk.book.awards()
        reduced = [one.award.number for one in kept if reduction_of(desk, one.award)]
    states = [one["state"] for one in standfast("appeals", "--on", ON, "--json").json["appeals"]]

    assert len(reduced) == 1
    assert states == ["open", "not upheld"]
    assert "counts on" in standfast("holds", reduced[0], "--on", ON).out


def test_nobody_scored_or_confirmed_somebody_tied_to_her(inside: Path) -> None:
    with open_desk(inside, moment(ON)) as desk:
        people = {person.id: person for person in desk.book.people()}
        pairs = [(one.sheet.assessor, one.sheet.candidate) for one in desk.book.sheets()]
        pairs += [(one.award.certifier, one.award.candidate) for one in desk.book.awards(past=True)]

    assert any(person.conflicts for person in people.values())
    assert not any(tied(people[a], people[b], desk.today) for a, b in pairs)


def test_assessors_differ_in_severity(inside: Path) -> None:
    with open_desk(inside, moment(ON)) as desk:
        sheets = [one.sheet for one in desk.book.sheets()]
    levels: dict[str, list[int]] = {}
    for sheet in sheets:
        levels.setdefault(sheet.assessor, []).extend(r.level for r in sheet.ratings if r.level)
    mean = {assessor: sum(seen) / len(seen) for assessor, seen in levels.items()}

    assert mean["hana-dvorakova"] < mean["tendai-mukwashi"] < mean["ruben-van-den-oetelaar"]


def test_the_book_is_sound(inside: Path, standfast: Run) -> None:
    audit = standfast("book", "audit", "--json")

    assert audit.code == 0
    assert audit.json["decisions"] > 50


def test_it_runs_again_over_its_own_and_over_nothing_else(
    shown: Shown, tmp_path: Path, standfast: Run
) -> None:
    (tmp_path / "mine.txt").write_text("mine")

    refused = standfast("demo", "--small", "--out", tmp_path)

    assert refused.code == 2
    assert [path.name for path in tmp_path.iterdir()] == ["mine.txt"]


def test_a_forecast_rests_on_what_the_school_lived_through(inside: Path, standfast: Run) -> None:
    value = standfast("forecast", "--on", ON, "--json").json
    with open_desk(inside, moment(ON)) as desk:
        ended = [
            one.decision
            for one in desk.book.decisions()
            if one.decision.outcome != "more" and one.decision.on <= desk.today
        ]
        standing_now = [one.award.rubric.id for one in desk.book.awards()]

    for kind in ("practical", "refresher"):
        own = [d.outcome for d in ended if ("refresher" in d.rubric.id) == (kind == "refresher")]
        known = value["rests_on"][f"{kind}_tries_that_were_not_passed"]
        assert known["of"] == len(own) > 20
        assert known["yes"] == len(own) - own.count("pass") > 5
    back = value["rests_on"]["holders_who_come_back_in_time"]
    assert 20 < back["yes"] < back["of"]
    assert {one["rubric"] for one in value["rubrics"]} == set(standing_now)
    for one in value["rubrics"]:
        held = one["awards_in_time"] + one["awards_past_grace"]
        assert held <= standing_now.count(one["rubric"]) <= held + one["people_begun"]
        assert one["newcomers"]["count"] > 5
    for quarter in value["quarters"]:
        months = [m for m in value["months"] if quarter["first"] <= m["first"] <= quarter["last"]]
        for what in ("practicals", "refreshers"):
            summed = sum(month[what]["mean"] for month in months)
            assert abs(summed - quarter[what]["mean"]) < 1e-6
            parts = [one["all"][what]["mean"] for one in value["rubrics"]]
            assert abs(sum(parts) - value["all"][what]["mean"]) < 1e-6


NOT_TYPED = {
    "standfast": "it builds the school, which was done to come here",
    "standfast demo": "likewise",
    "standfast account add": "it asks for a password; tests/cli/test_accounts.py types one",
    "standfast account change": "there is no such account yet; test_accounts.py makes one",
    "standfast account close": "likewise",
    **dict.fromkeys(
        (
            *("standfast keys make", "standfast keys rotate", "standfast keys lost"),
            *("standfast keys paper", "standfast keys bring", "standfast keys revoke"),
            *("standfast sign",),
            *("standfast publish", "standfast head", "standfast prove"),
        ),
        "it asks for a passphrase; tests/cli/test_sealing.py types one",
    ),
    **dict.fromkeys(
        ("standfast backup", "standfast book restore"),
        "it asks for a passphrase; tests/cli/test_copies.py types one",
    ),
    **dict.fromkeys(
        ("standfast keys", "standfast keys show", "standfast trust", "standfast verify"),
        "there are no keys yet; tests/cli/test_sealing.py makes them",
    ),
    "standfast book merge": "there is no laptop; tests/cli/test_merging.py has one",
    "standfast hand-over": "it asks for a passphrase; tests/cli/test_handing.py types one",
    "standfast take-in": "nobody handed it over; tests/cli/test_handing.py does",
    **dict.fromkeys(
        ("standfast federation admit", "standfast federation dismiss", "standfast federation show"),
        "there is no such database; tests/cli/test_federation.py makes one",
    ),
    **dict.fromkeys(
        ("standfast book move", "standfast book tables"),
        "there is no such database; tests/cli/test_moving.py makes one",
    ),
    "standfast serve": "it serves until Ctrl-C; tests/web/test_serve.py ends it",
}
"""Commands whose example is not run, and why."""


@pytest.mark.parametrize("name", sorted(EXAMPLES.keys() - NOT_TYPED.keys()))
def test_every_example_of_the_help_works_when_typed_there(
    shown: Shown, name: str, tmp_path: Path, standfast: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    school = copied(shown.folder / "demo-out" / "school", tmp_path / "school")
    monkeypatch.chdir(school)

    ran = standfast(*example_of(name)[1:])

    assert ran.code in {0, 1}, ran.err


def samples() -> Iterator[tuple[str, list[str]]]:
    """Each command line of the README with the lines that are shown under it."""
    text = (ROOT / "README.md").read_text("utf-8")
    for block in re.findall(r"```console\n(.*?)```", text, re.DOTALL):
        for command in re.split(r"^\$ ", block, flags=re.MULTILINE)[1:]:
            line, *below = command.splitlines()
            if line.startswith("standfast "):
                yield line, below


def test_every_sample_of_the_readme_runs_and_shows_what_it_says(
    inside: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    found = list(samples())
    assert len(found) > 8
    for line, below in found:
        capfd.readouterr()
        code = run(shlex.split(line)[1:])
        out, err = capfd.readouterr()

        assert code in {0, 1}, (line, err)
        said = (out + err).splitlines()
        for words in below:
            if words != "...":
                assert any(real.startswith(words) for real in said), (line, words)
                said = said[next(i for i, real in enumerate(said) if real.startswith(words)) :]


def test_the_same_entries_in_postgresql_give_the_same_tree_and_tables(
    shown: Shown, cluster: Cluster, tmp_path: Path
) -> None:
    """All three invented years entered again there, and in another file."""
    then = datetime(2026, 11, 24, tzinfo=timezone.utc)
    with open_book(shown.folder / "demo-out" / "school") as book, book._reading() as reading:
        drafts = [Draft(*entry[1:7], json.loads(entry.body)) for entry in entries(reading)]
        lived = book.head(then)
    address = cluster.address(KEEPER, cluster.new_database("founded"))
    found: dict[str | Path, object] = {}
    for where in (address, tmp_path):
        with open_book(where, create=True) as book:
            assert len(book.append(drafts)) == len(drafts)
        with open_book(where) as book:
            assert book.head(then) == lived
            assert list(book.audit(decide).faults) == []
            with book._reading() as reading:
                found[where] = {
                    table.name: sorted(map(tuple, reading.conn.execute(select(table))), key=repr)
                    for table in DERIVED
                }
    assert found[address] == found[tmp_path]
    assert len(drafts) > 600
    for where in (address, tmp_path):
        with open_book(where) as book:
            check_agreement_by_counts(Desk(tmp_path, moment(ON), book))


def check_agreement_by_counts(desk: Desk) -> None:
    """Of every criterion what `compare` says of the marks, from counts out of the database."""
    with desk.book._reading() as reading:
        counted = agreement_of(grouped_marks(reading.conn))
    asked = 0
    for rubric in {one.rubric for one in counted}:
        marks = marks_of_book(desk, rubric, None)
        both = shared(marks.ratings)
        same = alike(marks.ratings, both, marks.within)
        criterion = marks.ratings.criterion[both.first]
        names = list(marks.ratings.criteria)
        for one in (of for of in counted if of.rubric == rubric):
            # Where a rubric has one of its kind, `compare` takes the name from the text.
            code = names.index(one.criterion) if one.criterion else marks.kinds.index(one.kind)
            of = criterion == code
            share = percent_agreement(same[of], marks.ratings.lesson[both.first[of]])
            table = OneCriterion(marks.ratings.table(code).scores)
            shown, _ = figures_of(table, (without_paradox, alpha, with_gaps, other_chances))
            assert one.marks == of.sum()
            for ours, theirs in zip((one.alike, *one.figures), (share, *shown), strict=True):
                same_figure(ours, theirs)
                asked += 1
    assert asked > 100
