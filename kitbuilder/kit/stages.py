"""How long a job's stages take: their own minutes, and those of the included stages put onto them that are due."""

from collections.abc import Sequence

import msgspec

from kitbuilder.catalogue.edition import Edition
from kitbuilder.model.catalogue import Box, JobType
from kitbuilder.vehicle.statements import Statement, settle
from kitbuilder.vehicle.values import both


class StageMinutes(msgspec.Struct, frozen=True):
    """A stage of a job: the least minutes in any open world (the gate's), and the most (the finish's)."""

    name: str
    least: int
    most: int


def stage_minutes(edition: Edition, job: str, statements: Sequence[Statement]) -> list[StageMinutes]:
    """The stages of a job in order. Raises as build_kit does."""
    worlds = settle(edition.space, edition.tables, statements).worlds
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
    found = []
    for name, due in parts.items():
        # looked at together: of includes that exclude each other every world takes just one
        masks = worlds.masks([box for box, _ in due])
        sums = [sum(minutes for bit, (_, minutes) in enumerate(due) if mask >> bit & 1) for mask in masks]
        found.append(StageMinutes(name, min(sums), max(sums)))
    return found
