"""A draft as files of the catalogue."""

from collections.abc import Mapping

from kitbuilder.bringing_in.draft import Draft
from kitbuilder.bringing_in.sheet_text import sheet_text
from kitbuilder.bringing_in.toml_text import bare_key, quoted
from kitbuilder.errors import WrongUse

_STAGE = "do the work"


def draft_files(job: str, title: str, draft: Draft, files: Mapping[str, bytes], jobs: int) -> dict[str, bytes]:
    """The new texts by path: jobs/JOB.toml, fits/JOB.csv, and roles.toml with the new roles behind the old.

    Raises WrongUse where the job type has files already.
    """
    job_path, fits_path = f"jobs/{job}.toml", f"fits/{job}.csv"
    there = [path for path in (job_path, fits_path) if path in files]
    if there:
        raise WrongUse(f"{' and '.join(there)} is there already; draft another name, or move it away.")
    facts = list(dict.fromkeys(fact for fit in draft.fits for fact in fit.conditions))
    rows = [{
        "job": job, "role": fit.role, "item": fit.item, "amount": fit.amount, "unit": fit.unit,
        "finding": fit.finding,
        "least": draft.least.get((fit.role, fit.item), ""), **fit.conditions, "note": fit.evidence}
        for fit in draft.fits]
    columns = [name for name in ("job", "role", "item", "amount", "least", "unit", "finding", *facts, "note")
               if any(row.get(name) for row in rows)]
    old = files.get("roles.toml", b"").decode("utf-8-sig").rstrip()
    return {job_path: _job_text(job, title, draft, jobs).encode(), fits_path: sheet_text(columns, rows).encode(),
            "roles.toml": (old + "\n\n" + _roles_text(job, draft, jobs)).encode()}


def _job_text(job: str, title: str, draft: Draft, jobs: int) -> str:
    lines = [f"# Drafted from {jobs} past jobs. What it leaves open:"]
    lines += [f"#   - {' '.join(question.split())}" for question in draft.questions]
    lines += ["", f"[jobs.{bare_key(job)}]", f"title = {quoted(title)}",
              f"stages = [{{ name = {quoted(_STAGE)}, minutes = 60 }}]", "", f"[jobs.{bare_key(job)}.roles]"]
    lines += [f"{bare_key(role.name)} = {quoted(_STAGE)}" for role in draft.roles]
    return "\n".join(lines) + "\n"


def _roles_text(job: str, draft: Draft, jobs: int) -> str:
    lines = [f"# Drafted for {job} from {jobs} past jobs."]
    for role in draft.roles:
        lines += [f"[roles.{bare_key(role.name)}]", f"title = {quoted(role.title)}", f"sort = {quoted(role.sort)}",
                  f"takes = {quoted(role.takes)}"]
        lines += ['fill = "top-up"', ""] if role.name in draft.fills else [""]
    for finding in draft.findings:
        lines += [f"# {finding.used} of {finding.jobs} jobs; 95 % interval {finding.least} to {finding.most} (Wilson)",
                  f"[findings.{bare_key(finding.name)}]", f"title = {quoted(finding.title)}",
                  f"chance = {finding.chance}", ""]
    return "\n".join(lines).rstrip() + "\n"
