"""The plain judge: a kit by looking into every open world, as kit-rules.md says it, with nothing clever.

It is slow on purpose and shares no code with what it judges.
"""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction
from typing import Any

from tests.brute_judge import Judge, Line, Thing, ways
from tests.brute_values import chance_text, decimal_text, fingerprint, shown_values
from tests.brute_worlds import CellError, Contradiction, Open, open_worlds, worlds
from tests.specs import Placed, Spec, Statement

__all__ = ["CellError", "Contradiction", "Open", "kit", "open_worlds", "scores", "ways", "worlds"]


def kit(spec: Spec, job: str, statements: Iterable[Statement] = ()) -> dict[str, Any]:
    """The kit of a job in the shape of section 11, without reasons and wordings; raises `Contradiction`."""
    return _kit(Judge(spec, job, statements))


def scores(spec: Spec, job: str, statements: Iterable[Statement] = ()) -> dict[str, Fraction]:
    """The score of every fact as a question, in facts.toml order."""
    return _scores(Judge(spec, job, statements))


def _decided(judge: Judge, thing: Thing) -> dict[str, Any]:
    """Certainty, what it hangs on, and when."""
    certainty = "certain" if judge.certain(thing) else "possible"
    return {"certainty": certainty, "hangs_on": judge.hangs_on(thing), "when": judge.when(thing)}


def _line_row(judge: Judge, line: Line, thing: Thing) -> dict[str, Any]:
    """A line as section 11 has it."""
    key, role = line.key, judge.roles[line.role]
    name = judge.items[key.item].name if key.item else judge.requirements[key.requirement].title
    return {
        "stage": line.stage,
        "role": line.role,
        "title": role.title,
        "item": key.item or None,
        "requirement": key.requirement or None,
        "name": name,
        "amount": decimal_text(key.amount),
        "unit": key.unit,
        "sort": role.sort,
        "finding": key.finding or None,
        "chance": chance_text(judge.chance(line, thing)),
        "acceptable": judge.acceptable(key),
    } | _decided(judge, thing)


def _nothing_row(judge: Judge, line: Line, thing: Thing) -> dict[str, Any]:
    """A `nothing` as section 11 has it."""
    return {"stage": line.stage, "role": line.role, "title": judge.roles[line.role].title} | _decided(
        judge, thing
    )


def _problem_row(judge: Judge, named: tuple[str, str, str], thing: Thing) -> dict[str, Any]:
    """A problem as section 11 has it."""
    kind, role, circuit = named
    first = min(thing.worlds)
    members = [role] if role else [one for one in judge.places if judge.roles[one].circuit == circuit]
    rows = {(one.file, one.row) for name in members for one in _rows_there(judge, first, name)}
    return {
        "kind": kind,
        "role": role or None,
        "circuit": circuit or None,
        "witness": judge.worlds[first],
        "rows": [{"file": file, "row": row} for file, row in sorted(rows)],
    } | _decided(judge, thing)


def _rows_there(judge: Judge, number: int, role: str) -> list[Placed]:
    """The rows of a role that apply in a world."""
    there = judge.there[number].get(role)
    return there.rows if there else []


def _fact_rows(judge: Judge) -> list[dict[str, Any]]:
    """Every fact with its open values and where they come from."""
    everything = worlds(judge.spec)
    found = []
    for fact in judge.spec.facts:
        still = {world[fact.name] for world in judge.worlds}
        stands = {one.source for one in judge.open.stands if one.fact == fact.name}
        ranked = [source for source in ("seen", "told", "register") if source in stands]
        fewer = len(still) < len({world[fact.name] for world, _ in everything})
        source = ranked[0] if ranked else "inferred" if fewer else "open"
        found.append({"fact": fact.name, "values": shown_values(fact, still), "source": source})
    return found


def _scores(judge: Judge) -> dict[str, Fraction]:
    """The score of every fact: the expected fall of the sum of p(1 - p) when its value becomes known."""
    things = [*judge.lines().values(), *judge.problems().values()]
    found = {}
    for fact in judge.spec.facts:
        groups: dict[str, set[int]] = {}
        for number, world in enumerate(judge.worlds):
            groups.setdefault(world[fact.name], set()).add(number)
        fall = Fraction(0)
        for thing in things:
            before = judge.weight(thing.worlds)
            fall += before * (1 - before)
            for group in groups.values():
                known = judge.weight(group)
                after = judge.weight(thing.worlds & group) / known
                fall -= known * after * (1 - after)
        found[fact.name] = fall
    return found


def _question_rows(judge: Judge, scores: dict[str, Fraction]) -> list[dict[str, Any]]:
    """The facts worth asking for, best first."""
    things = [*judge.lines().values(), *judge.problems().values()]
    hung_on = {fact for thing in things for fact in judge.hangs_on(thing)}
    asked = [name for name in judge.facts if name in hung_on or scores[name] > 0]
    asked.sort(key=lambda name: -scores[name])
    values = {row["fact"]: row["values"] for row in _fact_rows(judge)}
    return [{"fact": name, "answers": values[name]} for name in asked]


def _cautions(judge: Judge) -> list[str]:
    """The cautions of every way that is due in some open world, each once."""
    due = [way for way in judge.ways if any(judge.holds(way, world) for world in judge.worlds)]
    return list(dict.fromkeys(caution for way in due for caution in way.job.cautions))


def _kit(judge: Judge) -> dict[str, Any]:
    """The whole kit."""
    lines, problems = judge.lines(), judge.problems()
    made: dict[str, Any] = {
        "job": judge.job.name,
        "complete": not problems and all(judge.certain(thing) for thing in lines.values()),
        "facts": _fact_rows(judge),
        "lines": [_line_row(judge, *pair) for pair in lines.items() if not pair[0].key.is_nothing],
        "nothing": [_nothing_row(judge, *pair) for pair in lines.items() if pair[0].key.is_nothing],
        "questions": _question_rows(judge, _scores(judge)),
        "cautions": _cautions(judge),
        "problems": [_problem_row(judge, *pair) for pair in problems.items()],
    }
    return made | {"fingerprint": fingerprint(made)}
