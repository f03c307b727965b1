"""What a check of the catalogue found, as text."""

from collections.abc import Iterable

from kitbuilder.proof.check import Check
from kitbuilder.proof.job import Caught, JobProblem
from kitbuilder.show.paper import Paper, counted

_TITLES = {
    "gap": "GAP: a role is due and nothing fills it",
    "clash": "CLASH: more than one thing fills a role",
    "unmet": "UNMET: no item satisfies what a role asks for",
    "circuit": "CIRCUIT: its roles don't all name one filling",
}


def check_text(check: Check, paper: Paper) -> str:
    """What each `otherwise` catches; problems by job, each with where it holds, a witness and its rows; remarks. What
    matters most stands last, where a terminal's reader looks first."""
    parts: list[list[str]] = []
    if check.otherwise:
        parts.append([paper.heading("WHAT EACH OTHERWISE CATCHES"), *_caught(check.otherwise, paper)])
    by_job: dict[str, list[JobProblem]] = {}
    for problem in check.problems:
        by_job.setdefault(problem.job, []).append(problem)
    for job, problems in by_job.items():
        parts.append([paper.heading(job), *(line for problem in problems for line in _problem(problem, paper))])
    if check.remarks:
        remarks = [paper.heading("REMARKS")]
        for remark in check.remarks:
            remarks += paper.wrap(remark.text, 4, "  -")
        parts.append(remarks)
    parts.append(paper.wrap(_verdict(check)))
    return "\n\n".join("\n".join(part) for part in parts) + "\n"


def _problem(problem: JobProblem, paper: Paper) -> list[str]:
    lines = paper.wrap(_TITLES[problem.kind], 4, "  -")
    lines += paper.wrap(problem.text, 4)
    witness = ", ".join(f"{fact} {value}" for fact, value in problem.witness.items())
    return lines + paper.wrap(f"first vehicle that shows it: {witness}", 4)


def _caught(caught: Iterable[Caught], paper: Paper) -> list[str]:
    """A row that belongs to many jobs and catches the same in all of them is told once."""
    jobs: dict[tuple[str, str], list[str]] = {}
    for one in caught:
        jobs.setdefault((one.role, one.text), []).append(one.job)
    lines = []
    for (role, text), of in jobs.items():
        more = f" and {counted(len(of) - 3, 'job')} more" if len(of) > 3 else ""
        lines += paper.wrap(f"{role} in {', '.join(of[:3])}{more}: {text}", 4, "  -")
    return lines


def _verdict(check: Check) -> str:
    jobs = counted(check.jobs, "job type")
    if check.problems:
        return f"{counted(len(check.problems), 'problem')} in {jobs}; over every vehicle that can exist."
    return f"No problem in {jobs}, over every vehicle that can exist."
