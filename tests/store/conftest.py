"""A store of its own for each test."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from kitbuilder.store.database import Store, open_store


@pytest.fixture
def file(tmp_path: Path) -> Path:
    return tmp_path / "workshop.db"


@pytest.fixture
def store(file: Path) -> Iterator[Store]:
    opened = open_store(file, synchronous="NORMAL")
    yield opened
    opened.close()
