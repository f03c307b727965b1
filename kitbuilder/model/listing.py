"""The smaller answers that commands give as JSON: what a catalogue, the settings and the plug-ins hold."""

from typing import Literal

import msgspec


class JobListed(msgspec.Struct, frozen=True):
    """A job type; `goal` is "" where it names none."""

    name: str
    title: str
    goal: str


class FactListed(msgspec.Struct, frozen=True):
    """A fact with its domain and groups as cells."""

    name: str
    of: str
    values: tuple[str, ...]
    groups: dict[str, tuple[str, ...]]
    question: str
    where: str


class JobsListed(msgspec.Struct, frozen=True):
    """`kitbuilder jobs --json`."""

    format: Literal["kitbuilder.jobs/1"]
    warnings: tuple[str, ...]
    catalogue: str
    edition: str
    jobs: tuple[JobListed, ...]
    facts: tuple[FactListed, ...]


class Compiled(msgspec.Struct, frozen=True):
    """`kitbuilder catalogue compile --json`; `path` is null where the edition could only be built in memory."""

    format: Literal["kitbuilder.edition/1"]
    warnings: tuple[str, ...]
    catalogue: str
    currency: str
    edition: str
    path: str | None
    size: int | None
    holds: dict[str, int]


class SourceListed(msgspec.Struct, frozen=True):
    """A stock source of the settings and how it answers now, in how many milliseconds; `kept` says why its answer is
    the last good one and not a new one. `answered` is when it last did answer, so many seconds ago, `as_of` of when
    that answer was (ISO 8601; null if never); `failures` is how many questions in a row failed
    since, this one included; `rests_until` when a source is asked again that isn't for a while. Of the last times that
    it was asked (`lately`, 20 at most), `failed_lately` failed, and the slowest took `slowest_ms`."""

    source: str
    plugin: str
    does: tuple[str, ...]
    state: Literal["fresh", "stale", "failed"]
    age_s: int | None
    error: str | None
    kept: str
    took_ms: int | None
    answered: str | None
    answered_ago_s: int | None
    as_of: str | None
    failures: int
    rests_until: str | None
    lately: int
    failed_lately: int
    slowest_ms: int | None


class SourcesListed(msgspec.Struct, frozen=True):
    """`kitbuilder sources --json`."""

    format: Literal["kitbuilder.sources/1"]
    warnings: tuple[str, ...]
    sources: tuple[SourceListed, ...]


class PluginListed(msgspec.Struct, frozen=True):
    """An installed plug-in; `error` is null where it loaded."""

    name: str
    distribution: str
    version: str
    brings: tuple[str, ...]
    error: str | None


class PluginsListed(msgspec.Struct, frozen=True):
    """`kitbuilder plugins --json`."""

    format: Literal["kitbuilder.plugins/1"]
    warnings: tuple[str, ...]
    plugins: tuple[PluginListed, ...]
