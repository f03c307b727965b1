"""What a compare says of two catalogues, against looking into every world that exists in both."""

from itertools import product
from pathlib import Path
from tempfile import TemporaryDirectory

import msgspec
import pytest
from hypothesis import HealthCheck, given, note, settings
from hypothesis import strategies as st

from kitbuilder.catalogue.cache import read_edition
from kitbuilder.proof.compare import Compare, compare_editions
from tests import spec_files
from tests.brute_judge import Judge
from tests.brute_values import decimal_text
from tests.brute_worlds import worlds
from tests.proof.mutations import pairs
from tests.specs import Spec


def compared(old: Spec, new: Spec) -> dict:
    with TemporaryDirectory() as folder:
        for name, spec in (("old", old), ("new", new)):
            spec_files.write(spec, Path(folder) / name)
        editions = [read_edition(Path(folder) / name) for name in ("old", "new")]
    found = compare_editions(*editions)
    assert isinstance(found, Compare)
    return msgspec.json.decode(msgspec.json.encode(found))


class Both:
    """The worlds that exist in both: a value that both have for each fact that both have, any for the others."""

    def __init__(self, old: Spec, new: Spec):
        self.specs = (old, new)
        self.names = list(dict.fromkeys(fact.name for spec in (new, old) for fact in spec.facts))
        domains = [{fact.name: fact.domain() for fact in spec.facts} for spec in (old, new)]
        self.domains = {}
        for name in self.names:
            first, second = domains[1].get(name), domains[0].get(name)
            kept = [value for value in first or second or [] if not (first and second) or value in second]
            self.domains[name] = kept
        self.shared = [name for name in self.names if name in domains[0] and name in domains[1]]
        self.numbers = [
            {tuple(world.items()): number for number, (world, _) in enumerate(worlds(spec))} for spec in self.specs]
        self.worlds = []
        for values in product(*self.domains.values()):
            world = dict(zip(self.names, values, strict=True))
            at = [self.at(which, world) for which in (0, 1)]
            if None not in at:
                self.worlds.append((world, *at))

    def at(self, which: int, world: dict[str, str]) -> int | None:
        own = tuple((fact.name, world[fact.name]) for fact in self.specs[which].facts)
        return self.numbers[which].get(own)

    def within(self, when: list[dict[str, list[str]]], world: dict[str, str]) -> bool:
        return any(all(self.in_cells(fact, cells, world[fact]) for fact, cells in branch.items()) for branch in when)

    def in_cells(self, fact: str, cells: list[str], value: str) -> bool:
        domain = self.domains[fact]
        for cell in cells:
            first, _, last = (cell, "", "") if cell in domain else cell.partition(" to ")
            if domain.index(first) <= domain.index(value) <= domain.index(last or first):
                return True
        return False


def in_world(judge: Judge, number: int) -> tuple[dict, dict, set]:
    """Lines by role, stated nothings by role, problems, of one world."""
    lines: dict[str, set] = {}
    nothing: dict[str, str] = {}
    problems = set()
    for role, there in judge.there[number].items():
        for line in there.lines:
            if line.key.is_nothing:
                nothing[role] = line.stage
            else:
                key = line.key
                lines.setdefault(role, set()).add(
                    (line.stage, key.item, key.requirement, decimal_text(key.amount), key.unit, key.finding,
                     tuple(judge.acceptable(key))))
        problems |= {(kind, role, None) for kind in ("gap", "clash", "unmet") if judge.has_problem(kind, there)}
    circuits = {judge.roles[role].circuit for role in judge.places} - {""}
    problems |= {("circuit", None, circuit) for circuit in circuits if judge.differs(judge.there[number], [
        role for role in judge.places if judge.roles[role].circuit == circuit])}
    return lines, nothing, problems


