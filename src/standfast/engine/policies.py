"""What several assessors' marks of one thing become: the lower, that of most, or the higher."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from standfast.engine.clearing import WORST_FIRST, Verdict
from standfast.model.evidence import Answer
from standfast.model.rubric import Joining


def joined_answer(answers: Sequence[Answer], policy: Joining) -> Answer:
    """What several assessors' answers become; one that could not be seen says nothing."""
    yes, no = answers.count("yes"), answers.count("no")
    if not yes and not no:
        return "unseen"
    if policy == "majority":
        return "yes" if yes > no else "no"
    if policy == "higher":
        return "yes" if yes else "no"
    return "no" if no else "yes"


def joined_verdict(verdicts: Sequence[Verdict], policy: Joining) -> Verdict:
    """What several assessors' verdicts on one choice become."""
    worst_first = sorted(verdicts, key=WORST_FIRST.index)
    if policy == "higher":
        return worst_first[-1]
    if policy == "majority":
        most = max(verdicts.count(verdict) for verdict in verdicts)
        return next(v for v in worst_first if verdicts.count(v) == most)
    return worst_first[0]


def joined_look(marks: Sequence[tuple[int, int]], policy: Joining) -> tuple[int, int]:
    """What several counts (idle, waiting) at one look become; the higher idle share is lower.

    At equal shares the larger count of waiting students.
    """
    worst_first = sorted(marks, key=lambda mark: (Fraction(*mark), mark[1]), reverse=True)
    if policy == "higher":
        return worst_first[-1]
    return worst_first[(len(marks) - 1) // 2] if policy == "majority" else worst_first[0]


def joined_mark(marks: tuple[int, ...], policy: Joining) -> int:
    """What several assessors' levels of one practical become."""
    if policy == "higher":
        return max(marks)
    return lower_middle(marks) if policy == "majority" else min(marks)


def lower_middle(levels: tuple[int, ...]) -> int:
    """The middle of the levels once sorted; of two middles the lower."""
    return sorted(levels)[(len(levels) - 1) // 2]
