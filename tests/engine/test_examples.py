"""The examples in the engine's docstrings run and show what they say."""

from __future__ import annotations

import doctest
from importlib import import_module

import pytest


@pytest.mark.parametrize("name", ["intervals", "dates", "quarters"])
def test_examples_in_docstrings_hold(name: str) -> None:
    found = doctest.testmod(import_module(f"standfast.engine.{name}"))

    assert found.attempted > 0
    assert found.failed == 0
