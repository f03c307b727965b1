"""Branches and problems in words."""

from collections.abc import Iterable, Sequence

from kitbuilder.kit.events import CIRCUIT, CLASH, GAP, UNMET, ProblemEvent
from kitbuilder.model.catalogue import Fit
from kitbuilder.vehicle.facts import Fact
from kitbuilder.vehicle.slices import Branch


def in_words(facts: Sequence[Fact], branches: Iterable[Branch]) -> str:
    """Branches as a person says them: `emissions before Euro VI and place workshop, or gearbox …`."""
    said = [
        " and ".join(f"{facts[fact].name} is {facts[fact].words(values)}" for fact, values in branch.items())
        for branch in branches
    ]
    return "; or ".join(said)


def problem_text(facts: Sequence[Fact], event: ProblemEvent, branches: Sequence[Branch], fits: Sequence[Fit]) -> str:
    """A problem in one sentence: what, where, which rows."""
    where = f" where {in_words(facts, branches)}" if branches else " whatever the vehicle"
    rows = ", ".join(f"{fit.file} line {fit.row}" for fit in fits)
    if event.kind == CIRCUIT:
        return f"The roles of the circuit {event.circuit} don't all name one item or requirement{where}: {rows}."
    assert event.role is not None
    role = event.role.role
    named = f"{role.title} ({role.name})"
    if event.kind == GAP:
        takes = "takes one" if role.takes == "one" else "takes at least one"
        return f"Nothing fills {named}, which {takes}, and no row says that nothing is needed{where}."
    if event.kind == CLASH:
        return f"More than one thing fills {named}{where}: {rows}."
    assert event.kind == UNMET
    wanted = ", ".join(sorted({fit.requirement for fit in fits if fit.requirement}))
    return f"No item satisfies what {named} asks for ({wanted}){where}: {rows}."
