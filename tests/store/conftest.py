"""A fresh school for each test."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from tests.store.school import School, open_school


@pytest.fixture
def school(tmp_path: Path) -> Iterator[School]:
    opened = open_school(tmp_path)
    yield opened
    opened.book.close()


@pytest.fixture
def filled(school: School) -> School:
    school.fill()
    return school
