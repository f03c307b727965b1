"""Lays out the demo workshop: an invented catalogue, fleet and stock, with a clock that stands still."""

import shutil
from importlib import resources
from pathlib import Path

from kitbuilder.errors import WrongUse
from kitbuilder.settings import DEMO_MARK, FILE

#: Files of the demo catalogue that belong to the workshop around it.
BESIDE = ("fleet.csv", "prices-counter.csv", "prices-supplier.csv")
CATALOGUE = "catalogue"
FAULTY = "catalogue-with-a-fault"
#: The row that is taken out of the faulty catalogue: file, and what it says.
FAULT = ("fits/exhaust.csv", ",exhaust-clamp,EX-71130,")

SETTINGS = """\
# An invented workshop. Its clock stands still, so that the story is the same every day.
catalogue = "catalogue"
now = 2026-03-10T15:00:00+00:00

[sources.counter]
plugin = "price-file"
file = "prices-counter.csv"

[sources.supplier]
plugin = "price-file"
file = "prices-supplier.csv"
supplier = true

[registers.fleet]
plugin = "fleet-file"
file = "fleet.csv"
"""


def demo_catalogue() -> Path:
    """The folder of the demo catalogue: inside the installed package, or at the top of a checkout."""
    package = Path(str(resources.files("kitbuilder")))
    for folder in (package / "_demo_catalog", package.parent / "demo_catalog"):
        if folder.is_dir():
            return folder
    raise WrongUse("The demo catalogue is not installed; install kitbuilder again.")


def lay_out(folder: Path) -> None:
    """Make a demo workshop in a folder, or put an earlier one back as it was; other files there are left alone.

    Raises WrongUse if the folder isn't empty and isn't a demo's.
    """
    if folder.exists() and not folder.is_dir():
        raise WrongUse(f"{folder} is a file. Name a new or empty folder for the demo.")
    if folder.is_dir() and any(folder.iterdir()) and not (folder / DEMO_MARK).exists():
        raise WrongUse(f"{folder} is not empty and not a demo's. Name a new or empty folder for the demo.")
    source = demo_catalogue()
    folder.mkdir(parents=True, exist_ok=True)
    (folder / DEMO_MARK).write_text("kitbuilder demo made this folder and may lay it out anew.\n", "utf-8")
    for name in (CATALOGUE, FAULTY):
        shutil.rmtree(folder / name, ignore_errors=True)
        shutil.copytree(source, folder / name, ignore=shutil.ignore_patterns(*BESIDE))
    for name in BESIDE:
        shutil.copyfile(source / name, folder / name)
    _take_out(folder / FAULTY / FAULT[0], FAULT[1])
    (folder / FILE).write_text(SETTINGS, "utf-8")


def _take_out(file: Path, begins: str) -> None:
    lines = file.read_text("utf-8").splitlines(keepends=True)
    kept = [line for line in lines if not line.startswith(begins)]
    assert len(kept) == len(lines) - 1, f"one row of {file.name} begins {begins!r}"
    file.write_text("".join(kept), "utf-8")
