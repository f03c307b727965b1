"""What all tests share: nothing of the person who runs them gets in."""

import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import settings

from kitbuilder.demo.workshop import lay_out, supplier_of
from tests.databases import Server, server

_PERSONAL = ("NO_COLOR", "FORCE_COLOR", "COLUMNS", "LINES", "TERM", "TZ", "LANG", "LANGUAGE", "KITBUILDER_TRACE")

# The same examples on every machine: what passes here passes there. `fresh` draws others each time, and is how to look
# for more; `long` is for what .ci/run does besides the quick suite.
settings.register_profile("same", derandomize=True, max_examples=40, deadline=None)
settings.register_profile("fresh", deadline=None)
settings.register_profile("long", derandomize=True, max_examples=1000, deadline=None)
settings.load_profile("same")


def pytest_sessionfinish(session: pytest.Session) -> None:
    """Where KITBUILDER_NO_SKIPS is set (in .ci/run), a test that was skipped is a failure."""
    reporter = session.config.pluginmanager.get_plugin("terminalreporter")
    skipped = reporter.stats.get("skipped", []) if reporter else []
    if skipped and os.environ.get("KITBUILDER_NO_SKIPS"):
        reporter.write_line(f"{len(skipped)} skipped, which is a failure here", red=True)
        session.exitstatus = pytest.ExitCode.TESTS_FAILED


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


@pytest.fixture(scope="session")
def postgres() -> Server:
    """A PostgreSQL server of the tests' own."""
    return server()
