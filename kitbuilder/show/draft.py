"""A draft from past jobs, as text."""

from kitbuilder.model.bringing_in import Drafted, DraftedFit
from kitbuilder.show.paper import Paper, counted


def drafted_text(answer: Drafted, paper: Paper, quiet: bool) -> str:
    """Roles with their fits and the evidence for each, then what is open."""
    parts = [paper.wrap(f"{answer.job}: {counted(answer.lines, 'line')} of {counted(answer.jobs, 'past job')}")]
    for role in answer.roles:
        lines = [paper.heading(role.title) + f" ({role.sort})"]
        for fit in answer.fits:
            if fit.role == role.name:
                lines += paper.wrap(_fit(fit, answer), 4, "  -")
        parts.append(lines)
    if answer.questions:
        lines = [paper.heading("ASKED: the records don't tell")]
        for question in answer.questions:
            lines += paper.wrap(question, 4, "  -")
        parts.append(lines)
    if answer.faults:
        lines = [paper.heading(f"CAN'T BE USED: {counted(len({one.row for one in answer.faults}), 'row')}")]
        for fault in answer.faults:
            said = f"row {fault.row}, {fault.column}: read {fault.read!r}; expected {fault.expected}"
            lines += paper.wrap(said, 4, "  -")
        parts.append(lines)
    if answer.catalogue:
        lines = [paper.heading("THE CATALOGUE WOULD BREAK")]
        for text in answer.catalogue:
            lines += paper.wrap(text, 4, "  -")
        parts.append(lines)
    parts.append(_verdict(answer, paper, quiet))
    return "\n\n".join("\n".join(part) for part in parts) + "\n"


def _fit(fit: DraftedFit, answer: Drafted) -> str:
    where = "; ".join(f"{fact}: {cell}" for fact, cell in fit.conditions.items())
    what = f"{fit.item}, {fit.amount} {fit.unit}" if fit.amount else fit.item
    chance = next((one for one in answer.findings if one.name == fit.finding), None)
    if chance is not None:
        what += f", on a finding (chance {chance.chance}, 95 %: {chance.least} to {chance.most})"
    return f"{what}{'; ' + where if where else ''} ({fit.evidence})"


def _verdict(answer: Drafted, paper: Paper, quiet: bool) -> list[str]:
    if not answer.files:
        return paper.wrap("Nothing was drafted.")
    made = (f"{counted(len(answer.roles), 'role')}, {counted(len(answer.fits), 'fit')}, "
            f"{counted(len(answer.findings), 'finding')}, {counted(len(answer.questions), 'question')}.")
    paths = ", ".join(answer.files)
    if answer.written:
        lines = paper.wrap(f"{made} Written: {paths}.")
        return lines if quiet else lines + paper.wrap(
            "The questions stand in the job's file too. `kitbuilder catalogue check` shows which vehicles have gaps.")
    lines = paper.wrap(f"{made} Nothing was written.")
    return lines if quiet else lines + paper.wrap(f"--write writes {paths}.")
