"""Has the job types of an edition looked at, by one process or by several; their order is the edition's either way."""

from collections.abc import Iterator
from pathlib import Path

from kitbuilder.catalogue.edition import Edition, open_again
from kitbuilder.proof.job import JobFound, Walk

#: So many job types go to a process at once: what they include is then often known there already.
_AT_ONCE = 32

_walk: Walk | None = None


def look_at_all(edition: Edition, processes: int) -> Iterator[JobFound]:
    """What is found in each job type, in order."""
    jobs = [name for name, _, _ in edition.heading.jobs]
    parts = [jobs[start:start + _AT_ONCE] for start in range(0, len(jobs), _AT_ONCE)]
    if processes < 2 or len(parts) < 2:
        walk = Walk(edition)
        yield from map(walk.look_at, jobs)
        return
    from concurrent.futures import ProcessPoolExecutor
    from multiprocessing import get_context

    # new processes, not copies: a copy would share the edition's connection, which SQLite forbids
    with ProcessPoolExecutor(min(processes, len(parts)), get_context("spawn"), _begin, (edition.handle,)) as pool:
        for found in pool.map(_look_at, parts):
            yield from found


def _begin(handle: tuple[str, Path | bytes]) -> None:
    global _walk
    _walk = Walk(open_again(handle))


def _look_at(jobs: list[str]) -> list[JobFound]:
    assert _walk is not None
    return [_walk.look_at(job) for job in jobs]
