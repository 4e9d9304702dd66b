"""A person's record says what is open by the newest evidence, and what was entered as it was."""

from __future__ import annotations

import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from tests.cli.conftest import INES, MARIT, ON, RUBRIC, SHEETS, Run, sheet
from tests.cli.further_awards import renewal
from tests.content.lessons import lesson

from standfast.cli.options import moment
from standfast.desk.decisions import decide_for
from standfast.desk.definitions import written
from standfast.desk.opening import Desk, open_desk
from standfast.desk.records import record_of
from standfast.desk.sheets import take_sheet
from standfast.model.evidence import Incident
from standfast.model.rubric import IncidentCriterion
from standfast.paper.view.record import PartView
from standfast.paper.view.words import in_words

FIRST = "2026-10-20"
"""After the first practical, before the second."""


@contextmanager
def at_the_desk(school: Path, day: str = ON) -> Iterator[Desk]:
    with open_desk(school, moment(day)) as desk:
        yield desk


def part_of(school: Path, day: str = ON) -> PartView:
    with at_the_desk(school, day) as desk:
        (part,) = record_of(desk, INES).parts
    return part


def keep(standfast: Run, day: str) -> None:
    assert standfast("decide", INES, RUBRIC, "--keep", "--on", day).code in {0, 1}


def printed(standfast: Run) -> str:
    (file,) = standfast("print", "record", INES, "--on", ON, "--out", "out", "--json").json["files"]
    made = subprocess.run(["pdftotext", file, "-"], check=True, capture_output=True)
    return " ".join(made.stdout.decode().split())


def test_what_newer_sheets_settled_is_not_open_any_more(sandhof: Path, standfast: Run) -> None:
    for name in SHEETS[:2]:
        standfast("score", sheet(name))
    keep(standfast, FIRST)
    before = part_of(sandhof)
    standfast("score", sheet(SHEETS[2]))
    after = part_of(sandhof)

    assert "1 more practical scored under this rubric" in before.next_steps
    assert (before.since, before.open) == ("", "more evidence needed on 20 November 2026")
    assert "1 more practical scored under this rubric" not in after.next_steps
    assert after.open == "pass on 20 November 2026"
    assert "Since then 1 score sheet came in" in after.since
    assert (after.outcome, after.kept) == (
        "more evidence needed on 20 October 2026",
        "as entered in the record book",
    )
    assert after.steps == before.steps
    assert [one.counted for one in after.sessions] == [
        "counted",
        "counted",
        "came in later, not looked at",
    ]
    said = printed(standfast)
    assert "Since then 1 score sheet came in" in said
    assert "1 more practical scored" not in said


def test_a_paper_that_was_handed_in_since_is_not_asked_for(sandhof: Path, standfast: Run) -> None:
    people = sandhof / "candidates" / "people.yaml"
    text = people.read_text("utf-8")
    standfast("score", sheet(SHEETS[0]))
    people.write_text(text.replace("2027-08-31", "2026-10-31"), "utf-8")
    standfast("people")
    keep(standfast, ON)
    before = part_of(sandhof)
    people.write_text(text.replace("2027-08-31", "2029-08-31"), "utf-8")
    standfast("people")
    after = part_of(sandhof)

    (step,) = set(before.next_steps) - set(after.next_steps)
    assert "it ended on 31 October 2026, and no award is made without it" in step
    assert set(after.next_steps) < set(before.next_steps)


def test_a_fail_says_what_to_practise_until_somebody_scores_again(
    sandhof: Path, standfast: Run
) -> None:
    standfast("people")
    with at_the_desk(sandhof) as desk:
        texts = written(desk, RUBRIC)
        incidents = [c for c in texts.rubric.criteria() if isinstance(c, IncidentCriterion)]
        stops = next(c.id for c in incidents if c.standard.effect == "stops")
        made = lesson(
            texts.rubric,
            texts.syllabus,
            "hana-dvorakova",
            desk.today.replace(month=10),
            incidents=(Incident(at=3000, criterion=stops),),
        )
        take_sheet(desk, made)
    keep(standfast, "2026-10-21")
    stopped = part_of(sandhof)
    standfast("score", sheet(SHEETS[2]))
    again = part_of(sandhof)
    with at_the_desk(sandhof) as desk:
        today = decide_for(desk, INES, RUBRIC).decision

    assert stopped.open == stopped.outcome
    assert any("start afresh after practising" in step for step in stopped.next_steps)
    assert again.next_steps == tuple(map(in_words, today.next_steps))
    assert again.outcome == stopped.outcome
    assert again.open.startswith("more evidence needed on 20 November")


def test_of_an_award_nothing_is_asked_that_its_dates_do_not_say(
    scored: Path, standfast: Run
) -> None:
    assert standfast("award", INES, RUBRIC, "--certifier", MARIT, "--on", ON).code == 0
    much_later = part_of(scored, "2029-03-01")  # older than what still counts

    assert (much_later.next_steps, much_later.open) == ((), "")
    assert much_later.outcome.startswith("pass")


def test_an_award_stands_with_all_that_it_goes_on_from(scored: Path, standfast: Run) -> None:
    assert standfast("award", INES, RUBRIC, "--certifier", MARIT, "--on", ON).code == 0
    renewal(scored, "LT1-2026-0001", "LT1-2026-0002")
    renewal(scored, "LT1-2026-0002", "LT1-2026-0003")
    with at_the_desk(scored) as desk:
        (award,) = record_of(desk, INES).awards

    assert award.number == "LT1-2026-0003"
    assert [(one.number, one.state, one.because) for one in award.earlier] == [
        ("LT1-2026-0002", "renewed", "by LT1-2026-0003 on 20 November 2026"),
        ("LT1-2026-0001", "renewed", "by LT1-2026-0002 on 20 November 2026"),
    ]
    assert award.earlier[1].dates == "20 November 2026 to 20 November 2028"
    said = printed(standfast)
    assert "renewed by LT1-2026-0003 on 20 November 2026" in said
    assert "LT1-2026-0001" in said
