"""What is said wherever something could be read as permission to put somebody in the air."""

from __future__ import annotations

from typing import Final

NO_PERMISSION: Final = (
    "It is no licence, no medical clearance and no approval of rigging, mats or a venue.",
    (
        "Local law, the equipment maker's limits, the insurer's terms and a qualified rigger's"
        " judgement come first."
    ),
    "When in doubt, the student stays on the ground.",
)
"""Sentences, which follow one that says what the thing is."""


def caution(what_it_is: str) -> str:
    """The caution after a sentence that says what the thing is."""
    return " ".join((what_it_is, *NO_PERMISSION))


CAUTION: Final = caution("This records what was seen on those days.")
