"""A fresh school for each test, its book in a file and again in PostgreSQL."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from pathlib import Path

import pytest
from tests.store.cluster import KEEPER, Cluster
from tests.store.school import School, open_school


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    """Every test with a school runs in both, but for those about SQLite's file."""
    if "kept_in" in metafunc.fixturenames:
        of_the_file = metafunc.definition.get_closest_marker("of_the_file")
        both = ["sqlite"] if of_the_file else ["sqlite", "postgresql"]
        metafunc.parametrize("kept_in", both)


@pytest.fixture
def school(kept_in: str, tmp_path: Path, request: pytest.FixtureRequest) -> Iterator[School]:
    if kept_in == "sqlite":
        opened = open_school(tmp_path)
    else:
        cluster: Cluster = request.getfixturevalue("cluster")
        database = cluster.new_database("founded")
        opened = open_school(cluster.address(KEEPER, database))
        opened.server = partial(cluster.connect, "super", database, "barn")
    yield opened
    opened.book.close()


@pytest.fixture
def filled(school: School) -> School:
    school.fill()
    return school
