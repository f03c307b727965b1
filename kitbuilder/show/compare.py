"""What a new edition changes, as text."""

from collections.abc import Iterable

from kitbuilder.proof.compare import Compare, JobChange
from kitbuilder.proof.declared import Declared
from kitbuilder.proof.differences import Change
from kitbuilder.show.paper import Paper, counted

#: So many job types that come or go are named, and so many things of one kind that are declared otherwise.
_NAMED = 20


def compare_text(found: Compare, paper: Paper) -> str:
    """Facts and vehicles first, then kits by job type, then what else is declared otherwise."""
    parts: list[list[str]] = []
    if found.facts or found.vehicles:
        parts.append([
            paper.heading("FACTS AND VEHICLES"), *_declared(found.facts, paper),
            *(line for one in found.vehicles for line in paper.wrap(one.text, 4, "  -"))])
    for change, heading in (("added", "NEW JOB TYPES"), ("removed", "JOB TYPES THAT ARE GONE")):
        names = [f"{job.title} ({job.job})" for job in found.jobs if job.change == change]
        if names:
            parts.append([paper.heading(heading), *_named(names, paper)])
    parts += [_job(job, paper) for job in found.jobs if job.change == "changed"]
    if found.declared:
        parts.append([paper.heading("DECLARED OTHERWISE"), *_declared(found.declared, paper)])
    parts.append(paper.wrap(_verdict(found)))
    return "\n\n".join("\n".join(part) for part in parts) + "\n"


def _named(names: list[str], paper: Paper) -> list[str]:
    lines = [line for name in names[:_NAMED] for line in paper.wrap(name, 4, "  -")]
    return lines + ([f"    and {len(names) - _NAMED} more"] if len(names) > _NAMED else [])


def _job(job: JobChange, paper: Paper) -> list[str]:
    lines = [paper.heading(line) for line in paper.wrap(f"{job.title} ({job.job})")]
    for roles, text in ((job.roles_added, "new role"), (job.roles_removed, "role that is gone")):
        for role in roles:
            lines += paper.wrap(f"{text}: {role}", 4, "  -")
    lines += _declared(job.declared, paper, named=False)
    for change in job.changes:
        lines += _change(change, paper)
    return lines


def _change(change: Change, paper: Paper) -> list[str]:
    rows = [
        f"{edition}: {', '.join(f'{row.file} line {row.row}' for row in rows)}"
        for edition, rows in (("old", change.old_rows), ("new", change.new_rows)) if rows]
    return paper.wrap(change.text, 4, "  -") + (paper.wrap("; ".join(rows), 6) if rows else [])


def _declared(declared: Iterable[Declared], paper: Paper, named: bool = True) -> list[str]:
    by_kind: dict[str, list[Declared]] = {}
    for one in declared:
        by_kind.setdefault(one.what, []).append(one)
    lines = []
    for what, some in by_kind.items():
        for one in some[:_NAMED]:
            lines += paper.wrap((f"{what} {one.name}" if named else "") + _said(one, named), 4, "  -")
        if len(some) > _NAMED:
            lines += paper.wrap(f"and {len(some) - _NAMED} more of {what}; --json tells all", 4, "  -")
    return lines


def _said(one: Declared, named: bool) -> str:
    if not one.field:
        return f" is new: {one.new}" if one.old is None else f" is gone: {one.old}"
    if one.field in ("values", "rows"):  # those of one edition alone
        sides = [f"{text} only in the {edition}" for edition, text in (("old", one.old), ("new", one.new)) if text]
        return f", {one.field}: {'; '.join(sides)}"
    lead = ", " if named else ""
    return f"{lead}{one.field}: {one.new or 'nothing'}, was {one.old or 'nothing'}"


def _verdict(found: Compare) -> str:
    if found.same:
        return "Both say the same: no kit changes."
    kits = sum(bool(job.changes) for job in found.jobs)
    if not kits:
        return (f"No kit changes, in {counted(found.jobs_in_both, 'job type')} that both editions have; over every "
                "vehicle that exists in both.")
    return (f"Kits of {counted(kits, 'job type')} change, of {found.jobs_in_both} that both editions have; over every "
            "vehicle that exists in both.")
