"""The parts that an edition is kept in, each by its own key; a change here needs another FORMAT."""

import msgspec

from kitbuilder.model.catalogue import Fit, JobType, Requirement, Role
from kitbuilder.vehicle.facts import Fact
from kitbuilder.vehicle.tables import Joint, Table

#: What an edition's file holds is read by this number alone.
FORMAT = 4


class HeadingPart(msgspec.Struct, frozen=True):
    """The catalogue's name and currency, and how much it holds."""

    name: str
    currency: str
    counts: dict[str, int]


class FactsPart(msgspec.Struct, frozen=True):
    """Everything about facts."""

    facts: tuple[Fact, ...]
    joints: tuple[Joint, ...]
    tables: tuple[Table, ...]


class JobPart(msgspec.Struct, frozen=True):
    """A job type and the fits of its own."""

    job: JobType
    fits: tuple[Fit, ...]


class RolePart(msgspec.Struct, frozen=True):
    """A role and the fits that belong to every job that lists it."""

    role: Role
    fits: tuple[Fit, ...]


class RequirementPart(msgspec.Struct, frozen=True):
    """A requirement, and for each quantity the items that satisfy it, in order."""

    requirement: Requirement
    acceptable: dict[str, tuple[str, ...]]
