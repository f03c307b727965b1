"""Strangers' distributions, as pip leaves them: a dist-info folder with entry points, beside the modules."""

import os
import subprocess
import sys
import threading
from collections.abc import Mapping
from importlib.metadata import EntryPoint, distributions
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
#: What a plug-in of a test that hangs waits for; a test that uses it sets it in the end, so that no thread is left.
HOLD = threading.Event()

GOOD = """
from kitbuilder import SourceKind, hookimpl

@hookimpl
def stock_sources():
    return [SourceKind("{kind}", "an invented one", lambda context: None)]
"""


def install(
    folder: Path, module: str, source: str, *, version: str = "1.2.3", point: str = "", value: str = "",
) -> None:
    """Put a distribution with one module and one entry point into a folder."""
    (folder / f"{module}.py").write_text(source, "utf-8")
    info = folder / f"{module}-{version}.dist-info"
    info.mkdir()
    name = module.replace("_", "-")
    (info / "METADATA").write_text(f"Metadata-Version: 2.1\nName: {name}\nVersion: {version}\n", "utf-8")
    (info / "entry_points.txt").write_text(f"[kitbuilder]\n{point or name} = {value or module}\n", "utf-8")


def points(folder: Path) -> list[EntryPoint]:
    """The entry points of the distributions in a folder, by name."""
    found = [one for dist in distributions(path=[str(folder)]) for one in dist.entry_points]
    return sorted(found, key=lambda one: one.name)


def kitbuilder(
    folder: Path, *words: str, path: Path | None = None, more: Mapping[str, str] | None = None,
) -> "subprocess.CompletedProcess[str]":
    """Run the command line as a process of its own in a folder, apart from the person's home and caches."""
    home = folder / ".home"
    kept = {name: os.environ[name] for name in ("PATH", "SYSTEMROOT", "LD_LIBRARY_PATH") if name in os.environ}
    search = [str(one) for one in (path, ROOT, ROOT / "plugins") if one is not None]
    environment = {
        **kept, "HOME": str(home), "XDG_CACHE_HOME": str(home / "cache"), "PYTHONPATH": os.pathsep.join(search),
        "PYTHONIOENCODING": "utf-8", "COLUMNS": "80", **(more or {})}
    return subprocess.run(
        [sys.executable, "-m", "kitbuilder.cli", *words], cwd=folder, env=environment, stdin=subprocess.DEVNULL,
        capture_output=True, text=True, encoding="utf-8", timeout=60, check=False)
