"""Which files of a folder make a catalogue."""

import os
from pathlib import Path

from kitbuilder.errors import BadData

SINGLE = ("catalogue.toml", "facts.toml", "roles.toml", "requirements.toml", "cautions.toml", "items.csv",
          "supersession.csv", "exchange.csv", "hazards.csv", "waste.csv", "selling.csv", "vin.csv", "plates.csv")
NEEDED = ("catalogue.toml", "facts.toml", "roles.toml", "items.csv")
FOLDERS = {"jobs": ".toml", "combinations": ".csv", "fits": ".csv"}


def is_own(path: str) -> bool:
    """Whether a path within the folder, with forward slashes, is one of a catalogue's files."""
    inner, _, name = path.rpartition("/")
    if not inner:
        return path in SINGLE
    return inner in FOLDERS and name.endswith(FOLDERS[inner]) and not name.startswith(".")


def own_files(folder: Path) -> list[str]:
    """The files of a catalogue folder that are ours, as sorted paths with forward slashes.

    Raises BadData if the folder isn't there or can't be listed.
    """
    try:
        found = os.listdir(folder)
    except OSError as error:
        why = f"{error.strerror}. Name its folder with --catalogue."
        raise BadData(f"There is no catalogue in {folder}: {why}") from None
    for inner in FOLDERS:
        try:
            found += [f"{inner}/{name}" for name in os.listdir(folder / inner)]
        except (FileNotFoundError, NotADirectoryError):
            continue
        except OSError as error:
            raise BadData(f"{folder / inner} can't be read: {error.strerror}.") from None
    return sorted(filter(is_own, found))
