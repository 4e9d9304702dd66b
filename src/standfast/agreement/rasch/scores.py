"""Scores as they come, checked and arranged so that a model can be fitted to them.

What no model can place is left out here, and said: an assessor who always gave the lowest score,
a criterion on which all got the highest.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from standfast.problems import Refused

Floats = NDArray[np.float64]
Whole = NDArray[np.int64]
Thresholds = Literal["common", "own"]
"""One rating scale for all criteria (rating-scale model), or each its own (partial credit)."""


@dataclass(frozen=True)
class Scored:
    """Long, equally long arrays: who was scored, by whom, on what, and the whole-number score.

    Codes are whole numbers of any size; `names`, when given, has a word for each code of a facet:
    `{"assessor": {3: "Ines"}}`.
    """

    person: Whole
    assessor: Whole
    criterion: Whole
    score: Whole
    names: dict[str, dict[int, str]] | None = None

    def called(self, facet: str, code: int) -> str:
        """The words for one member of a facet: `assessor Ines`."""
        name = (self.names or {}).get(facet, {}).get(int(code), str(int(code)))
        return f"{facet} {name}"


@dataclass(frozen=True)
class Arranged:
    """Ratings by position instead of code, lowest score 0, and what was left out.

    `persons`, `assessors`, `criteria` are the codes in order; `cells` the pairs (assessor,
    criterion) that occur, `cell` the pair of each rating; `tops` the highest score of each
    criterion counted from `lows`; `extreme` marks persons whose every score is the lowest, or
    every one the highest.
    """

    scores: Scored
    persons: Whole
    assessors: Whole
    criteria: Whole
    person: Whole
    cell: Whole
    cells: Whole
    score: Whole
    lows: Whole
    tops: Whole
    extreme: NDArray[np.bool_]
    thresholds: Thresholds
    notes: tuple[str, ...]

    @property
    def top(self) -> int:
        """The highest score any criterion has, counted from its lowest."""
        return int(self.tops.max())


def checked(scores: Scored) -> Scored:
    """The scores as integer arrays.

    Raises:
        Refused: arrays of unlike length, none at all, or a score that is no whole number.
    """
    parts = [np.asarray(a) for a in (scores.person, scores.assessor, scores.criterion)]
    score = np.asarray(scores.score, dtype=float)
    if len({part.shape for part in (*parts, score)}) != 1 or score.ndim != 1:
        raise Refused("person, assessor, criterion and score must be lists of the same length")
    if score.size == 0:
        raise Refused("there is no score to go by")
    if not np.isfinite(score).all() or (score != np.round(score)).any():
        raise Refused("scores must be whole numbers; leave out what was not scored")
    person, assessor, criterion = (part.astype(np.int64) for part in parts)
    return replace(
        scores,
        person=person,
        assessor=assessor,
        criterion=criterion,
        score=score.astype(np.int64),
    )


def arranged(given: Scored, thresholds: Thresholds, *, extreme_persons_count: bool) -> Arranged:
    """Scores ready for a fit.  `extreme_persons_count` when persons at an end tell something.

    Raises:
        Refused: nothing is left to compare, or a score in the middle of a scale is never given.
    """
    scores = checked(given)
    keep, notes = without_ends(scores, thresholds, extreme_persons_count=extreme_persons_count)
    if not keep.any():
        raise Refused("no score is left that could tell assessors or criteria apart", notes)
    lost = np.setdiff1d(scores.person, scores.person[keep])
    if lost.size:
        notes.append(f"left out with them, for want of other scores: {lost.size} of the persons")
    persons, person = np.unique(scores.person[keep], return_inverse=True)
    assessors, assessor = np.unique(scores.assessor[keep], return_inverse=True)
    criteria, criterion = np.unique(scores.criterion[keep], return_inverse=True)
    pairs = assessor * len(criteria) + criterion
    cells, cell = np.unique(pairs, return_inverse=True)
    lows, highs = ends(scores.score[keep], criterion, thresholds)
    score = scores.score[keep] - lows[criterion]
    made = Arranged(
        scores=scores,
        persons=persons,
        assessors=assessors,
        criteria=criteria,
        person=person,
        cell=cell,
        cells=np.column_stack((cells // len(criteria), cells % len(criteria))),
        score=score,
        lows=lows,
        tops=highs - lows,
        extreme=at_an_end(person, score, (highs - lows)[criterion], len(persons)),
        thresholds=thresholds,
        notes=tuple(notes),
    )
    used = np.ones(len(score), dtype=bool) if extreme_persons_count else ~made.extreme[person]
    refuse_unused_scores(made, criterion, used)
    return made


def ends(score: Whole, criterion: Whole, thresholds: Thresholds) -> tuple[Whole, Whole]:
    """The lowest and highest score of each criterion: of all together when they share a scale."""
    count = int(criterion.max()) + 1
    if thresholds == "common":
        return np.full(count, score.min()), np.full(count, score.max())
    lows, highs = np.full(count, score.max()), np.full(count, score.min())
    np.minimum.at(lows, criterion, score)
    np.maximum.at(highs, criterion, score)
    return lows, highs


def at_an_end(who: Whole, score: Whole, top: Whole, count: int) -> NDArray[np.bool_]:
    """For each member whether all scores are the lowest there are, or all the highest."""
    n = np.bincount(who, minlength=count)
    low = np.bincount(who, weights=score == 0, minlength=count) == n
    high = np.bincount(who, weights=score == top, minlength=count) == n
    return np.asarray((low | high) & (n > 0))


def without_ends(
    scores: Scored, thresholds: Thresholds, *, extreme_persons_count: bool
) -> tuple[NDArray[np.bool_], list[str]]:
    """Which scores to keep so that every severity and difficulty is finite; and the words for it.

    Leaving out one member can put another at an end, so this is repeated until nothing changes.
    """
    keep, notes = np.ones(len(scores.score), dtype=bool), list[str]()
    while keep.any():
        _, criterion = np.unique(scores.criterion, return_inverse=True)
        lows, highs = np.zeros(criterion.max() + 1, int), np.zeros(criterion.max() + 1, int)
        found = ends(scores.score[keep], criterion[keep], thresholds)
        lows[: len(found[0])], highs[: len(found[1])] = found
        score, top = scores.score - lows[criterion], (highs - lows)[criterion]
        used = keep.copy()
        if not extreme_persons_count:
            _, who = np.unique(scores.person[keep], return_inverse=True)
            used[keep] = ~at_an_end(who, score[keep], top[keep], int(who.max()) + 1)[who]
        drop = [
            (facet, code, end)
            for facet, codes in (("assessor", scores.assessor), ("criterion", scores.criterion))
            for code, end in members_at_an_end(codes, keep, used, score, top)
        ]
        if not drop:
            break
        for facet, code, end in drop:
            keep &= getattr(scores, facet) != code
            notes.append(
                f"{scores.called(facet, code)} is left out: {end}, so that no figure can be given"
            )
    return keep, notes


def members_at_an_end(
    codes: Whole, keep: NDArray[np.bool_], used: NDArray[np.bool_], score: Whole, top: Whole
) -> list[tuple[int, str]]:
    """Codes whose scores say nothing about where they stand, with the reason in words."""
    members, who = np.unique(codes[keep], return_inverse=True)
    n = np.bincount(who, weights=used[keep], minlength=len(members))
    low = np.bincount(who, weights=(used & (score == 0))[keep], minlength=len(members))
    high = np.bincount(who, weights=(used & (score == top))[keep], minlength=len(members))
    found = list[tuple[int, str]]()
    for code, total, lowest, highest in zip(members, n, low, high, strict=True):
        if total == 0:
            found.append((int(code), "only persons all of whose scores are at one end have it"))
        elif lowest == total:
            found.append((int(code), "every score is the lowest there is"))
        elif highest == total:
            found.append((int(code), "every score is the highest there is"))
    return found


def refuse_unused_scores(made: Arranged, criterion: Whole, used: NDArray[np.bool_]) -> None:
    """Refuse a scale with a score that nobody gave: its thresholds have no value.

    Raises:
        Refused: names each scale and the scores missing from it.
    """
    reasons = list[str]()
    sets = [None] if made.thresholds == "common" else list(range(len(made.criteria)))
    for position in sets:
        mine = used if position is None else used & (criterion == position)
        at = 0 if position is None else position
        counts = np.bincount(made.score[mine], minlength=int(made.tops[at]) + 1)
        missing = [str(k + made.lows[at]) for k in np.flatnonzero(counts == 0)]
        if missing:
            of = "" if position is None else made.scores.called("criterion", made.criteria[at])
            reasons.append(f"{of + ': ' if of else ''}nobody gave {', '.join(missing)}")
    if reasons:
        what = "a score that nobody gave has no threshold; join it with its neighbour"
        raise Refused(what, reasons)
