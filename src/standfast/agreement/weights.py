"""How much two scores agree when they differ: 1 the same, 0 as far apart as can be."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from standfast.agreement.counting import Floats
from standfast.agreement.scores import shown
from standfast.problems import Refused


@dataclass(frozen=True, eq=False)
class Weights:
    """Agreement weights for each pair of categories, and what they are called."""

    name: str
    """As in the key of a figure: `linear`; `identity` for all or nothing."""
    matrix: Floats
    """q x q, 1 on the diagonal."""


def weights_for(kind: str, categories: ArrayLike) -> Weights:
    """The weights of that kind for these categories (q values, ascending).

    identity, linear, quadratic, radical and ratio ask how far apart the values are; ordinal asks
    only how many levels lie between (1 - C(d + 1, 2) / C(q, 2) for d places apart).  This ordinal
    weight is not Krippendorff's ordinal metric, which depends on how often levels were given.

    Raises:
        Refused: a kind that is not known, or ratio weights for values that are not all above 0.

    Source: Gwet KL (2014), Handbook of Inter-Rater Reliability, 4th ed., chapter 3 (from memory;
    checked against its example of 12 subjects).
    """
    if kind not in KINDS:
        raise Refused(f"no weights '{kind}'; known: {', '.join(KINDS)}")
    levels = np.asarray(categories, dtype=float)
    return Weights(kind, 1.0 - _scaled(KINDS[kind](levels)))


def own_weights(
    matrix: ArrayLike, *, name: str = "user", disagreement: bool = False, size: int | None = None
) -> Weights:
    """Weights somebody thought out: agreement (1 = the same), or disagreement (0 = the same).

    Disagreement weights are divided by the largest, which leaves every chance-corrected
    coefficient as it is.

    Raises:
        Refused: not square, not of `size`, a weight outside its range, or a category that does
            not agree with itself.
    """
    table = np.asarray(matrix, dtype=float)
    if table.ndim != 2 or len(set(table.shape)) != 1 or len(table) != (size or len(table)):  # noqa: PLR2004
        wanted = f"{size} x {size}" if size else "square"
        raise Refused(f"weights are {' x '.join(map(str, table.shape))}, must be {wanted}")
    if not np.isfinite(table).all() or (table < 0).any():
        raise Refused("a weight is below 0, or no number")
    if disagreement:
        table = 1.0 - _scaled(table)
    if (table > 1).any() or (np.diag(table) != 1).any():
        raise Refused("a category must agree fully with itself, and no pair more than fully")
    return Weights(name, table)


def _scaled(distances: Floats) -> Floats:
    farthest = distances.max(initial=0.0)
    return distances / farthest if farthest > 0 else distances


def _apart(levels: Floats) -> Floats:
    return np.abs(levels[:, None] - levels[None, :])


def _identity(levels: Floats) -> Floats:
    return 1.0 - np.eye(len(levels))


def _quadratic(levels: Floats) -> Floats:
    return np.square(_apart(levels))


def _radical(levels: Floats) -> Floats:
    return np.sqrt(_apart(levels))


def _ordinal(levels: Floats) -> Floats:
    places = _apart(np.arange(len(levels), dtype=float))
    return places * (places + 1) / 2


def _ratio(levels: Floats) -> Floats:
    if (levels <= 0).any():
        raise Refused(f"ratio weights need values above 0; there is {shown(levels[levels <= 0])}")
    return np.square(_apart(levels) / (levels[:, None] + levels[None, :]))


KINDS: dict[str, Callable[[Floats], Floats]] = {
    "identity": _identity,
    "linear": _apart,
    "quadratic": _quadratic,
    "ordinal": _ordinal,
    "ratio": _ratio,
    "radical": _radical,
}
