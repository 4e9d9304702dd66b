"""Why kappa can be low although the assessors agree, in a sentence with the figures.

Whoever sees 85 % agreement and a kappa of 0.32 thinks one of the two is wrong.  Neither is: when
nearly every score is the same level, chance alone agrees nearly always.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from standfast.agreement.coefficients import (
    brennan_prediger,
    conger_kappa,
    fleiss_kappa,
    gwet_ac,
    percent_agreement,
)
from standfast.agreement.counting import Floats
from standfast.agreement.scores import Scores
from standfast.problems import Refused

SOURCE = "Feinstein & Cicchetti (1990), J Clin Epidemiol 43, 543-549"

# Ours, no source: from here on a reader will wonder.  In the paper's four tables they tell the
# two that are paradoxes from the two that are not.
HIGH_AGREEMENT = 0.8
LOWERED_BY = 0.2
RAISED_BY = 0.05


def paradox(scores: Scores, names: Mapping[float, str] | None = None) -> str | None:
    """Why kappa misleads here, or None when it does not.

    `names` says what a level is called.  Told are both paradoxes of the source: agreement that is
    high while kappa is low, because nearly every score is one level; and a kappa that is higher
    because the assessors use the levels unlike each other.  Also why there is no kappa at all,
    when every score is the same.
    """
    agreement = percent_agreement(scores).value
    try:
        common = fleiss_kappa(scores).value
    except Refused as refusal:
        return refusal.what
    kappa = conger_kappa(scores).value if scores.codes.shape[1] else common
    even = brennan_prediger(scores).value
    if agreement >= HIGH_AGREEMENT and even - kappa >= LOWERED_BY:
        return _lowered(scores, agreement, kappa, names or {})
    if kappa - common >= RAISED_BY:
        return _raised(scores, kappa, common, names or {})
    return None


def _lowered(scores: Scores, agreement: float, kappa: float, names: Mapping[float, str]) -> str:
    share = scores.counts.sum(axis=0) / scores.counts.sum()
    most = int(np.argmax(share))
    level = _named(scores, most, names)
    chance = 1.0 - (1.0 - agreement) / (1.0 - kappa)
    return (
        f"the assessors agree {_percent(agreement)} of the time, yet kappa is only {kappa:.2f}: "
        f"{_percent(float(share[most]))} of the scores are {level}, so they would agree "
        f"{_percent(chance)} of the time by chance alone; were all levels given equally often, "
        f"the same agreement would make it {brennan_prediger(scores).value:.2f}, and Gwet's AC1, "
        f"which lopsided shares hardly move, is {gwet_ac(scores).value:.2f}; whether they see "
        f"alike what is not {level} only more practicals of that kind can tell"
    )


def _raised(scores: Scores, kappa: float, common: float, names: Mapping[float, str]) -> str:
    shares = _share_of_each(scores)
    apart = shares.max(axis=0) - shares.min(axis=0)
    most = int(np.argmax(apart))
    low, high = float(shares[:, most].min()), float(shares[:, most].max())
    return (
        f"the assessors do not use the levels alike: {_named(scores, most, names)} is "
        f"{_percent(low)} of the scores of one and {_percent(high)} of another's; kappa takes "
        f"that as given and looks better for it ({kappa:.2f}) than a coefficient that expects one "
        f"standard of all ({common:.2f}); talk about where that level begins"
    )


def _share_of_each(scores: Scores) -> Floats:
    return np.asarray(scores.of_each / scores.of_each.sum(axis=1, keepdims=True))


def _named(scores: Scores, code: int, names: Mapping[float, str]) -> str:
    level = float(scores.categories[code])
    return f"'{names.get(level, f'{level:g}')}'"


def _percent(share: float) -> str:
    return f"{100 * share:.0f} %"
