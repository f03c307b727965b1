"""A store of its own for each test, on each of the databases."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from kitbuilder.store.database import Store, open_store
from tests.databases import KINDS, Address, laid


@pytest.fixture(params=KINDS)
def file(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Address]:
    """Where a fresh store is: a file, or the URL of a database."""
    if request.param == "sqlite":
        yield laid(tmp_path / "workshop.db")
        return
    server = request.getfixturevalue("postgres")
    address = server.fresh()
    yield address
    server.drop(address)


@pytest.fixture
def store(file: Address) -> Iterator[Store]:
    opened = open_store(file, synchronous="NORMAL")
    yield opened
    opened.close()
