"""How long a job's stages take: their own minutes, and those of the included stages put onto them that are due."""

from collections.abc import Sequence

import msgspec

from kitbuilder.catalogue.edition import Edition
from kitbuilder.model.catalogue import Box, JobType
from kitbuilder.vehicle.statements import Statement, settle
from kitbuilder.vehicle.values import both


class StageMinutes(msgspec.Struct, frozen=True):
    """A stage of a job: the least minutes over the open worlds (the gate's), and the most (the finish's)."""

    name: str
    least: int
    most: int


def stage_minutes(edition: Edition, job: str, statements: Sequence[Statement]) -> list[StageMinutes]:
    """The stages of a job in order. Raises as build_kit does.

    Of several includes whose conditions exclude each other the least counts those due in every world, the most all
    that are due in some: it may be more than any one world takes, never less.
    """
    worlds = settle(edition.space, edition.tables, statements).worlds
    top = edition.job(job).job
    least = {stage.name: 0 for stage in top.stages}
    most = dict(least)

    def walk(inner: JobType, stages: dict[str, str], box: Box) -> None:
        masks = worlds.masks([box])
        for stage in inner.stages:
            if masks == {1}:
                least[stages[stage.name]] += stage.minutes
            if 1 in masks:
                most[stages[stage.name]] += stage.minutes
        for include in inner.includes:
            narrowed = dict(box)
            for fact, values in include.box.items():
                narrowed[fact] = both(narrowed[fact], values) if fact in narrowed else values
            walk(edition.job(include.job).job, {name: stages[onto] for name, onto in include.stages.items()}, narrowed)

    walk(top, {stage.name: stage.name for stage in top.stages}, {})
    return [StageMinutes(stage.name, least[stage.name], most[stage.name]) for stage in top.stages]
