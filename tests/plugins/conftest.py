import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.plugins.installed import HOLD


@pytest.fixture
def site(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """An empty folder of installed distributions; its modules are forgotten afterwards."""
    folder = tmp_path / "site"
    folder.mkdir()
    monkeypatch.syspath_prepend(str(folder))
    HOLD.clear()
    yield folder
    HOLD.set()
    for name, module in list(sys.modules.items()):
        if str(getattr(module, "__file__", None) or "").startswith(str(folder)):
            del sys.modules[name]
