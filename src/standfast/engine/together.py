"""Whether several sheets can be records of the same practical."""

from __future__ import annotations

from collections.abc import Iterable

from standfast.model.sheet import Sheet
from standfast.problems import Fault

SAME = ("candidate", "rubric", "rubric_version", "on", "covers")


def faults_beside(sheet: Sheet, others: Iterable[Sheet]) -> tuple[Fault, ...]:
    """What this sheet says that contradicts the sheets already taken; none when nothing.

    `others` are the sheets in the book, without those that a correction has replaced.
    """
    others = sorted(others, key=lambda other: other.id)
    beside = [
        other for other in others if other.practical == sheet.practical and other.id != sheet.id
    ]
    found = [fault for other in beside for fault in _differences(sheet, other)]
    if sheet.corrects is None:
        return (*found, *_second_sheet(sheet, beside))
    return (*found, *_correction(sheet, {other.id: other for other in others}))


def _differences(sheet: Sheet, other: Sheet) -> list[Fault]:
    return [
        Fault(
            ("began" if field == "on" else field,),
            f"{field.replace('_', ' ')} is {getattr(sheet, field)}, but sheet {other.id} of the"
            f" same practical says {getattr(other, field)}",
            "give this lesson a practical id of its own, or correct the one that is wrong",
        )
        for field in SAME
        if getattr(sheet, field) != getattr(other, field)
    ]


def _second_sheet(sheet: Sheet, beside: list[Sheet]) -> list[Fault]:
    return [
        Fault(
            ("assessor",),
            f"{sheet.assessor} has a sheet of practical {sheet.practical} already ({other.id})",
            f"to correct it, add 'corrects: {{of: {other.id}, because: ...}}'",
        )
        for other in beside
        if other.assessor == sheet.assessor
    ]


def _correction(sheet: Sheet, standing: dict[str, Sheet]) -> list[Fault]:
    corrects = sheet.corrects
    if corrects is None:
        return []
    old = standing.get(corrects.of)
    if old is None:
        return [
            Fault(
                ("corrects", "of"),
                f"sheet {corrects.of} is not in the book, or was corrected before",
                "name the sheet that stands now; 'standfast history CANDIDATE' lists them",
            )
        ]
    return [
        Fault(
            (field,),
            f"{field} is {getattr(sheet, field)}, but the sheet it corrects says"
            f" {getattr(old, field)}",
            f"only {getattr(old, field)} can be corrected with this sheet",
        )
        for field in ("assessor", "candidate", "practical")
        if getattr(sheet, field) != getattr(old, field)
    ]
