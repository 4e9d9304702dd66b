"""Severity by the model, fair scores, and decisions that severity may have tipped."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from standfast.cli import show
from standfast.cli.words import wrapped
from standfast.model.decision import OUTCOME_WORDS

if TYPE_CHECKING:
    from standfast.desk.comparing import Comparison
    from standfast.desk.otherwise import Asked, Otherwise
    from standfast.desk.severities import FairScore, OfAssessor, Part, Severities, Severity

MOST_SHOWN = 5
"""Of the largest corrections; `--json` has every lesson."""

APART = (
    "'Beside the others' is told from shared lessons alone; severity by links is told from every"
    " lesson, since whoever shares a lesson with anybody is linked with everybody. Points are of a"
    " level, + gives more than an assessor of average severity to the same lessons; logits + are"
    " more severe."
)
FOR_A_PERSON = "This list is for a person to look at. Nothing that was decided is changed by it."
RULE = (
    "To each level is added what an assessor of average severity gives more or less to the same"
    " lesson on the same criterion, and the nearest level counts; so a severity worth less than"
    " half a level tips nothing. Then the same rule decides again."
)


def words_of(found: Comparison) -> list[str]:
    """Severity, the largest corrections, and the decisions."""
    names, said = found.marks.names, found.severity
    lines: list[str] = []
    for part in said.parts:
        if len(part.members) > 1 or not said.unlinked:  # who is alone is told with the unlinked
            lines += [*_part(part, names), ""]
    for sentence in said.unlinked:
        lines += wrapped(sentence)
    if any(said.told()):
        lines += [*wrapped(APART), "", *_fair(said)]
    lines += _left_out(said)
    if found.otherwise and any(said.told()):
        lines += ["", *_decisions(found.otherwise, names)]
    return lines


def _part(part: Part, names: Mapping[str, str]) -> list[str]:
    title = f"severity by links, {part.name}"
    found = part.severities
    if found is None:
        who = ", ".join(names[one] for one in part.members)
        return wrapped(f"{title} ({who}): cannot be told; {'; '.join(part.why_not)}")
    rows = [_assessor(one, names) for one in found.assessors]
    lines = wrapped(f"{title}: {_counted(found)}")
    lines += show.table(rows, ("assessor", "points", "logits", "lessons", ""))
    lines += wrapped(found.says)
    return lines + [line for note in found.notes[1:] for line in wrapped(note)]


def _counted(found: Severities) -> str:
    lessons = show.counted(found.lessons, "lesson")
    return f"{lessons}, {found.shared} of them scored by two or more; average severity is 0"


def _assessor(one: OfAssessor, names: Mapping[str, str]) -> tuple[str, str, str, str, str]:
    points = f"{one.points:+.2f}  ({one.points_low:+.2f} to {one.points_high:+.2f})"
    logits = f"{one.severity:+.2f}  ({one.low:+.2f} to {one.high:+.2f})"
    word = ("gives less" if one.severity > 0 else "gives more") if one.certain else ""
    words = "; ".join(filter(None, (word, one.fit)))
    return names[one.assessor], points, logits, str(one.lessons), words


def _fair(said: Severity) -> list[str]:
    """The lessons whose mean level severity moved most."""
    rows = [_lesson(one) for one in said.fair[:MOST_SHOWN]]
    count = len(said.fair)
    head = (f"fair score, largest corrections of {count}", "given", "fair", "marks")
    return show.table(rows, head)


def _lesson(one: FairScore) -> tuple[str, str, str, str]:
    fair = f"{one.fair:.2f}  ({one.low:.2f} to {one.high:.2f})"
    return one.lesson, f"{one.given:.2f}", fair, str(one.marks)


def _left_out(said: Severity) -> list[str]:
    if not said.left_out:
        return []
    return ["", "not in the model", *(line for one in said.left_out for line in _item(one))]


def _item(text: str) -> list[str]:
    return wrapped(text, "    ", "  - ")


def _decisions(asked: Asked, names: Mapping[str, str]) -> Iterator[str]:
    of = show.counted(asked.decisions, "decision")
    if not asked.found:
        yield from wrapped(
            f"decisions: none of {of} would have come out otherwise from assessors of average"
            f" severity. {RULE}"
        )
    else:
        yield from wrapped(
            f"decisions: {len(asked.found)} of {of} would have come out otherwise from assessors of"
            f" average severity. {FOR_A_PERSON} {RULE}"
        )
        for one in asked.found:
            yield from _decision(one, names)
    for why in asked.left_out:
        yield from _item(why)


def _decision(one: Otherwise, names: Mapping[str, str]) -> Iterator[str]:
    was, would_be = OUTCOME_WORDS[one.outcome], OUTCOME_WORDS[one.would_be]
    head = f"{one.name}, {one.rubric}, on {one.on}: {was}, would be: {would_be}"
    yield from wrapped(head, "    ", "  - ")
    yield from wrapped(f"lessons: {', '.join(one.practicals)}", "      ", "    ")
    for criterion in one.criteria:
        levels = ", ".join(
            f"{names.get(level.assessor, level.assessor)} {level.given}, would be {level.fair}"
            for level in one.changed
            if level.criterion == criterion
        )
        yield from wrapped(f"{criterion}: {levels}", "      ", "    ")
    if not one.certain:
        yield "    not certain: the bounds of each severity here hold 0, which is average"


def value_of(found: Comparison) -> dict[str, Any]:
    """The same as JSON values."""
    said, asked = found.severity, found.otherwise
    return {
        "severity": {
            "parts": [_part_value(part) for part in said.parts],
            "unlinked": list(said.unlinked),
            "differs_from_habits": APART,
        },
        "fair_scores": [{**asdict(one), "correction": one.correction} for one in said.fair],
        "left_out": list(said.left_out),
        "decisions_otherwise": _asked_value(asked) if asked else None,
    }


def _part_value(part: Part) -> dict[str, Any]:
    found = part.severities
    told = None
    if found:
        told = {
            "assessors": _assessor_values(found.assessors),
            "criteria": [asdict(one) for one in found.criteria],
            "separation": found.separation,
            "reliability": found.reliability,
            "says": found.says,
            "scores": found.scores,
            "lessons": found.lessons,
            "lessons_scored_by_two": found.shared,
            "lessons_at_an_end": found.ends,
            "thresholds": found.thresholds,
            "notes": list(found.notes),
        }
    return {
        "part": part.name,
        "assessors": list(part.members),
        "severities": told,
        "why_not": list(part.why_not),
    }


def _assessor_values(assessors: Sequence[OfAssessor]) -> list[dict[str, Any]]:
    return [{**asdict(one), "certain": one.certain} for one in assessors]


def _asked_value(asked: Asked) -> dict[str, Any]:
    return {
        "says": FOR_A_PERSON,
        "rule": RULE,
        "decisions": asked.decisions,
        "touched": asked.touched,
        "found": [
            {
                **{key: value for key, value in asdict(one).items() if key != "changed"},
                "changed": [asdict(level) for level in one.changed],
            }
            for one in asked.found
        ],
        "left_out": list(asked.left_out),
    }
