"""Which files of a folder make a catalogue."""

import os
from pathlib import Path

from kitbuilder.errors import BadData

SINGLE = ("catalogue.toml", "facts.toml", "roles.toml", "requirements.toml", "cautions.toml", "items.csv")
NEEDED = ("catalogue.toml", "facts.toml", "roles.toml", "items.csv")
FOLDERS = {"jobs": ".toml", "combinations": ".csv", "fits": ".csv"}


def own_files(folder: Path) -> list[str]:
    """The files of a catalogue folder that are ours, as sorted paths with forward slashes.

    Raises BadData if the folder isn't there.
    """
    try:
        names = set(os.listdir(folder))
    except OSError as error:
        raise BadData(f"There is no catalogue in {folder}: {error.strerror}. Name its folder with --catalogue.") from None
    found = [name for name in SINGLE if name in names]
    for inner, ending in FOLDERS.items():
        if inner in names and (folder / inner).is_dir():
            found += [
                f"{inner}/{name}" for name in os.listdir(folder / inner)
                if name.endswith(ending) and not name.startswith(".")
            ]
    return sorted(found)