def differences(old: tuple[dict, dict, set], new: tuple[dict, dict, set]) -> set:
    """What is different in one world, as the entries of a compare say it."""
    found = set()
    for role in {*old[0], *new[0]}:
        was, now = old[0].get(role, set()), new[0].get(role, set())
        bare = [{line[:-1]: line[-1] for line in some} for some in (was, now)]
        gone, come = set(bare[0]) - set(bare[1]), set(bare[1]) - set(bare[0])

        def thing(line: tuple) -> tuple:
            return line[1], line[2], line[5]

        for line in set(bare[0]) & set(bare[1]):
            if bare[0][line] != bare[1][line]:
                found.add(("acceptable", "changes", None, role, None, line, line))
        for name in {thing(line) for line in gone}:
            ours, theirs = ([line for line in some if thing(line) == name] for some in (gone, come))
            if len(ours) == len(theirs) == 1:
                found.add(("line", "changes", None, role, None, ours[0], theirs[0]))
                if bare[0][ours[0]] != bare[1][theirs[0]]:
                    found.add(("acceptable", "changes", None, role, None, ours[0], theirs[0]))
                gone.remove(ours[0])
                come.remove(theirs[0])
        found |= {("line", "goes", None, role, None, line, None) for line in gone}
        found |= {("line", "comes", None, role, None, None, line) for line in come}
    for role in {*old[1], *new[1]}:
        was, now = old[1].get(role), new[1].get(role)
        if was != now:
            change = "comes" if was is None else "goes" if now is None else "changes"
            found.add(("nothing", change, None, role, None, None, None))
    found |= {("problem", "goes", *one, None, None) for one in old[2] - new[2]}
    found |= {("problem", "comes", *one, None, None) for one in new[2] - old[2]}
    return found


def entry_of(change: dict) -> tuple:
    def line(side: dict | None) -> tuple | None:
        return side and (side["stage"], side["item"] or "", side["requirement"] or "", side["amount"], side["unit"],
                         side["finding"] or "")

    return (change["what"], change["change"], change["kind"], change["role"], change["circuit"], line(change["old"]),
            line(change["new"]))


def look_into_every_world(old: Spec, new: Spec) -> None:
    note(f"{old!r}\n{new!r}")
    found, both = compared(old, new), Both(old, new)
    jobs = {job["job"]: job for job in found["jobs"]}
    names = [{job.name for job in spec.jobs} for spec in (old, new)]
    assert {job for job, one in jobs.items() if one["change"] == "added"} == names[1] - names[0]
    assert {job for job, one in jobs.items() if one["change"] == "removed"} == names[0] - names[1]
    assert (not both.worlds) == bool(found["warnings"])
    for job in names[0] & names[1]:
        judges = Judge(old, job, ()), Judge(new, job, ())
        expected: dict[tuple, set[int]] = {}
        for number, (_, one, other) in enumerate(both.worlds):
            for entry in differences(in_world(judges[0], one), in_world(judges[1], other)):
                expected.setdefault(entry, set()).add(number)
        told: dict[tuple, set[int]] = {}
        for change in jobs[job]["changes"] if job in jobs else ():
            where = {
                number for number, (world, *_) in enumerate(both.worlds)
                if change["certainty"] == "certain" or both.within(change["when"], world)}
            assert (change["certainty"] == "certain") == (len(where) == len(both.worlds))
            assert change["witness"] == both.worlds[min(where)][0]
            assert not told.get(entry_of(change), set()) & where
            told.setdefault(entry_of(change), set()).update(where)
        assert told == expected
    what_only_one_has(found, both)


def what_only_one_has(found: dict, both: Both) -> None:
    for which, edition in enumerate(("old", "new")):
        exists = [
            {tuple(dict(world)[name] for name in both.shared) for world in numbers} for numbers in both.numbers]
        told = [one["when"] for one in found["vehicles"] if one["edition"] == edition]
        for values in product(*(both.domains[name] for name in both.shared)):
            if values not in exists[which]:
                continue
            world = dict(zip(both.shared, values, strict=True))
            alone = values not in exists[1 - which]
            assert alone == any(not when or both.within(when, world) for when in told), (edition, world)


@settings(suppress_health_check=list(HealthCheck), deadline=None, max_examples=60)
@given(pairs())
def test_a_compare_is_what_looking_into_every_world_says(pair: tuple[Spec, Spec]) -> None:
    look_into_every_world(*pair)


@pytest.mark.long
@settings(suppress_health_check=list(HealthCheck), deadline=None, max_examples=2000)
@given(pairs())
def test_thousands_of_compares_are_what_looking_into_every_world_says(pair: tuple[Spec, Spec]) -> None:
    look_into_every_world(*pair)


@settings(suppress_health_check=list(HealthCheck), deadline=None, max_examples=20)
@given(st.data())
def test_the_same_twice_is_nothing(data: st.DataObject) -> None:
    spec, _ = data.draw(pairs())
    found = compared(spec, spec)
    assert found["same"]
    assert not any(found[part] for part in ("warnings", "facts", "vehicles", "jobs", "declared"))
