"""A catalogue as formulas for a solver of arithmetic and logic (Z3), from its raw values: what kit-rules.md says of
roles, fits, problems, written once more as logic. It shares no code with the product and lists no worlds.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from itertools import combinations
from typing import Any

import z3

from tests.brute_judge import Judge, Key, Way, ways
from tests.brute_values import satisfying
from tests.brute_worlds import cell_values
from tests.specs import Fact, Job, Placed, Role, Spec, placed

When = Sequence[Mapping[str, Sequence[str]]]


class Formulas:
    """One catalogue. A world is a place in the domain of every fact, a whole number each."""

    def __init__(self, spec: Spec):
        self.spec = spec
        self.facts = {fact.name: fact for fact in spec.facts}
        self.domains = {fact.name: fact.domain() for fact in spec.facts}
        self.variables = {name: z3.Int(name) for name in self.facts}
        self.roles = {role.name: role for role in spec.roles}
        self.requirements = {one.name: one for one in spec.requirements}
        self.jobs = {job.name: job for job in spec.jobs}
        self.placed = placed(spec)
        self._keys = Judge.__new__(Judge)
        self._keys.items = {item.number: item for item in spec.items}
        self.solver = z3.Solver()
        for name, domain in self.domains.items():
            self.solver.add(self.variables[name] >= 0, self.variables[name] < len(domain))
        for table in spec.tables:
            self.solver.add(z3.Or([self.hold(row) for row in table.rows]))

    # Asking

    def possible(self, *formulas: Any) -> bool:
        """Whether there is a world for which all of these are true."""
        self.solver.push()
        self.solver.add(*formulas)
        answer = self.solver.check()
        self.solver.pop()
        assert answer != z3.unknown
        return bool(answer == z3.sat)

    def same(self, one: Any, other: Any) -> bool:
        """Whether two formulas are true of the same worlds."""
        return not self.possible(one, z3.Not(other)) and not self.possible(other, z3.Not(one))

    # Conditions

    def among(self, fact: str, values: Iterable[str]) -> Any:
        """Whether the fact has one of some values."""
        places = sorted(self.domains[fact].index(value) for value in values)
        return z3.Or([self.variables[fact] == place for place in places])

    def hold(self, conditions: Mapping[str, str]) -> Any:
        """Whether all cells of a row hold."""
        return z3.And([
            self.among(fact, cell_values(self.facts[fact], cell)) for fact, cell in conditions.items() if cell.strip()])

    def told(self, when: When, certain: bool) -> Any:
        """What an answer says: anywhere if it is certain, else in one of the branches."""
        if certain:
            assert not when
            return z3.BoolVal(True)
        return z3.Or([
            z3.And([self.among(fact, self._values(self.facts[fact], cells)) for fact, cells in branch.items()])
            for branch in when])

    def _values(self, fact: Fact, cells: Iterable[str]) -> list[str]:
        domain = self.domains[fact.name]
        found = []
        for cell in cells:
            first, _, last = cell.partition(" to ") if fact.is_range else (cell, "", "")
            found += domain[domain.index(first):domain.index(last or first) + 1]
        return found

    def world(self, values: Mapping[str, str]) -> Any:
        """Just this world."""
        assert list(values) == list(self.facts)
        return z3.And([self.among(fact, [value]) for fact, value in values.items()])

    # Roles

    def fits(self, role: str, job: Job) -> list[Placed]:
        """The rows of a role that count where it is reached through a job."""
        return [one for one in self.placed if one.fit.role == role and one.fit.job in ("", job.name)]

    def applies(self, one: Placed, job: Job) -> Any:
        """Whether a row applies where its role is reached through a job."""
        if not one.fit.otherwise:
            return self.hold(one.fit.when)
        others = [other for other in self.fits(one.fit.role, job) if not other.fit.otherwise]
        return z3.Not(z3.Or([self.hold(other.fit.when) for other in others]))

    def reached(self, role: str, job: str) -> list[tuple[Way, Any]]:
        """The ways on which a job reaches a role, each with the worlds in which it is the first."""
        found: list[tuple[Way, Any]] = []
        before: list[Any] = []
        for way in ways(self.spec, self.jobs[job]):
            if role in way.job.roles:
                here = z3.And([self.hold({fact: cell}) for fact, cell in way.conditions])
                found.append((way, z3.And(here, z3.Not(z3.Or(before)))))
                before.append(here)
        return found

    def keys(self, role: str, job: Job) -> dict[Key, Any]:
        """The keys of a role in a job, each with the worlds in which a row of it applies."""
        found: dict[Key, list[Any]] = {}
        for one in self.fits(role, job):
            found.setdefault(self._keys.key(one), []).append(self.applies(one, job))
        return {key: z3.Or(rows) for key, rows in found.items()}

    def clash(self, role: Role, keys: Mapping[Key, Any]) -> Any:
        """Whether keys that apply together may not."""
        pairs = [
            z3.And(keys[one], keys[other]) for one, other in combinations(keys, 2)
            if role.takes in ("one", "at most one") or one.is_nothing or other.is_nothing]
        return z3.Or(pairs)

    def problems(self, job: str) -> dict[tuple[str, str], Any]:
        """For each kind and role or circuit: the worlds that have the problem."""
        found: dict[tuple[str, str], Any] = {}
        fillers: dict[str, dict[tuple[str, str], list[Any]]] = {}
        names = dict.fromkeys(role for way in ways(self.spec, self.jobs[job]) for role in way.job.roles)
        for name in names:
            role = self.roles[name]
            parts: dict[str, list[Any]] = {"gap": [], "clash": [], "unmet": []}
            for way, first in self.reached(name, job):
                keys = self.keys(name, way.job)
                clash = self.clash(role, keys)
                parts["clash"].append(z3.And(first, clash))
                if role.takes in ("one", "at least one"):
                    parts["gap"].append(z3.And(first, z3.Not(z3.Or(list(keys.values())))))
                for key, applies in keys.items():
                    if key.is_nothing:
                        continue
                    line = z3.And(first, applies, z3.Not(clash))
                    if key.requirement and not satisfying(self.spec, self.requirements[key.requirement], key.unit):
                        parts["unmet"].append(line)
                    if role.circuit:
                        fillers.setdefault(role.circuit, {}).setdefault((key.item, key.requirement), []).append(line)
            found |= {(kind, name): z3.Or(some) for kind, some in parts.items()}
        for circuit, named in fillers.items():
            each = [z3.Or(lines) for lines in named.values()]
            found["circuit", circuit] = z3.Or([z3.And(one, other) for one, other in combinations(each, 2)])
        return found
