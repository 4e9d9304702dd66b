"""Severity in words a person understands: what is taken, who is linked, and what is refused."""

from __future__ import annotations

import csv
from pathlib import Path
from random import Random

import numpy as np
import pytest
from tests.agreement.made_scores import draw

from standfast.desk.marks import Marks, marks_of_file
from standfast.desk.severities import Severities, Severity, severity_of

HEAD = ("subject", "assessor", "criterion", "score")
Row = tuple[str, str, str, float]


def read(folder: Path, rows: list[Row]) -> Marks:
    file = folder / "marks.csv"
    with file.open("w", encoding="utf-8", newline="") as out:
        csv.writer(out).writerows([HEAD, *rows])
    return marks_of_file(file, None)


def rows_of(
    who: dict[str, int],
    lessons: range,
    criteria: tuple[str, ...] = ("c0", "c1", "c2"),
    seed: int = 1,
) -> list[Row]:
    """Levels 1 to 5 of each lesson, by each assessor with so many taken off."""
    random = Random(seed)
    found: list[Row] = []
    for lesson in lessons:
        quality = random.uniform(2.5, 4.0)
        for name, less in who.items():
            for criterion in criteria:
                level = round(random.gauss(quality, 0.7)) - less
                found.append((f"l{lesson}", name, criterion, min(max(level, 1), 5)))
    return found


def only(found: Severity) -> Severities:
    (part,) = found.parts
    assert part.severities is not None, part.why_not
    return part.severities


def test_severities_that_were_put_in_come_back(tmp_path: Path) -> None:
    truth, made = draw(10, persons=200, assessors=5, criteria=6, top=4, each=2)
    rows = [
        (f"l{lesson}", f"a{who}", f"c{criterion}", float(score))
        for lesson, who, criterion, score in zip(
            made.person, made.assessor, made.criterion, made.score, strict=True
        )
    ]
    found = only(severity_of(read(tmp_path, rows)))
    severity = {one.assessor: one.severity for one in found.assessors}
    off = np.array([severity[f"a{n}"] - truth.severity[n] for n in range(5)])

    assert float(np.sqrt((off**2).mean())) < 0.1  # standard errors are 0.06
    assert found.notes[0].startswith("the average severity of these assessors is 0")
    for one in found.assessors:  # who is severe gives fewer points, and the bounds say the same
        assert (one.points < 0) is (one.severity > 0)
        assert one.points_low < one.points < one.points_high
        assert one.low < one.severity < one.high
    assert not any(one.fit for one in found.assessors)  # drawn from the model itself


def test_a_level_less_is_about_a_point_less_than_the_others(tmp_path: Path) -> None:
    marks = read(tmp_path, rows_of({"ann": 0, "bo": 0, "cy": 1}, range(40)))
    first, *others = only(severity_of(marks)).assessors

    assert first.assessor == "cy"
    assert first.certain
    # 2/3 beside the average, which is a third of a point lower for her.
    assert first.points == pytest.approx(-2 / 3, abs=0.12)
    assert [one.points for one in others] == pytest.approx([1 / 3, 1 / 3], abs=0.12)


def test_what_is_no_level_is_left_out_with_the_reason(tmp_path: Path) -> None:
    rows = rows_of({"ann": 0, "bo": 0}, range(30))
    rows += [(f"l{n}", who, "metres", n / 7) for n in range(30) for who in ("ann", "bo")]
    rows += [(f"l{n}", who, "seconds", n) for n in range(30) for who in ("ann", "bo")]
    found = severity_of(read(tmp_path, rows))

    assert [one.criterion for one in sorted(only(found).criteria, key=lambda c: c.criterion)] == [
        "c0",
        "c1",
        "c2",
    ]
    (why,) = found.left_out
    assert why.startswith("metres, seconds: measurements, not whole-number levels")


