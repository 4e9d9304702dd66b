"""What holds for every test: the same examples on every run, and no clock on one example.

And a PostgreSQL server of our own, for whoever asks for one.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

import pytest
from hypothesis import settings
from tests import schools

if TYPE_CHECKING:
    from tests.store.cluster import Cluster

# A busy machine is no finding, and a test that fails must fail again for the next person.
settings.register_profile("standfast", deadline=None, derandomize=True, database=None)
settings.load_profile("standfast")

MUST = "STANDFAST_POSTGRES"
"""In the environment, with `must`: a machine without PostgreSQL fails instead of leaving it out."""


@contextmanager
def or_left_out() -> Iterator[None]:
    """Leaves a test out where PostgreSQL cannot be started, unless it must be there."""
    from tests.store.cluster import NoPostgres

    try:
        yield
    except NoPostgres as error:
        if os.environ.get(MUST) == "must":
            raise
        pytest.skip(str(error))


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """With every book in PostgreSQL, what is about the file is left out."""
    if not schools.IN_POSTGRES:
        return
    for item in items:
        about = item.get_closest_marker("of_the_file")
        if about is not None and "kept_in" not in getattr(item, "fixturenames", ()):
            why = about.kwargs.get("why", "it is about SQLite's file")
            item.add_marker(pytest.mark.skip(reason=why))


@pytest.fixture(scope="session", autouse=schools.IN_POSTGRES)
def books_on_a_server(cluster: Cluster) -> None:
    """Lets copied schools have their books in PostgreSQL."""
    schools.DATABASES.cluster = cluster


@pytest.fixture(autouse=schools.IN_POSTGRES)
def databases_go(cluster: Cluster) -> Iterator[None]:
    """Takes a test's databases away after it: each is 8 MiB."""
    before = len(cluster.made)
    yield
    cluster.drop(cluster.made[before:])
    del cluster.made[before:]


@pytest.fixture(scope="session")
def cluster() -> Iterator[Cluster]:
    """A running server with our roles; one for each worker that needs it."""
    from tests.store.cluster import running

    with or_left_out(), running() as found:
        yield found
