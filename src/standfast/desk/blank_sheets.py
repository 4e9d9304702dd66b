"""Putting blank score sheets on paper: of one page, with as many lines as it holds."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from standfast.desk.definitions import Texts, written
from standfast.desk.focusing import Ahead, ahead
from standfast.desk.opening import Desk
from standfast.engine.narrowing import asked
from standfast.problems import NotFound, Refused, StandfastError

if TYPE_CHECKING:
    from standfast.paper.view.score_sheet import Lesson, ScoreSheetView

from standfast.desk.press import in_a_name, printer, save

MOST_ROWS, USUAL_ROWS, LEAST_ROWS = 30, 11, 6
"""Rows for tries on a blank score sheet, two tries each: as many as the page holds, no fewer."""


def print_score_sheet(
    desk: Desk,
    rubric: str,
    lesson: Lesson,
    out: Path,
    candidate: str | None = None,
    *,
    top_up: bool = False,
) -> Path:
    """Prints a blank score sheet of one page, with as many lines for tries as it holds.

    For a named candidate the sheet of a refresher or a top-up asks only what it covers.

    Raises:
        NotFound: no such rubric, skill or person.
        Refused: there is nothing to top up, or it is not said whose award.
        StandfastError: not even the least number of lines fits.
    """
    from standfast.paper.pdf import TooLong
    from standfast.paper.view.score_sheet import score_sheet_view

    if top_up and candidate is None:
        raise Refused("a top-up depends on the award that is held; say whose with --candidate")
    coming = Ahead(written(desk, rubric), None)
    if candidate:
        coming = ahead(desk, candidate, rubric, top_up=top_up)
    texts, lesson = coming.texts, replace(lesson, focus=coming.focus)
    sheet_asks = asked(texts.rubric, coming.covers)
    known = [skill.id for skill in texts.syllabus.skills]
    for skill in lesson.skills:
        if skill not in known:
            raise NotFound("skill", skill, known)
    press = printer(desk)

    def draw(rows: int) -> bytes | None:
        view = score_sheet_view(sheet_asks, texts.syllabus, desk.school, lesson, rows)
        try:
            return press.print("score-sheet", view, most_pages=1)
        except TooLong:
            return None

    drawn = _fullest(draw)
    if drawn is None:
        raise StandfastError(
            f"a sheet with {2 * LEAST_ROWS} lines for tries does not fit on one page of"
            f" {desk.school.paper}; ask for fewer students, minutes or skills"
        )
    of = f"-{in_a_name(candidate)}" if candidate else ""
    return save(out, f"score-sheet-{in_a_name(lesson.practical or rubric)}{of}.pdf", drawn)


def score_sheet_of(desk: Desk, texts: Texts, tries: int) -> ScoreSheetView:
    """What the blank sheet of a rubric asks, with so many lines for tries: to look at."""
    from standfast.paper.view.score_sheet import Lesson, score_sheet_view

    return score_sheet_view(texts.rubric, texts.syllabus, desk.school, Lesson(), tries)


def _fullest(draw: Callable[[int], bytes | None]) -> bytes | None:
    """The page with the most rows that is still one page; None when not even the fewest fit."""
    rows, drawn = USUAL_ROWS, draw(USUAL_ROWS)
    if drawn is None:
        while drawn is None and rows > LEAST_ROWS:
            rows -= 1
            drawn = draw(rows)
        return drawn
    while rows < MOST_ROWS and (more := draw(rows + 1)) is not None:
        rows, drawn = rows + 1, more
    return drawn
