"""What comes off, by looking into every open world; shares no code with what it judges."""

from __future__ import annotations

import csv
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from tests.brute_judge import Judge, Thing


@dataclass(frozen=True)
class Waste:
    """A row of waste.csv."""

    what: str
    job: str = ""
    role: str = ""
    amount: str = ""
    when: Mapping[str, str] = field(default_factory=dict)


def write(wastes: tuple[Waste, ...], folder: Path) -> None:
    """Write waste.csv; all rows have one code, as this is about worlds."""
    facts = sorted({fact for waste in wastes for fact in waste.when})
    with (folder / "waste.csv").open("w", encoding="utf-8", newline="") as file:
        out = csv.writer(file)
        out.writerow(["job", "role", "what", "code", "amount", "unit", *facts])
        for one in wastes:
            out.writerow([one.job, one.role, one.what, "13 02 05*", one.amount, "L" if one.amount else "",
                          *(one.when.get(fact, "") for fact in facts)])


def comes_off(judge: Judge, wastes: tuple[Waste, ...], advised: frozenset[str]) -> list[tuple]:
    """What comes off: what, amount, the rows, what it waits for, the worlds and what it hangs on; in order of rows."""
    found: dict[tuple, tuple[set[int], set[int]]] = {}
    for number, world in enumerate(judge.worlds):
        here: dict[tuple, list[tuple[int, bool, frozenset[str]]]] = {}
        for row, waste in enumerate(wastes, 2):
            waits = _there(judge, waste, number, world, advised)
            if waits is not None:
                here.setdefault(_key(waste), []).append((row, *waits))
        for key, rows in here.items():
            waits = _waits([(chosen, findings) for _, chosen, findings in rows])
            worlds, lines = found.setdefault((key, waits), (set(), set()))
            worlds.add(number)
            lines.update(row for row, _, _ in rows)
    order = {}
    roles, jobs = {role for way in judge.ways for role in way.job.roles}, {way.job.name for way in judge.ways}
    for row, waste in enumerate(wastes, 2):
        # rows of other jobs don't tell where it stands
        if (not waste.role or waste.role in roles) and (not waste.job or waste.job in jobs):
            order.setdefault(_key(waste), row)
    return [
        (key[0], key[1], sorted(lines), chosen, sorted(findings), Thing(worlds, _candidates(judge, wastes, key)))
        for (key, (chosen, findings)), (worlds, lines) in sorted(
            found.items(), key=lambda one: (order[one[0][0]], one[0][1][0], sorted(one[0][1][1])))]


def _key(waste: Waste) -> tuple:
    return waste.what, waste.amount, ((waste.role or ("job", waste.job)) if waste.amount else None)


def _there(judge, waste, number, world, advised):
    """None where it doesn't come off, else whether it waits for the customer's choice, and for which findings."""
    if not judge.conditions.hold(waste.when, world):
        return None
    if not waste.role:
        due = any(way.job.name == waste.job and judge.holds(way, world) for way in judge.ways)
        return (False, frozenset()) if due else None
    there = judge.there[number].get(waste.role)
    lines = {line for line in there.lines if not line.key.is_nothing} if there else set()
    way = next((way for way in judge.ways if waste.role in way.job.roles and judge.holds(way, world)), None)
    if not lines or (waste.job and way.job.name != waste.job):
        return None
    findings = {line.key.finding for line in lines}
    return waste.role in advised, frozenset() if "" in findings else frozenset(findings)


def _waits(waits):
    if (False, frozenset()) in waits:
        return False, frozenset()
    chosen = all(one for one, _ in waits)
    if (True, frozenset()) in waits:
        return chosen, frozenset()
    return chosen, frozenset().union(*(findings for _, findings in waits))


def _candidates(judge, wastes, key):
    """The facts that the rows alike name, and their roles and the ways of their jobs."""
    alike = [waste for waste in wastes if _key(waste) == key]
    named = set(judge.candidates({waste.role for waste in alike if waste.role}))
    for waste in alike:
        named |= set(waste.when)
        if not waste.role:
            named |= {fact for way in judge.ways if way.job.name == waste.job for fact, _ in way.conditions}
    return [fact.name for fact in judge.spec.facts if fact.name in named]
