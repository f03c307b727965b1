"""A process that does nights of one site: `python -m tests.night.site_driver FOLDER SITE ROUNDS`.

It does the N-th when the file `go N` is in the folder, and writes `done N`, or what was wrong.
"""

import sys
import time
from datetime import date
from pathlib import Path

from kitbuilder.calendar.reading import read_sites
from kitbuilder.catalogue.cache import open_edition
from kitbuilder.errors import KitbuilderError
from kitbuilder.night.run import run_night
from kitbuilder.night.surroundings import Surroundings
from kitbuilder.plugins import load_plugins
from kitbuilder.settings import FILE, read_settings
from kitbuilder.store.database import open_store


def main(folder: Path, site: str, rounds: int) -> None:
    """All its nights."""
    settings = read_settings(folder / FILE)
    sites = read_sites(FILE, settings.sites)
    assert settings.store is not None
    assert settings.now is not None
    store = open_store(settings.store)
    edition, plugins = open_edition(folder / "catalogue", folder / ".cache"), load_plugins()
    for number in range(rounds):
        while not (folder / f"go {number}").exists():
            time.sleep(0.002)
        try:
            run_night(Surroundings(settings, plugins, edition, store, sites[site], folder / "documents", settings.now,
                                   tuple(sites)), date(2026, 3, 11))
            said = ""
        except KitbuilderError as error:
            said = str(error)
        (folder / "beside").write_text(said, "utf-8")
        (folder / "beside").rename(folder / f"done {number}")
    store.close()


if __name__ == "__main__":
    main(Path(sys.argv[1]), sys.argv[2], int(sys.argv[3]))
