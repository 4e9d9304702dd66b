"""Whether the scores hang together, so that everybody can be compared with everybody.

Two assessors who never scored the same person, not even by way of others, cannot be compared:
whoever looks severe may only have met weaker people.
"""

from __future__ import annotations

import numpy as np
from scipy.sparse import coo_array, csr_array
from scipy.sparse.csgraph import connected_components

from standfast.agreement.rasch.scores import Arranged, Floats, Whole
from standfast.problems import Refused

MOST_NAMED = 6
"""How many members of a group are named before the rest is only counted."""


def groups_of(person: Whole, assessor: Whole, criterion: Whole) -> tuple[int, Whole]:
    """How many groups that share nobody, and the group of each rating.

    Arrays of positions from 0, one rating each.  Persons, assessors and criteria are the nodes;
    a rating ties its three together.
    """
    persons, assessors = int(person.max()) + 1, int(assessor.max()) + 1
    total = persons + assessors + int(criterion.max()) + 1
    start = np.concatenate((person, person))
    end = np.concatenate((persons + assessor, persons + assessors + criterion))
    graph = coo_array((np.ones(len(start)), (start, end)), shape=(total, total))
    count, label = connected_components(graph, directed=False)
    return int(count), np.asarray(label, dtype=np.int64)[person]


def refuse_unlinked(made: Arranged, used: Whole) -> None:
    """Refuse scores that fall into groups with nobody in common.

    `used` are the positions of the ratings that count.

    Raises:
        Refused: says who is in which group and what would join them.
    """
    person, cell = made.person[used], made.cell[used]
    assessor, criterion = made.cells[cell, 0], made.cells[cell, 1]
    # Positions without a rating (persons at an end) would be groups of their own.
    count, label = groups_of(
        np.unique(person, return_inverse=True)[1],
        np.unique(assessor, return_inverse=True)[1],
        np.unique(criterion, return_inverse=True)[1],
    )
    if count == 1:
        return
    reasons = [
        f"group {number}: {in_words(made, assessor[label == group], criterion[label == group])}; "
        f"{len(np.unique(person[label == group]))} persons"
        for number, group in enumerate(np.unique(label), start=1)
    ]
    raise Refused(
        f"the scores fall into {count} groups with nobody in common, so that their assessors "
        "cannot be compared; let an assessor of one group also score persons of another, on the "
        "same criteria",
        reasons,
    )


def in_words(made: Arranged, assessor: Whole, criterion: Whole) -> str:
    """Names of the assessors and criteria of a group, the first few of each."""
    words = list[str]()
    for facet, codes, positions in (
        ("assessor", made.assessors, assessor),
        ("criterion", made.criteria, criterion),
    ):
        members = [made.scores.called(facet, codes[at]) for at in np.unique(positions)]
        more = len(members) - MOST_NAMED
        words.append(", ".join(members[:MOST_NAMED]) + (f" and {more} more" if more > 0 else ""))
    return ", ".join(words)


def refuse_confounded(made: Arranged, used: Whole, contrast: Floats) -> None:
    """Refuse when a shift of some figures against others would change no probability.

    An assessor who alone scores a criterion is such a case: severe, or the criterion difficult?
    `contrast` (named x free) gives severities and difficulties from the free ones.

    Raises:
        Refused: names those who cannot be told apart.
    """
    if contrast.shape[1] == 0:
        return
    person, cell = made.person[used], made.cell[used]
    members = made.cells + np.array([0, len(made.assessors)])
    shape = (len(made.persons), len(contrast))
    met = (np.concatenate((person, person)), members[cell].T.ravel())
    n = np.maximum(np.bincount(person, minlength=len(made.persons)), 1)
    each = np.tile(1 / np.sqrt(n[person]), 2)
    apart = csr_array((each, met), shape=shape)
    per_cell: Floats = np.bincount(cell, minlength=len(made.cells)).astype(float)
    lines = np.zeros((len(made.cells), len(contrast)))
    lines[np.arange(len(lines))[:, None], members] = 1
    named = lines.T @ (lines * per_cell[:, None]) - (apart.T @ apart).toarray()
    within = contrast.T @ named @ contrast
    values, vectors = np.linalg.eigh(within)
    if values[0] > 1e-9 * max(values[-1], 1.0):
        return
    load = np.abs(contrast @ vectors[:, 0])
    labels = [made.scores.called("assessor", code) for code in made.assessors]
    labels += [made.scores.called("criterion", code) for code in made.criteria]
    who = [label for label, part in zip(labels, load, strict=True) if part > load.max() / 2]
    raise Refused(
        "severity and difficulty cannot be told apart by these scores; let each criterion be "
        "scored by more than one assessor of the same persons",
        [f"not to be told apart: {', '.join(who[:MOST_NAMED])}"],
    )
