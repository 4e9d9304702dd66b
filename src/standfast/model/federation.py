"""What a school shares with the others whose books are in one database."""

from __future__ import annotations

from typing import Literal

Shared = Literal["awards", "agreement"]
"""Counts of awards by rubric and quarter; how far assessors mark alike, by criterion."""

SHARES: tuple[Shared, ...] = ("awards", "agreement")
SMALLEST = 5
"""A smaller group of one school's awards or candidates is in no count.  Ours, no source."""
