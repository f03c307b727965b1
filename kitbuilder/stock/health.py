"""How sources have answered lately: a small file for each, in the person's cache folder."""

import hashlib
import os
import re
import tempfile
from datetime import datetime
from pathlib import Path

import msgspec

from kitbuilder.settings import PluginSettings, Settings


class Health(msgspec.Struct, frozen=True):
    """How a source has answered up to now.

    `answered` is when it last did (by the clock that the question named), `as_of` of when that answer was; `took_ms`
    is how long the last question took, answered or not; `failures` how many failed in a row since; `rests_until` when
    a source that rests is asked again, by the machine's clock.
    """

    answered: datetime | None = None
    as_of: datetime | None = None
    took_ms: int | None = None
    failures: int = 0
    rests_until: datetime | None = None


def folder_of(cache: Path, settings: Settings, source: PluginSettings) -> Path:
    """The folder in which a source may keep things: no other source, and no other workshop, has the same."""
    whose = "\0".join((str(settings.folder.absolute()), source.name, source.plugin))
    plain = re.sub(r"[^A-Za-z0-9_-]", "-", source.name)[:40]
    return cache / "sources" / f"{plain}-{hashlib.sha256(whose.encode()).hexdigest()[:16]}"


def read_health(folder: Path | None) -> Health:
    """What is known of the source that a folder belongs to; nothing where none is kept or the file is damaged."""
    try:
        return msgspec.json.decode((folder / _FILE).read_bytes(), type=Health) if folder else Health()
    except (OSError, msgspec.DecodeError, UnicodeDecodeError):
        return Health()


def note_health(folder: Path | None, now: datetime, took_ms: int, as_of: datetime | None,
                rests_until: datetime | None) -> None:
    """Note that a source was asked: `as_of` None where it failed. What can't be written isn't noted."""
    if folder is None:
        return
    before = read_health(folder)
    if as_of is not None:
        health = Health(now, as_of, took_ms)
    else:
        # one that rests wasn't asked: that is no failure more
        failures = before.failures + (1 if rests_until is None else 0)
        health = Health(before.answered, before.as_of, took_ms, failures, rests_until)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        handle, beside = tempfile.mkstemp(dir=folder, prefix=".new-")
        with os.fdopen(handle, "wb") as new:
            new.write(msgspec.json.encode(health))
        os.replace(beside, folder / _FILE)
    except OSError:
        pass  # a full disk is no reason to go without an answer


_FILE = "health.json"
