"""A workshop for each test."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.night.shop import Shop


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    """A workshop with an empty shelf, a supplier that has nothing, and an empty diary."""
    made = Shop(tmp_path / "shop")
    yield made
    made.store.close()
