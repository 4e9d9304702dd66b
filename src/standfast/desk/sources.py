"""Where the differences between marks come from."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from standfast.problems import Refused

if TYPE_CHECKING:
    import numpy as np

    from standfast.agreement.components import Components
    from standfast.agreement.ratings import Codes, Ratings, Values
    from standfast.desk.marks import Marks

LEAST_SHARED = 10
"""Lessons scored by two, under which nothing is divided up.  Common practice, no source."""
LEAST_CANDIDATES = 5
"""With two practicals or more, to tell candidates from their days.  Common practice, no source."""
MOST_WORK = 2e8
"""Multiplications of one look at the likelihood, about a second for the whole fit; beyond it the
method of moments is taken."""


@dataclass(frozen=True)
class NotTold:
    """Why something cannot be said."""

    reason: str


@dataclass(frozen=True)
class Part:
    """One of the sources of difference."""

    effect: str
    """In letters: p who was seen, t practical, r assessor, i criterion; see `components`."""
    what: str
    words: str
    variance: float
    """In squared shares of the scale, as estimated: may be below zero."""
    share: float
    """Of all variance, 0 to 1; what was estimated below zero counts as zero."""


@dataclass(frozen=True)
class Origins:
    """Where the differences between marks come from."""

    parts: tuple[Part, ...]
    """Who was seen first, what is left over last."""
    criteria: tuple[str, ...]
    """The criteria that were put together."""
    marks: int
    candidates: bool
    """Whether candidates are told from their lessons."""
    method: str
    """`ANOVA`, `REML` or `Henderson 1`."""
    why: str
    """Why that method, in words."""
    said: tuple[str, ...]
    """What must be said beside the figures."""


def origins(marks: Marks) -> Origins | NotTold:
    """Where the differences between marks come from, of criteria marked once on a sheet."""
    try:
        ratings = together(marks)
        return _origins(marks, ratings)
    except Refused as why:
        return NotTold(why.what)


def together(marks: Marks) -> Ratings:
    """The marks that can be put together.

    Raises:
        Refused: there are too few.
    """
    import numpy as np

    from standfast.agreement.sheets import largest_set, once_on_a_sheet

    better = marks.on_scale.only(marks.better[marks.ratings.criterion])
    ratings = once_on_a_sheet(better)
    if not len(ratings):
        raise Refused("no criterion is marked just once on a sheet, so no sheet has a total")
    ratings = largest_set(ratings)
    sheets = np.unique(np.stack([ratings.lesson, ratings.assessor]), axis=1)[0]
    shared = int((np.bincount(sheets) > 1).sum())
    if shared < LEAST_SHARED:
        raise Refused(
            f"{shared} of the lessons whose sheets can be put together were scored by two; it"
            f" takes {LEAST_SHARED} to tell where differences come from"
        )
    return ratings


def people_of(marks: Marks, lesson: Codes) -> Codes | None:
    """Who taught the lesson of each mark; None where that cannot be told from the lesson."""
    import numpy as np

    there = np.unique(lesson)  # of lessons before --since nobody is named
    if not marks.candidates or not all(marks.candidates[one] for one in there):
        return None
    names = {name: code for code, name in enumerate(dict.fromkeys(marks.candidates))}
    whose = np.array([names[one] for one in marks.candidates], dtype=np.int64)
    often = np.bincount(whose[there])
    return whose[lesson] if int((often > 1).sum()) >= LEAST_CANDIDATES else None


# Where differences come from

_LESSONS = {
    "p": ("lessons", "how lessons differ: what you want to measure"),
    "pi": ("lesson and criterion", "what a lesson shows in one criterion: you want that too"),
    "r": ("assessors", "how severe assessors are on the whole"),
    "pr": ("assessor and lesson", "assessor's own view of a lesson as a whole"),
    "ri": ("assessor and criterion", "assessor's own view of a criterion"),
    "i": ("criteria", "how hard criteria are, the same for everybody"),
    "pri": ("what is left", "one mark at one moment: chance, and all that has no name here"),
}
_CANDIDATES = {
    "p": ("candidates", "how candidates differ: what you want to measure"),
    "pt": ("practicals of a candidate", "how the same candidate differs from day to day"),
    "pti": ("practical and criterion", "what a lesson shows in one criterion: you want that too"),
    "r": _LESSONS["r"],
    "ptr": ("assessor and practical", "assessor's own view of a lesson as a whole"),
    "ri": _LESSONS["ri"],
    "i": _LESSONS["i"],
    "ptri": _LESSONS["pri"],
}
_POOLED = ("pr", "pi", "pri")
"""Not asked for where candidates and practicals are told apart: few are seen twice by the same."""
LESSONS_OF_ONE = {
    "p": _LESSONS["p"],
    "r": _LESSONS["r"],
    "pr": ("what is left", "assessor's own view of a lesson, and chance"),
}
CANDIDATES_OF_ONE = {
    "p": _CANDIDATES["p"],
    "pt": _CANDIDATES["pt"],
    "r": _LESSONS["r"],
    "ptr": LESSONS_OF_ONE["pr"],
}


def _origins(marks: Marks, ratings: Ratings) -> Origins:
    import numpy as np

    people = people_of(marks, ratings.lesson)
    several = len(np.unique(ratings.criterion)) > 1
    codes = {} if people is None else {"p": people}
    codes |= {"p" if people is None else "t": ratings.lesson, "r": ratings.assessor}
    words: Mapping[str, tuple[str, str]]
    if several:
        codes["i"] = ratings.criterion
        words = _LESSONS if people is None else _CANDIDATES
    else:
        words = LESSONS_OF_ONE if people is None else CANDIDATES_OF_ONE
    found, why = fitted(codes, ratings.score)
    names = tuple(ratings.criteria[code] for code in np.unique(ratings.criterion))
    whole = sum(found.at_least_zero.values())
    parts = tuple(
        Part(
            *(effect, *words[effect], found.as_estimated[effect]),
            found.at_least_zero[effect] / whole,
        )
        for effect in words
    )
    said = said_of(found, {effect: what for effect, (what, _) in words.items()})
    return Origins(parts, names, len(ratings), people is not None, found.method, why, said)


def fitted(codes: Mapping[str, Codes], scores: Values) -> tuple[Components, str]:
    """The components by the method that suits, and why that one.

    Facets p, r and perhaps i; or p, t in p, r and perhaps i, where an assessor's view of a
    candidate over several days is not asked for.

    Raises:
        Refused: no method can tell the effects apart.
    """
    from standfast.agreement.components import balanced_components, henderson_components
    from standfast.agreement.reml import reml_components, reml_work

    whole = _complete(codes, scores)
    if whole is not None:
        return balanced_components(whole, "".join(codes)), "every lesson has every mark"
    nested = {"t": "p"} if "t" in codes else None
    without = _POOLED if nested else ()
    if reml_work(codes, scores, nested, without=without) > MOST_WORK:
        why = "not every lesson has every mark, and there are too many marks for likelihood"
        return henderson_components(codes, scores, nested, without=without), why
    try:
        found = reml_components(codes, scores, nested, without=without)
    except Refused as refused:
        why = f"likelihood has no answer ({refused.what})"
        return henderson_components(codes, scores, nested, without=without), why
    if not found.converged:
        why = "the likelihood did not settle"
        return henderson_components(codes, scores, nested, without=without), why
    return found, "not every lesson has every mark"


def _complete(codes: Mapping[str, Codes], scores: Values) -> np.typing.NDArray[np.float64] | None:
    """The scores with an axis for each facet, when none is missing and none is nested."""
    import numpy as np

    if "t" in codes:
        return None
    places = [np.unique(code, return_inverse=True)[1] for code in codes.values()]
    shape = tuple(int(place.max()) + 1 for place in places)
    if np.prod(shape) != len(scores):
        return None
    whole = np.full(shape, np.nan)
    whole[tuple(places)] = scores
    return None if np.isnan(whole).any() else whole


def said_of(found: Components, names: Mapping[str, str]) -> tuple[str, ...]:
    """What must be said beside the components, by the names of the effects."""
    below = [
        f"'{names[effect]}' ({found.as_estimated[effect]:.4f})" for effect in found.set_to_zero
    ]
    zero = [
        f"'{names[effect]}'"
        for effect, value in found.as_estimated.items()
        if found.method == "REML" and value == 0
    ]
    said = []
    if below:
        said.append(f"estimated below zero, which no variance can be, and so none: {_and(below)}")
    if zero:
        said.append(f"nothing of it was found: {_and(zero)}")
    return tuple(said)


def _and(names: Sequence[str]) -> str:
    return ", ".join(names)
