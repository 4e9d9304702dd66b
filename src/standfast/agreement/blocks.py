"""The restricted likelihood of crossed and nested random effects, and its slopes, quickly.

Every effect that holds one facet (all that is about one person, say) meets itself only within a
level of that facet.  So the system of equations falls apart into a small block for each person,
beside what all share (assessors, criteria); the blocks are eliminated first, all at once, and what
is left is as small as the shared part.  Slopes are exact: they need the diagonal of the inverse,
which the same elimination gives.

Source: the profiled form and its scaled equations Bates, Maechler, Bolker & Walker (2015), Journal
of Statistical Software 67(1), section 3; slopes by Henderson's equations, as in Searle, Casella &
McCulloch (1992), Variance Components, section 7.6 (from memory).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import inf, log, pi

import numpy as np
from numpy.typing import NDArray

from standfast.agreement.components import Codes, Floats
from standfast.agreement.icc import summed

MOST_CELLS = 60_000_000
"""Numbers held at once, about half a gigabyte."""


@dataclass(frozen=True)
class Split:
    """Which effects are eliminated in blocks, and what that costs."""

    block_of: Codes
    """For each score the level of the facet that makes the blocks."""
    inner: tuple[int, ...]
    """Places of the effects that fall apart into its blocks."""
    outer: tuple[int, ...]
    """Places of the others."""
    widest: int
    shared: int
    """How many cells the others have."""

    @property
    def held(self) -> int:
        """Numbers held at once."""
        across = (int(self.block_of.max()) + 1) * self.widest
        return 3 * across * (self.widest + self.shared) + 4 * self.shared**2

    @property
    def work(self) -> float:
        """Multiplications for one look at the likelihood, about."""
        blocks, wide, shared = int(self.block_of.max()) + 1, float(self.widest), float(self.shared)
        return blocks * (2 * wide**3 + 2 * wide * wide * shared + 3 * wide * shared**2) + shared**3


def cheapest_split(cells: Mapping[str, Codes]) -> Split:
    """The facet to make blocks by; `cells` has for each effect the cell of every score.

    Only facets that are an effect of their own can: a nested one is inside the blocks of another.
    """
    names = list(cells)
    return min(
        (_split(names, cells, facet) for facet in names if len(facet) == 1),
        key=lambda split: split.work,
    )


def _split(names: Sequence[str], cells: Mapping[str, Codes], facet: str) -> Split:
    inner = tuple(place for place, name in enumerate(names) if facet in name)
    outer = tuple(place for place, name in enumerate(names) if facet not in name)
    block_of = cells[facet]
    width = np.zeros(int(block_of.max()) + 1, dtype=np.int64)
    for place in inner:
        first = np.unique(cells[names[place]], return_index=True)[1]
        width += np.bincount(block_of[first], minlength=width.size)
    shared = sum(int(cells[names[place]].max()) + 1 for place in outer)
    return Split(block_of, inner, outer, int(width.max()), shared)


@dataclass(frozen=True)
class _At:
    """What is known of the system at some ratios."""

    determinant: float
    ones: float
    cross: float
    squares: float
    of_ones: tuple[Floats, Floats]
    of_sums: tuple[Floats, Floats]
    """Solutions for the ones and the scores: of the blocks, of what is shared."""
    diagonal: tuple[Floats, Floats]
    """Of the inverse."""


@dataclass(frozen=True)
class Likelihood:
    """Deviance and slopes at ratios of standard deviations, sums over scores taken once."""

    n: int
    squares: float
    effect_in: NDArray[np.int64]
    """Blocks x width: which effect a place belongs to, -1 for none."""
    effect_out: NDArray[np.int64]
    within: Floats
    """Blocks x width x width: how often two cells of a block meet."""
    across: Floats
    """Blocks x width x shared."""
    shared: Floats
    sides_in: Floats
    """Blocks x width x 2: how many scores a cell has, and their sum."""
    sides_out: Floats

    @classmethod
    def of(cls, x: Floats, cells: Mapping[str, Codes], split: Split) -> Likelihood:
        """`x` is centred on its mean; `cells` without what is left over."""
        codes = list(cells.values())
        blocks, wide = int(split.block_of.max()) + 1, split.widest
        places, effect_in = _places(codes, split)
        starts = np.cumsum([0, *(int(codes[k].max()) + 1 for k in split.outer)])
        columns = [codes[k] + start for k, start in zip(split.outer, starts[:-1], strict=True)]
        effect_out = np.repeat(np.array(split.outer, dtype=np.int64), np.diff(starts))
        rows = [split.block_of * wide + place for place in places]
        shape = (blocks * wide, split.shared)
        within = sum(_met(row, place, (blocks * wide, wide)) for row in rows for place in places)
        across = sum((_met(row, column, shape) for row in rows for column in columns), _none(shape))
        square = (split.shared, split.shared)
        shared = sum((_met(a, b, square) for a in columns for b in columns), _none(square))
        both = np.stack([np.ones(x.size), x], axis=1)
        return cls(
            *(x.size, summed(x, x), effect_in, effect_out),
            np.asarray(within).reshape(blocks, wide, wide),
            across.reshape(blocks, wide, split.shared),
            shared,
            _sums(rows, both, blocks * wide).reshape(blocks, wide, 2),
            _sums(columns, both, split.shared),
        )

    def _at(self, ratios: Floats) -> _At:
        padded = np.append(ratios, 0.0)  # the place of what is no effect
        inside, outside = padded[self.effect_in], padded[self.effect_out]
        wide = np.eye(inside.shape[1])
        block = self.within * inside[:, :, None] * inside[:, None, :] + wide
        determinant = float(np.linalg.slogdet(block)[1].sum())
        inverse = np.linalg.inv(block)
        across = self.across * inside[:, :, None] * outside
        sides = self.sides_in * inside[:, :, None]
        taken = inverse @ across
        solved = inverse @ sides
        flat, flat_taken = (m.reshape(inside.size, outside.size) for m in (across, taken))
        left = self.shared * np.outer(outside, outside) + np.eye(outside.size) - flat.T @ flat_taken
        rest = self.sides_out * outside[:, None] - flat.T @ solved.reshape(inside.size, 2)
        determinant += float(np.linalg.slogdet(left)[1]) if outside.size else 0.0
        small = np.linalg.inv(left)
        of_out = small @ rest
        of_in = solved - (flat_taken @ of_out).reshape(solved.shape)
        diagonal = np.einsum("bii->bi", inverse) + (
            ((flat_taken @ small) * flat_taken).sum(axis=1).reshape(inside.shape)
        )
        products = np.einsum("bij,bik->jk", sides, of_in) + np.einsum(
            "ij,ik->jk", self.sides_out * outside[:, None], of_out
        )
        return _At(
            determinant,
            self.n - float(products[0, 0]),
            -float(products[0, 1]),  # x is centred: its own sum is nothing
            self.squares - float(products[1, 1]),
            (of_in[:, :, 0], of_out[:, 0]),
            (of_in[:, :, 1], of_out[:, 1]),
            (diagonal, np.diagonal(small)),
        )

    def deviance(self, ratios: Floats) -> float:
        """Minus twice the restricted log likelihood, the mean and residual at their best."""
        return self._deviance(self._at(ratios))

    def with_slopes(self, ratios: Floats) -> tuple[float, Floats]:
        """The deviance and its slope along each ratio; 0 at a ratio of 0, as it is even."""
        at = self._at(ratios)
        mean = at.cross / at.ones
        left = at.squares - at.cross * mean
        free = ratios > 0
        wanted = np.zeros(ratios.size)
        for part, effects in enumerate((self.effect_in, self.effect_out)):
            there = effects >= 0
            of_ones, of_sums = at.of_ones[part][there], at.of_sums[part][there]
            each = (1.0 - at.diagonal[part][there]) - of_ones**2 / at.ones
            each -= (self.n - 1) * (of_sums - mean * of_ones) ** 2 / max(left, _LEAST)
            wanted += np.bincount(effects[there], each, minlength=ratios.size)
        slopes = np.zeros(ratios.size)
        slopes[free] = 2.0 * wanted[free] / ratios[free]
        return self._deviance(at), slopes

    def _deviance(self, at: _At) -> float:
        left = at.squares - at.cross**2 / at.ones
        if left <= 0:
            return inf
        spread = (self.n - 1) * (1 + log(2 * pi * left / (self.n - 1)))
        return at.determinant + log(at.ones) + spread

    def residual(self, ratios: Floats) -> float:
        """The variance of what is left over."""
        at = self._at(ratios)
        return (at.squares - at.cross**2 / at.ones) / (self.n - 1)

    def mean(self, ratios: Floats) -> float:
        """The mean, each score by what it tells; of centred scores."""
        at = self._at(ratios)
        return at.cross / at.ones


_LEAST = 1e-300


def _places(codes: Sequence[Codes], split: Split) -> tuple[list[Codes], NDArray[np.int64]]:
    """Of each inner effect the place of every score in its block; which effect a place is of."""
    blocks = int(split.block_of.max()) + 1
    used = np.zeros(blocks, dtype=np.int64)
    effects = np.full((blocks, split.widest), -1, dtype=np.int64)
    found = []
    for effect in split.inner:
        first = np.unique(codes[effect], return_index=True)[1]
        block = split.block_of[first]
        order = np.argsort(block, kind="stable")
        sizes = np.bincount(block, minlength=blocks)
        nth = np.empty(first.size, dtype=np.int64)
        nth[order] = np.arange(first.size) - np.repeat(np.cumsum(sizes) - sizes, sizes)
        place = used[block] + nth
        effects[block, place] = effect
        used += sizes
        found.append(place[codes[effect]])
    return found, effects


def _met(rows: Codes, columns: Codes, shape: tuple[int, int]) -> Floats:
    """How often a row meets a column."""
    met = np.bincount(rows * shape[1] + columns, minlength=shape[0] * shape[1])
    return met.reshape(shape).astype(np.float64)


def _none(shape: tuple[int, int]) -> Floats:
    return np.zeros(shape)


def _sums(rows: Sequence[Codes], values: Floats, size: int) -> Floats:
    found = np.zeros((size, values.shape[1]))
    for row in rows:
        for column in range(values.shape[1]):
            found[:, column] += np.bincount(row, values[:, column], minlength=size)
    return found
