"""What all tests share: nothing of the person who runs them gets in."""

import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from kitbuilder.demo.workshop import lay_out, supplier_of

_PERSONAL = ("NO_COLOR", "FORCE_COLOR", "COLUMNS", "LINES", "TERM", "TZ", "LANG", "LANGUAGE", "KITBUILDER_TRACE")


@pytest.fixture(scope="session", autouse=True)
def _own_home(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Home, cache, configuration, colours and width are the tests' own, here and in what they start."""
    home = tmp_path_factory.mktemp("home")
    with pytest.MonkeyPatch.context() as patch:
        for name in list(os.environ):
            if name in _PERSONAL or name.startswith(("LC_", "XDG_")):
                patch.delenv(name)
        patch.setenv("HOME", str(home))
        patch.setenv("XDG_CACHE_HOME", str(home / "cache"))
        patch.setenv("LANG", "C.UTF-8")
        patch.setenv("TERM", "dumb")
        yield


@pytest.fixture(scope="session")
def workshop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """A demo workshop, laid out once, with its wholesaler running; nobody changes it. Its edition is compiled: what
    runs first is no slower."""
    folder = tmp_path_factory.mktemp("demo") / "workshop"
    lay_out(folder)
    subprocess.run([sys.executable, "-m", "kitbuilder.cli", "jobs"], cwd=folder, capture_output=True, check=True)
    with supplier_of(folder):
        yield folder
