"""`standfast score` at a terminal: asked, interrupted, gone on with, and in the book."""

from __future__ import annotations

import re
import sys
from collections.abc import Iterator
from pathlib import Path

import pexpect
from tests.cli.conftest import INES, Run
from tests.cli.typed import heed_ctrl_c

from standfast.cli.scoring.drafts import unfinished

ASSESSOR, RUBRIC, PRACTICAL = "hana-dvorakova", "trapeze-refresher", "hall-2026-11-25"
COMMAND = [
    *("-m", "standfast", "score", "--candidate", INES, "--rubric", RUBRIC),
    *("--assessor", ASSESSOR, "--practical", PRACTICAL, "--minutes", "5"),
]
LESSON = ("gt 1 2 yy", "t 1 1 y", "h 2 4", "s", PRACTICAL)


def begin(school: Path) -> pexpect.spawn[str]:
    return pexpect.spawn(
        sys.executable,
        COMMAND,
        cwd=str(school),
        encoding="utf-8",
        dimensions=(40, 100),
        timeout=30,
        preexec_fn=heed_ctrl_c,
    )


def reply(question: str, lesson: Iterator[str]) -> str:
    """What a person would type at that prompt."""
    asked = {"How many": "2", "Which are": "1 2 4", "times": "z", "Level?": "3"}
    if question.endswith("> "):
        return next(lesson)
    if re.match(r" *\d+ .*\?", question):
        return "y"
    return next((answer for words, answer in asked.items() if words in question), "")


def go_on(child: pexpect.spawn[str], lesson: Iterator[str], most: int = 80) -> bool:
    """Answers until the end, or until so many prompts were answered; whether it ended."""
    for _ in range(most):
        if child.expect([r"(?:\] |> )$", pexpect.EOF]) == 1:
            return True
        question = f"{child.before}{child.after}".splitlines()[-1]
        child.sendline(reply(question, lesson))
    return False


def test_a_practical_is_scored_at_the_terminal(sandhof: Path, standfast: Run) -> None:
    child = begin(sandhof)

    assert go_on(child, iter(LESSON))
    child.close()

    assert child.exitstatus == 0, child.before
    decided = standfast("decide", INES, RUBRIC, "--json").json["decision"]
    assert len(decided["sheets"]) == 1
    place = next(f for f in decided["findings"] if f["criterion"] == "in-place")
    assert place["figure"]["counted"] == 2
    choices = next(f for f in decided["findings"] if f["criterion"] == "let-go-or-held")
    assert choices["figure"]["counted"] == 2
    assert choices["figure"]["false_clearances"] == 1
    assert unfinished(sandhof / "drafts") == ()


def test_ctrl_c_leaves_a_draft_and_the_same_command_goes_on(sandhof: Path, standfast: Run) -> None:
    lesson = iter(LESSON)
    child = begin(sandhof)
    assert not go_on(child, lesson, most=6)
    child.expect(r"(?:\] |> )$")
    child.sendintr()
    child.expect(pexpect.EOF)
    child.close()

    assert child.exitstatus == 2
    assert len(unfinished(sandhof / "drafts")) == 1
    assert "every answer is kept" in str(child.before)
    assert f"--practical {PRACTICAL}" in str(child.before).replace("\r\n", " ")
    assert standfast("history", INES, "--json").json["events"][-1]["kind"] != "sheet taken"

    again = begin(sandhof)
    assert go_on(again, lesson)
    again.close()

    assert again.exitstatus == 0, again.before
    assert len(standfast("decide", INES, RUBRIC, "--json").json["decision"]["sheets"]) == 1


def test_who_may_not_score_is_told_before_anything_is_asked(sandhof: Path, standfast: Run) -> None:
    ran = standfast(
        *("score", "--candidate", INES, "--rubric", RUBRIC, "--practical", PRACTICAL),
        *("--assessor", "ruben-van-den-oetelaar"),
    )

    assert ran.code == 1
    assert "ruben-van-den-oetelaar is not approved to score trapeze-refresher" in ran.err
