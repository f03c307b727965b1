"""A process that does a night in a folder and kills itself on the way, as a power cut would.

    python -m tests.night.driver FOLDER POINT

POINT: `after STEP` (its transaction is committed), `before STEP` (all of the step is done, and its transaction isn't
committed yet), `paper N` (the N-th paper is written beside its place, and not yet renamed), or `none`.
"""

import os
import signal
import sys
from datetime import date
from pathlib import Path
from typing import Any

from kitbuilder.calendar.reading import read_sites
from kitbuilder.catalogue.cache import open_edition
from kitbuilder.night import documents
from kitbuilder.night.run import run_night
from kitbuilder.night.surroundings import Surroundings
from kitbuilder.plugins import load_plugins
from kitbuilder.settings import FILE, read_settings
from kitbuilder.store import runs
from kitbuilder.store.database import open_store


def die() -> None:
    """End at once: nothing is flushed, closed or rolled back by us."""
    os.kill(os.getpid(), signal.SIGKILL)


def main(folder: Path, point: str) -> None:
    """Do the night of the tests' day."""
    what, _, which = point.partition(" ")

    def after(step: str) -> None:
        if what == "after" and step == which:
            die()

    noted = runs.step_done

    def note(session: Any, run: int, name: str, *rest: Any) -> None:
        noted(session, run, name, *rest)
        session.flush()
        if what == "before" and name == which:
            die()

    left = [int(which) if what == "paper" else 0]
    renamed = os.replace

    def rename(source: Any, target: Any) -> None:
        left[0] -= 1
        if left[0] == 0:
            die()
        renamed(source, target)

    runs.step_done = note
    documents.os.replace = rename  # type: ignore[attr-defined]
    settings = read_settings(folder / FILE)
    sites = read_sites(FILE, settings.sites)
    store = open_store(folder / "workshop.db")
    assert settings.now is not None
    around = Surroundings(
        settings, load_plugins(), open_edition(folder / "catalogue", folder / ".cache"), store, sites["marl"],
        folder / "documents", settings.now, tuple(sites), after)
    run_night(around, date(2026, 3, 11))
    store.close()


if __name__ == "__main__":
    main(Path(sys.argv[1]), sys.argv[2])