def test_yes_or_no_is_taken(tmp_path: Path) -> None:
    rows = [
        (lesson, who, criterion, float(score > 3 - (who == "bo")))
        for lesson, who, criterion, score in rows_of({"ann": 0, "bo": 0}, range(60))
    ]
    found = only(severity_of(read(tmp_path, rows)))

    assert [one.assessor for one in found.assessors] == ["ann", "bo"]
    assert found.assessors[0].certain


def test_who_never_met_is_told_with_whom_to_score(tmp_path: Path) -> None:
    rows = rows_of({"ann": 0, "bo": 1}, range(20))
    rows += rows_of({"dee": 0, "eve": 0}, range(20, 35), seed=2) + rows_of(
        {"flo": 0}, range(35, 40)
    )
    found = severity_of(read(tmp_path, rows))
    told = {part.members: part.severities is not None for part in found.parts}

    assert told == {("ann", "bo"): True, ("dee", "eve"): True, ("flo",): False}
    first, second = found.unlinked
    assert "dee and eve scored no lesson with ann and bo, not even by way of others" in first
    assert "have dee or another of them score a few lessons together with ann or another" in first
    assert "have flo score a few lessons together with ann or another of those" in second


def test_criteria_without_a_common_lesson_are_scales_apart(tmp_path: Path) -> None:
    rows = rows_of({"ann": 0, "bo": 1}, range(20))
    rows += rows_of({"ann": 0, "bo": 0}, range(20, 45), ("d0", "d1"), seed=4)
    found = severity_of(read(tmp_path, rows))

    assert [part.name for part in found.parts] == ["c0, c1, c2", "d0, d1"]
    assert found.unlinked == ()
    assert {score.part for score in found.fair} == {"c0, c1, c2", "d0, d1"}
    assert len(found.fair) == 45


@pytest.mark.parametrize(
    ("lessons", "told"), [pytest.param(9, False, id="nine"), pytest.param(10, True, id="ten")]
)
def test_from_few_lessons_nobody_is_called_severe(tmp_path: Path, lessons: int, told: bool) -> None:
    (part,) = severity_of(read(tmp_path, rows_of({"ann": 0, "bo": 1}, range(lessons)))).parts

    assert (part.severities is not None) is told
    if not told:
        assert part.why_not == ("only 9 lessons; 10 are needed",)


def test_what_the_model_refuses_is_an_answer_with_its_reason(tmp_path: Path) -> None:
    rows: list[Row] = [(f"l{n}", who, "c0", 3.0) for n in range(20) for who in ("ann", "bo")]
    found = severity_of(read(tmp_path, rows))
    (part,) = found.parts

    assert part.severities is None
    assert part.why_not
    assert "person" not in " ".join(part.why_not)
    assert found.fair == ()


def test_one_who_marks_at_random_is_less_regular_and_only_she(tmp_path: Path) -> None:
    random = Random(3)
    rows = [
        (lesson, who, criterion, float(random.randint(1, 5)) if who == "wil" else score)
        for lesson, who, criterion, score in rows_of(
            {"ann": 0, "bo": 0, "cy": 0, "wil": 0}, range(50)
        )
    ]
    fits = {one.assessor: one.fit for one in only(severity_of(read(tmp_path, rows))).assessors}

    assert fits["wil"] == "less regular than expected"
    assert "less regular than expected" not in {fits[who] for who in ("ann", "bo", "cy")}


def test_a_subject_seen_twice_is_told_apart_by_its_occasion(tmp_path: Path) -> None:
    file = tmp_path / "marks.csv"
    rows = [
        (*row, f"2026-0{half}-01")
        for half in (1, 2)
        for row in rows_of({"ann": 0, "bo": 1}, range(10), seed=half)
    ]
    with file.open("w", encoding="utf-8", newline="") as out:
        csv.writer(out).writerows([(*HEAD, "occasion"), *rows])
    names = {score.lesson for score in severity_of(marks_of_file(file, None)).fair}

    assert len(names) == 20
    assert {"l3, 2026-01-01", "l3, 2026-02-01"} <= names
