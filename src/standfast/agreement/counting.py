"""Which values were given, and how often each subject was given each: a million marks in moments.

Marks are nearly always whole numbers close together.  Then no sorting is needed to find them, and
what a subject was given fits into one number, a digit for each value.  There are few different
such numbers, so whatever follows is worked out once for each and not for each subject.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from standfast.problems import Refused

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

MISSING = -1
MOST_VALUES = 2_000
_MOST_CELLS = 50_000_000  # of subject by value
_PIECE = 32_768  # marks at a time: they stay in the processor's cache
_EXACT = 2**53  # up to here a float holds every whole number
_FEW_PACKED = 1 << 20  # numbers that are counted instead of sorted


@dataclass(frozen=True, eq=False)
class Tally:
    """What subjects were given, each different row once."""

    values: Floats
    """The values that were given, ascending; q of them."""
    counts: Floats
    """p x q: how often a subject was given each value."""
    times: Floats
    """p: how many subjects were."""


def tally_of(table: Floats) -> Tally:
    """The tally of ratings (subjects x assessors, NaN = missing).

    Raises:
        Refused: too many different values.
    """
    low, size = _whole_span(table)
    base = table.shape[1] + 1
    packed = _packed(table, low, size) if size and base**size <= _EXACT else None
    if packed is None:
        values, codes = coded(table)
        refuse_size(len(table), len(values))
        counts = counted(codes, len(values))
        return Tally(values, counts, np.ones(len(counts)))
    rows, times = _different(packed, base**size)
    counts = _digits(rows, base, size)
    used = np.flatnonzero(counts.any(axis=0))
    return Tally(_from(low, used), counts[:, used], times)


def coded(scores: Floats) -> tuple[Floats, Ints]:
    """The values that were given, ascending, and each score's place among them or `MISSING`.

    Any shape; NaN is missing.

    >>> values, codes = coded(np.array([[2.0, 4.0], [np.nan, 2.0]]))
    >>> values.tolist(), codes.tolist()
    ([2.0, 4.0], [[0, 1], [-1, 0]])
    """
    low, size = _whole_span(scores)
    codes = _whole(scores, low) if size else None
    if codes is not None:
        used = _used(codes, size)
        if used.all():
            return _from(low, np.arange(size)), codes
        place = np.append(np.cumsum(used) - 1, MISSING).astype(np.int64)
        return _from(low, np.flatnonzero(used)), place[codes]  # the last place is that of a gap, -1
    given = ~np.isnan(scores)
    values, flat = np.unique(scores[given], return_inverse=True)
    codes = np.full(scores.shape, MISSING, dtype=np.int64)
    codes[given] = flat
    return np.asarray(values, dtype=np.float64), codes


def counted(codes: Ints, size: int) -> Floats:
    """How often each of `size` values was given to each subject (n x q)."""
    slots = codes + (1 + np.arange(len(codes)) * (size + 1))[:, None]  # a gap is in the first
    flat = np.bincount(slots.ravel(), minlength=len(codes) * (size + 1))
    return flat.reshape(len(codes), size + 1)[:, 1:].astype(float)


def different_rows(codes: Ints, size: int) -> tuple[Floats, Floats]:
    """Each different row that `counted` would give, once (p x q), and how often it occurs (p)."""
    base = codes.shape[1] + 1
    if base**size > _EXACT:
        counts = counted(codes, size)
        return counts, np.ones(len(counts))
    worth = _worth(base, size)
    packed = np.empty(len(codes))
    ones = np.ones(codes.shape[1])
    for piece in _pieces(codes):
        packed[piece] = worth[codes[piece]] @ ones
    rows, times = _different(packed, base**size)
    return _digits(rows, base, size), times


def refuse_size(subjects: int, values: int) -> None:
    """Nothing, when a table of so many subjects by values can be held.

    Raises:
        Refused: it is too large.
    """
    if values > MOST_VALUES or subjects * values > _MOST_CELLS:
        raise Refused(
            f"{subjects} subjects with {values} different values are too many to count",
            ["round the scores to the levels that matter"],
        )


def _whole_span(scores: Floats) -> tuple[float, int]:
    """The lowest score, and how many whole numbers there are up to the highest.

    0 for too many, or when the lowest is not whole.
    """
    if not scores.size:
        return 0.0, 0
    low = float(np.fmin.reduce(scores, axis=None))
    high = float(np.fmax.reduce(scores, axis=None))
    few = high - low < MOST_VALUES and low == np.rint(low)  # neither is true of nothing but gaps
    return low, int(high - low) + 1 if few else 0


def _from(low: float, places: Ints) -> Floats:
    return np.asarray(places + low, dtype=np.float64)


def _pieces(scores: Floats | Ints) -> list[slice]:
    rows = max(1, _PIECE * len(scores) // max(1, scores.size))
    return [slice(start, start + rows) for start in range(0, len(scores), rows)]


def _whole(scores: Floats, low: float) -> Ints | None:
    """How far each score lies above the lowest, `MISSING` for a gap; None when not whole."""
    codes = np.empty(scores.shape, dtype=np.int64)
    for piece in _pieces(scores):
        places = np.fmax(scores[piece] - low, MISSING)
        codes[piece] = places
        if not (codes[piece] == places).all():
            return None
    return codes


def _packed(table: Floats, low: float, size: int) -> Floats | None:
    """What each subject was given as one number: how often low, low + 1, ... are its digits."""
    ones = np.ones(table.shape[1])
    worth = _worth(len(ones) + 1, size)
    packed = np.empty(len(table))
    for piece in _pieces(table):
        places = np.fmax(table[piece] - low, MISSING)
        codes = places.astype(np.int64)
        if not (codes == places).all():
            return None
        packed[piece] = worth[codes] @ ones
    return packed


def _worth(base: int, size: int) -> Floats:
    """What a place adds to the number; the last, -1, is that of a gap."""
    return np.append(float(base) ** np.arange(size), 0.0)


def _digits(numbers: Floats, base: int, size: int) -> Floats:
    return np.asarray(np.floor(numbers[:, None] / float(base) ** np.arange(size)) % base)


def _different(packed: Floats, most: int) -> tuple[Floats, Floats]:
    """Each number that occurs, all under `most`, and how often."""
    if most > _FEW_PACKED:
        rows, times = np.unique(packed, return_counts=True)
        return rows, times.astype(float)
    times = np.bincount(packed.astype(np.int64))
    there = np.flatnonzero(times)
    return there.astype(float), times[there].astype(float)


def _used(codes: Ints, size: int) -> NDArray[np.bool_]:
    """Which places occur; the first few codes nearly always show that all do."""
    flat = codes.ravel()
    for part in (flat[:_PIECE], flat):
        used = np.bincount(part + 1, minlength=size + 1)[1:] > 0
        if used.all():
            break
    return np.asarray(used)
