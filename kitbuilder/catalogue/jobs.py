"""Reads jobs/*.toml: job types with their stages, roles and the job types inside them."""

from collections.abc import Mapping, Sequence

from kitbuilder.catalogue.cells import CellReader
from kitbuilder.catalogue.circles import circles
from kitbuilder.catalogue.faults import Faults
from kitbuilder.catalogue.toml import Keys
from kitbuilder.model.catalogue import Box, Caution, Condition, Include, JobType, Role, Stage

_STAGE = '{ name = "…", minutes = 30 }'
_INCLUDE = '{ job = "…", stages = { … }, when = { … } }'
#: More minutes than a vehicle's life; a number of thousands of digits couldn't be kept.
_MOST_MINUTES = 10**9


def read_jobs(files: Sequence[Keys], roles: Mapping[str, Role], cautions: Mapping[str, Caution], cells: CellReader,
              faults: Faults) -> dict[str, JobType]:
    """The job types by name: files by name, then as written. Includes are checked once all jobs are known.

    In `faults.broken`, "stages" and "roles" of a job say that not all of these could be read.
    """
    found: dict[str, JobType] = {}
    keys_of: dict[str, Keys] = {}
    for keys in files:
        keys.only("jobs")
        for one in keys.tables("jobs", "job"):
            if one.name in found:
                first = keys_of[one.name]
                one.fault((), one.name, f"each job type once ({first.file}, line {first.line()} has it)")
                faults.broken |= {("stages", one.name), ("roles", one.name)}
            else:
                found[one.name] = _read_job(one, roles, cautions, cells)
                keys_of[one.name] = one
    for name, job in found.items():
        _check_includes(keys_of[name], job, found)
    for circle in circles({name: [include.job for include in job.includes] for name, job in found.items()}):
        keys_of[circle[0]].fault("includes", ", ".join(include.job for include in found[circle[0]].includes),
                                 f"job types that aren't inside themselves, as these are: {', '.join(circle)}")
    return found


def _read_job(keys: Keys, roles: Mapping[str, Role], cautions: Mapping[str, Caution], cells: CellReader) -> JobType:
    keys.only("title", "goal", "cautions", "stages", "roles", "includes")
    stages = _stages(keys)
    listed = _roles(keys, roles, [stage.name for stage in stages])
    told = keys.names("cautions")
    for place, caution in enumerate(told):
        if caution not in cautions:
            keys.unknown(("cautions", place), "caution", caution, list(cautions))
    includes = tuple(_include(one, cells) for one in keys.elements("includes", _INCLUDE))
    return JobType(keys.name, keys.text("title"), keys.file, tuple(stages), listed, keys.text("goal", ""), told,
                   includes)


def _stages(keys: Keys) -> list[Stage]:
    before = len(keys.faults.found)
    found: list[Stage] = []
    for one in keys.elements("stages", _STAGE):
        one.only("name", "minutes")
        name, minutes = one.text("name"), one.raw("minutes")
        if isinstance(minutes, bool) or not isinstance(minutes, int) or not 0 <= minutes <= _MOST_MINUTES:
            if not one.excused("minutes"):
                one.fault("minutes", minutes, "whole minutes, 0 or more")
            minutes = 0
        if any(stage.name == name for stage in found):
            one.fault("name", name, "each stage once")
        elif name:
            found.append(Stage(name, minutes))
    if not found and len(keys.faults.found) == before and not keys.excused("stages"):
        keys.fault("stages", keys.raw("stages"), f"at least one stage, as {_STAGE}")
    if len(keys.faults.found) > before or keys.lost("stages"):
        keys.faults.broken.add(("stages", keys.name))
    return found


def _roles(keys: Keys, roles: Mapping[str, Role], stages: Sequence[str]) -> dict[str, str]:
    before = len(keys.faults.found)
    listed = keys.texts("roles")
    for role in listed:
        if role not in roles:
            keys.unknown(("roles", role), "role", role, list(roles))
    if len(keys.faults.found) > before or keys.lost("roles"):
        keys.faults.broken.add(("roles", keys.name))
    for role, stage in listed.items():
        if stage not in stages:
            _unknown_stage(keys, ("roles", role), keys.name, stage, stages)
    return listed


def _unknown_stage(keys: Keys, where: tuple[str | int, ...], job: str, stage: str, known: Sequence[str]) -> None:
    if ("stages", job) not in keys.faults.broken:
        keys.unknown(where, f"stage of {job}", stage, known)


def _include(keys: Keys, cells: CellReader) -> Include:
    keys.only("job", "stages", "when")
    facts = keys.texts("when")
    told = {}
    box: Box = {}
    for fact, cell in facts.items():
        if fact in cells.numbers:
            told[fact] = cell
            box |= cells.box(keys.file, keys.line("when", fact), {fact: cell}, keys.column("when", fact))
        else:
            keys.unknown(("when", fact), "fact", fact, list(cells.numbers))
    conditions = tuple(Condition(fact, cell) for fact, cell in told.items())
    return Include(keys.text("job"), keys.texts("stages"), box, keys.line(), conditions)


def _check_includes(keys: Keys, job: JobType, jobs: Mapping[str, JobType]) -> None:
    """Check what the includes of a job name, now that all jobs are known."""
    outer = [stage.name for stage in job.stages]
    for number, include in enumerate(job.includes):
        if include.job not in jobs:
            if include.job:
                keys.unknown(("includes", number, "job"), "job", include.job, list(jobs))
            continue
        inner = [stage.name for stage in jobs[include.job].stages]
        wrong = [name for name in include.stages if name not in inner]
        for name in wrong:
            _unknown_stage(keys, ("includes", number, "stages", name), include.job, name, inner)
        for name, onto in include.stages.items():
            if onto not in outer:
                _unknown_stage(keys, ("includes", number, "stages", name), job.name, onto, outer)
        absent = [name for name in inner if name not in include.stages]
        # A stage that is only mistyped is told above.
        if absent and not wrong and ("stages", include.job) not in keys.faults.broken:
            keys.fault(("includes", number, "stages"), "",
                       f"a stage of {job.name} for each stage of {include.job}, also for {', '.join(absent)}")
