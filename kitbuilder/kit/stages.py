"""How long a job's stages take: their own minutes, and those of the included stages put onto them that are due."""

from collections.abc import Sequence

import msgspec

from kitbuilder.catalogue.edition import Edition
from kitbuilder.model.catalogue import Box, JobType
from kitbuilder.vehicle.statements import Statement, settle
from kitbuilder.vehicle.values import both


class StageMinutes(msgspec.Struct, frozen=True):
    """A stage of a job: the least minutes in any open world (the gate's), and the most (the finish's).

    `cure_least` and `cure_most`: what waiting for sealant to cure adds to them once the stage's work is done, so that
    `least + cure_least` is the least of work and waiting together in any world, `most + cure_most` the most.
    """

    name: str
    least: int
    most: int
    cure_least: int = 0
    cure_most: int = 0


def stage_minutes(edition: Edition, job: str, statements: Sequence[Statement]) -> list[StageMinutes]:
    """The stages of a job in order. Raises as build_kit does."""
    worlds = settle(edition.space, edition.tables, statements).worlds
    waiting = {}
    if "cure" in edition.more:
        from kitbuilder.kit.cure import Cures

        waiting = Cures(edition, job).by_stage(worlds, stage_parts(edition, job))
    found = []
    for name, parts in stage_parts(edition, job).items():
        # looked at together: of includes that exclude each other every world takes just one
        masks = worlds.masks([box for box, _ in parts])
        sums = [sum(minutes for bit, (_, minutes) in enumerate(parts) if mask >> bit & 1) for mask in masks]
        least, most = waiting.get(name, (min(sums), max(sums)))
        found.append(StageMinutes(name, min(sums), max(sums), least - min(sums), most - max(sums)))
    return found


def stage_parts(edition: Edition, job: str) -> dict[str, list[tuple[Box, int]]]:
    """Of each stage of a job, in order: its own minutes and those of the stages put onto it, each with the worlds in
    which it is due. Raises WrongUse if there is no such job type."""
    top = edition.job(job).job
    parts: dict[str, list[tuple[Box, int]]] = {stage.name: [] for stage in top.stages}

    def walk(inner: JobType, stages: dict[str, str], box: Box) -> None:
        for stage in inner.stages:
            parts[stages[stage.name]].append((box, stage.minutes))
        for include in inner.includes:
            narrowed = dict(box)
            for fact, values in include.box.items():
                narrowed[fact] = both(narrowed[fact], values) if fact in narrowed else values
            walk(edition.job(include.job).job, {name: stages[onto] for name, onto in include.stages.items()}, narrowed)

    walk(top, {stage.name: stage.name for stage in top.stages}, {})
    return parts
