"""What jobs/*.toml say: job types with their stages, roles and the job types inside them."""

from collections.abc import Mapping
from typing import Any

from kitbuilder.catalogue.faults import Faults
from kitbuilder.catalogue.sheets import CellReader
from kitbuilder.catalogue.toml import Keys
from kitbuilder.errors import one_of
from kitbuilder.model.catalogue import Caution, Condition, Include, JobType, Role, Stage


def read_jobs(files: list[Keys], roles: Mapping[str, Role], cautions: Mapping[str, Caution], cells: CellReader,
              faults: Faults) -> dict[str, JobType]:
    """The job types by name: files by name, then as written. Includes are checked once all jobs are known."""
    found: dict[str, JobType] = {}
    keys_of: dict[str, Keys] = {}
    for keys in files:
        keys.only({"jobs"})
        for one in keys.tables("jobs"):
            if one.name in found:
                one.fault("", one.name, f"each job type once ({found[one.name].file} has it)")
                continue
            before = len(faults.found)
            found[one.name] = _read_job(one, roles, cautions, cells)
            keys_of[one.name] = one
            if len(faults.found) > before:
                faults.broken.add(("job", one.name))
    for name, job in found.items():
        for number, include in enumerate(job.includes):
            _check_include(keys_of[name], number, include, job, found, faults)
    for name in found:
        if _comes_back(name, found):
            keys_of[name].fault("includes", name, "job types that don't include each other in a circle")
    return found


def _read_job(keys: Keys, roles: Mapping[str, Role], cautions: Mapping[str, Caution], cells: CellReader) -> JobType:
    keys.only({"title", "goal", "cautions", "stages", "roles", "includes"})
    stages = _stages(keys)
    listed = keys.texts("roles")
    names = [stage.name for stage in stages]
    for role, stage in listed.items():
        line = keys.line(role) if keys.line(role) > keys.line("roles") else keys.line("roles")
        column = f"jobs.{keys.name}.roles"
        if role not in roles:
            keys.faults.unknown(keys.file, line, column, "role", role, list(roles))
        if stage not in names:
            keys.faults.add(keys.file, line, f"{column}.{role}", stage, f"a stage of this job: {one_of(stage, names)}")
    told = keys.names("cautions")
    for caution in told:
        if caution not in cautions:
            keys.faults.unknown(keys.file, keys.line("cautions"), f"jobs.{keys.name}.cautions", "caution", caution,
                                list(cautions))
    return JobType(keys.name, keys.text("title"), keys.file, tuple(stages), listed, keys.text("goal", ""), told,
                   tuple(_includes(keys, cells)))


def _stages(keys: Keys) -> list[Stage]:
    found: list[Stage] = []
    raw = keys.raw("stages")
    if not isinstance(raw, list) or not raw:
        keys.fault("stages", raw, "a list of stages, each with name and minutes")
        return found
    for number, one in enumerate(raw):
        name = one.get("name") if isinstance(one, dict) else None
        minutes = one.get("minutes") if isinstance(one, dict) else None
        if not isinstance(one, dict) or set(one) - {"name", "minutes"} or not isinstance(name, str) or not name.strip():
            keys.fault("stages", one, "a stage as { name = \"…\", minutes = 30 }", number)
            continue
        if isinstance(minutes, bool) or not isinstance(minutes, int) or minutes < 0:
            keys.fault("stages", minutes, f"whole minutes for {name!r}, 0 or more", number)
            minutes = 0
        if any(stage.name == name.strip() for stage in found):
            keys.fault("stages", name, "each stage once", number)
            continue
        found.append(Stage(name.strip(), minutes))
    return found


def _includes(keys: Keys, cells: CellReader) -> list[Include]:
    raw = keys.raw("includes")
    if raw is None:
        return []
    if not isinstance(raw, list):
        keys.fault("includes", raw, "a list of job types to include")
        return []
    found = []
    for number, one in enumerate(raw):
        if not _is_include(one):
            keys.fault("includes", one, "an include as { job = \"…\", stages = { … }, when = { … } }", number)
            continue
        row, when = keys.line("includes", number), one.get("when", {})
        told = {}
        for fact, cell in when.items():
            if fact in cells.numbers:
                told[fact] = str(cell).strip()
            else:
                keys.faults.unknown(keys.file, row, f"jobs.{keys.name}.includes.when", "fact", fact, list(cells.numbers))
        box = cells.box(keys.file, row, told, f"jobs.{keys.name}.includes.when")
        stages = {inner.strip(): outer.strip() for inner, outer in one.get("stages", {}).items()}
        conditions = tuple(Condition(fact, cell) for fact, cell in told.items())
        found.append(Include(one["job"].strip(), stages, box, row, conditions))
    return found


def _is_include(one: Any) -> bool:
    return (
        isinstance(one, dict)
        and isinstance(one.get("job"), str)
        and not set(one) - {"job", "stages", "when"}
        and all(isinstance(one.get(key, {}), dict) for key in ("stages", "when"))
        and all(isinstance(text, str) for key in ("stages", "when") for text in one.get(key, {}).values())
    )


def _check_include(keys: Keys, number: int, include: Include, job: JobType, jobs: Mapping[str, JobType],
                   faults: Faults) -> None:
    column = f"jobs.{job.name}.includes"
    if include.job not in jobs:
        faults.unknown(keys.file, include.row, column, "job", include.job, list(jobs))
        return
    inner = [stage.name for stage in jobs[include.job].stages]
    outer = [stage.name for stage in job.stages]
    for name in inner:
        if name not in include.stages:
            keys.fault("includes", "", f"a stage of {job.name} for {name!r} of {include.job}", number)
    for name, onto in include.stages.items():
        if name not in inner:
            keys.fault("includes", name, f"a stage of {include.job}: {one_of(name, inner)}", number)
        if onto not in outer:
            keys.fault("includes", onto, f"a stage of {job.name}: {one_of(onto, outer)}", number)


def _comes_back(start: str, jobs: Mapping[str, JobType]) -> bool:
    seen: set[str] = set()
    todo = [start]
    while todo:
        for include in jobs[todo.pop()].includes:
            if include.job == start:
                return True
            if include.job in jobs and include.job not in seen:
                seen.add(include.job)
                todo.append(include.job)
    return False
