"""Tests that share something dear, as a browser or the demonstration, share a worker."""

from __future__ import annotations

import os

import pytest


@pytest.mark.xdist_group("demo")
@pytest.mark.skipif("PYTEST_XDIST_WORKER" not in os.environ, reason="there is one worker")
def test_tests_of_one_group_share_a_worker(request: pytest.FixtureRequest) -> None:
    assert request.node.nodeid.endswith("@demo")
