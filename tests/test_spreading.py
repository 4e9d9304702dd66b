"""Work spread over the cores: all of it, in order, and the first fault comes back."""

from __future__ import annotations

import os

import pytest

from standfast.spreading import GROUP, spread


def told(piece: int) -> tuple[int, int]:
    return piece * piece, os.getpid()


def fails_at_the_end(piece: int) -> int:
    if piece == GROUP * 3 - 1:
        raise ValueError(piece)
    return piece


def test_everything_is_done_once_in_order_and_in_other_processes() -> None:
    pieces = range(GROUP * 4 + 3)

    done = list(spread(told, pieces, processes=2))

    assert [square for square, _ in done] == [one * one for one in pieces]
    assert os.getpid() not in {process for _, process in done}


def test_a_few_are_done_here() -> None:
    assert {process for _, process in spread(told, range(GROUP), processes=2)} == {os.getpid()}


def test_what_went_wrong_comes_back() -> None:
    with pytest.raises(ValueError, match="29"):
        list(spread(fails_at_the_end, range(GROUP * 4), processes=2))
