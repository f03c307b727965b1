"""What a check of the catalogue found, as text."""

from kitbuilder.proof.check import Check, JobProblem
from kitbuilder.show.paper import Paper, counted

_TITLES = {
    "gap": "GAP: a role is due and nothing fills it",
    "clash": "CLASH: more than one thing fills a role",
    "unmet": "UNMET: no item satisfies what a role asks for",
    "circuit": "CIRCUIT: its roles don't all name one filling",
}


def check_text(check: Check, paper: Paper) -> str:
    """Problems by job, each with where it holds, a witness and its rows; then remarks."""
    parts: list[list[str]] = []
    for job in dict.fromkeys(problem.job for problem in check.problems):
        lines = [paper.heading(job)]
        for problem in check.problems:
            if problem.job == job:
                lines += _problem(problem, paper)
        parts.append(lines)
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


def _verdict(check: Check) -> str:
    jobs = counted(check.jobs, "job type")
    if check.problems:
        return f"{counted(len(check.problems), 'problem')} in {jobs}; over every vehicle that can exist."
    return f"No problem in {jobs}, over every vehicle that can exist."
