"""Whether a figure that was got in another way is the same figure."""

from __future__ import annotations

import pytest

from standfast.agreement.estimate import Estimate

CLOSE = 1e-12


def same(ours: Estimate, theirs: Estimate) -> None:
    """Nothing, when value, error and bounds are alike to the last digits."""
    assert (ours.name, ours.n, ours.source) == (theirs.name, theirs.n, theirs.source)
    for name in ("value", "se", "low", "high"):
        one, other = getattr(ours, name), getattr(theirs, name)
        if other is None:
            assert one is None
        else:
            assert one == pytest.approx(other, rel=CLOSE, abs=CLOSE), (ours.name, name)
