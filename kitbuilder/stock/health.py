"""How sources have answered lately: a small file for each, in the person's cache folder."""

import hashlib
import os
import re
import tempfile
from datetime import UTC, datetime
from pathlib import Path

import msgspec

from kitbuilder.settings import PluginSettings, Settings

#: A failure that took as long as this holds up everybody who asks. After so many in a row the source isn't asked for so
#: many seconds; each further one doubles them, up to a limit. One that fails at once may be asked at any time.
SLOW_MS = 1000
ENOUGH = 3
FIRST_REST_S = 60.0
LONGEST_REST_S = 900.0
#: So many of the last times that a source was asked are remembered.
LATELY = 20


class Health(msgspec.Struct, frozen=True):
    """How a source has answered up to now.

    `answered` is when it last did (by the clock that the question named), `as_of` of when that answer was; `took_ms`
    is how long the last question took, answered or not; `failures` how many failed in a row since; `rests_until` when
    a source that rests is asked again, by the machine's clock. `slow` is how many of the failures were slow ones in a
    row, `why` the words of the last. `lately` are the last times that it was asked, the newest last.
    """

    answered: datetime | None = None
    as_of: datetime | None = None
    took_ms: int | None = None
    failures: int = 0
    rests_until: datetime | None = None
    slow: int = 0
    why: str = ""
    lately: tuple["Once", ...] = ()


class Once(msgspec.Struct, frozen=True, array_like=True):
    """One time that a source was asked: how long it took, whether it failed."""

    took_ms: int
    failed: bool


class Asked(msgspec.Struct, frozen=True):
    """That a source was asked: when by the clock that the question named, how long it took; of when its answer was
    (None: it failed), in which words it failed, and until when it rests, if it said so."""

    at: datetime
    took_ms: int
    as_of: datetime | None = None
    why: str = ""
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


def note_health(folder: Path | None, before: Health, asked: Asked, machine: float) -> None:
    """Note how a source was asked, by what was known of it `before`; `machine` is the machine's clock, in seconds. What
    can't be written isn't noted."""
    if folder is None:
        return
    lately = (*before.lately, Once(asked.took_ms, asked.as_of is None))[-LATELY:]
    if asked.as_of is not None:
        health = Health(asked.at, asked.as_of, asked.took_ms, lately=lately)
    elif asked.rests_until is not None:
        # it wasn't asked: that is no failure more
        health = Health(before.answered, before.as_of, asked.took_ms, before.failures, asked.rests_until,
                        lately=before.lately)
    else:
        slow = before.slow + 1 if asked.took_ms >= SLOW_MS else 0
        rest_s = min(FIRST_REST_S * 2.0 ** min(slow - ENOUGH, 10), LONGEST_REST_S)
        until = datetime.fromtimestamp(machine + rest_s, UTC).replace(microsecond=0) if slow >= ENOUGH else None
        health = Health(before.answered, before.as_of, asked.took_ms, before.failures + 1, until, slow, asked.why,
                        lately)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        handle, beside = tempfile.mkstemp(dir=folder, prefix=".new-")
        with os.fdopen(handle, "wb") as new:
            new.write(msgspec.json.encode(health))
        os.replace(beside, folder / _FILE)
    except OSError:
        pass  # a full disk is no reason to go without an answer


def told_to_rest(health: Health, machine: float) -> str:
    """Why a source isn't asked yet, by the machine's clock in seconds; "" where it is to be asked."""
    if health.rests_until is None or health.slow < ENOUGH:
        return ""  # a source that rests by itself says so when it is asked
    # beyond the longest rest: the machine's clock was set back
    if not machine < health.rests_until.timestamp() <= machine + LONGEST_REST_S:
        return ""
    return (f"it isn't asked before {health.rests_until:%H:%M:%S} UTC, because it was slow and failed {health.slow} "
            f"times in a row, at last so: {health.why}")


_FILE = "health.json"
