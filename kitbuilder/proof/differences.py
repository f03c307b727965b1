"""How one job's kit differs between two editions, over every vehicle that exists in both."""

from collections.abc import Callable, Iterator, Sequence
from typing import Literal

import msgspec

from kitbuilder import amount
from kitbuilder.catalogue.edition import Edition
from kitbuilder.kit.build import hangs_shown
from kitbuilder.kit.due import DueRole, Outcome, due_role, reached
from kitbuilder.kit.events import acceptable, unmet
from kitbuilder.kit.group import Group
from kitbuilder.kit.words import in_words
from kitbuilder.model.catalogue import Fit, Key
from kitbuilder.model.kit import Certainty, RowPlace, When
from kitbuilder.proof.common import Common, Side


class LineSide(msgspec.Struct, frozen=True, omit_defaults=True):
    """A line in one of the editions; `amount` is a decimal. `least`: a fill to level takes from so much."""

    stage: str
    item: str | None
    requirement: str | None
    name: str
    amount: str
    unit: str
    finding: str | None
    acceptable: tuple[str, ...]
    least: str = ""


class Change(msgspec.Struct, frozen=True, kw_only=True):
    """Something that is in the kits of one edition and not, or otherwise, in those of the other.

    `what`: a line (`old` or `new` None where it comes or goes), the items that a line accepts, a stated nothing, a
    problem (`kind`). `certainty`: in all common worlds or in some, as `when` says; `witness` is the first of them, the
    rows are those that apply to it there.
    """

    what: Literal["line", "acceptable", "nothing", "problem"]
    change: Literal["comes", "goes", "changes"]
    kind: str | None = None
    role: str | None = None
    circuit: str | None = None
    title: str = ""
    old: LineSide | None = None
    new: LineSide | None = None
    certainty: Certainty
    hangs_on: tuple[str, ...]
    when: When
    witness: dict[str, str]
    old_rows: tuple[RowPlace, ...] = ()
    new_rows: tuple[RowPlace, ...] = ()
    text: str


class _Entry(msgspec.Struct, frozen=True):
    """What is different in some world: a change without its worlds."""

    what: str
    change: str
    kind: str | None = None
    old: tuple[str, Key] | None = None
    new: tuple[str, Key] | None = None
    stages: tuple[str, str] = ("", "")


class JobPair:
    """One job type in both editions."""

    def __init__(self, common: Common, old: Edition, new: Edition, job: str) -> None:
        assert common.worlds is not None
        self._common, self._worlds = common, common.worlds
        self._old, self._new = old, new
        self.old = _roles(old, job, common.old)
        self.new = _roles(new, job, common.new)
        self._order = list(dict.fromkeys((*self.new, *self.old)))

    def changes(self) -> Iterator[Change]:
        """Everything that is different, role by role, then circuit by circuit."""
        changed = {name for name in self._order if self._signature(name, 0) != self._signature(name, 1)}
        for name in self._order:
            if name in changed:
                yield from self._of_role(name)
        circuits: dict[str, set[str]] = {}
        for roles in (self.old, self.new):
            for name, role in roles.items():
                if role.role.circuit:
                    circuits.setdefault(role.role.circuit, set()).add(name)
        for circuit in sorted(circuits):
            old, new = (
                [role for role in roles.values() if role.role.circuit == circuit] for roles in (self.old, self.new))
            if circuits[circuit] & changed or [one.role.name for one in old] != [one.role.name for one in new]:
                yield from self._of_circuit(circuit, old, new)

    def _signature(self, name: str, which: int) -> object:
        """All of a role that decides over its lines and problems; the same for the same kits, whatever the rows."""
        role = (self.old, self.new)[which].get(name)
        edition = (self._old, self._new)[which]
        if role is None:
            return None

        def accepted(fit: Fit) -> tuple[str, ...]:
            return () if fit.key.nothing else acceptable(edition, fit.key)

        fits = {
            way.job: frozenset((frozenset(fit.box.items()), fit.key, fit.otherwise, accepted(fit))
                               for fit in role.fits_of(way.job)) for way in role.ways}
        return role.role.takes, tuple((way.stage, frozenset(way.box.items()), fits[way.job]) for way in role.ways)

    def _of_role(self, name: str) -> Iterator[Change]:
        old, new = self.old.get(name), self.new.get(name)
        group = Group(self._worlds, [role for role in (old, new) if role is not None])
        found: dict[_Entry, set[int]] = {}
        for mask in group.weights:
            for entry in self._entries(*_sides(group, mask, old, new)):
                found.setdefault(entry, set()).add(mask)
        role = new or old
        assert role is not None
        for entry in sorted(found, key=_order):
            def rows(mask: int, entry: _Entry = entry) -> tuple[Sequence[Fit], Sequence[Fit]]:
                before, after = _sides(group, mask, old, new)
                return _rows_of(entry, entry.old, before), _rows_of(entry, entry.new, after)

            yield self._change(entry, group, frozenset(found[entry]), rows, role=name, title=role.role.title)

    def _entries(self, old: Outcome | None, new: Outcome | None) -> Iterator[_Entry]:
        was, now = (one.lines if one else frozenset() for one in (old, new))
        gone, come = list(was - now), list(now - was)
        for line in list(gone):
            alike = [other for other in come if _same_thing(line[1], other[1])]
            if len(alike) == 1 and sum(_same_thing(line[1], other[1]) for other in gone) == 1:
                gone.remove(line)
                come.remove(alike[0])
                yield _Entry("line", "changes", None, line, alike[0])
                if acceptable(self._old, line[1]) != acceptable(self._new, alike[0][1]):
                    yield _Entry("acceptable", "changes", None, line, alike[0])
        yield from (_Entry("line", "goes", None, line, None) for line in gone)
        yield from (_Entry("line", "comes", None, None, line) for line in come)
        for line in was & now:
            if acceptable(self._old, line[1]) != acceptable(self._new, line[1]):
                yield _Entry("acceptable", "changes", None, line, line)
        before, after = (one.nothing if one else None for one in (old, new))
        if before != after:
            change = "comes" if before is None else "goes" if after is None else "changes"
            yield _Entry("nothing", change, stages=(before or "", after or ""))
        problems = _problems(self._old, old), _problems(self._new, new)
        yield from (_Entry("problem", "goes", kind) for kind in problems[0] - problems[1])
        yield from (_Entry("problem", "comes", kind) for kind in problems[1] - problems[0])

    def _of_circuit(self, circuit: str, old: Sequence[DueRole], new: Sequence[DueRole]) -> Iterator[Change]:
        if not any(len(_fillers(roles)) > 1 for roles in (old, new)):
            return
        group = Group(self._worlds, [*old, *new])

        def rows(mask: int) -> tuple[Sequence[Fit], Sequence[Fit]]:
            fits = [outcome.fits if outcome.lines else () for _, outcome in group.outcomes(mask)]
            return [fit for some in fits[:len(old)] for fit in some], [fit for some in fits[len(old):] for fit in some]

        found: dict[_Entry, set[int]] = {}
        for mask in group.weights:
            outcomes = [outcome for _, outcome in group.outcomes(mask)]
            before, after = (
                len({(key.item, key.requirement) for outcome in some for _, key in outcome.lines}) > 1
                for some in (outcomes[:len(old)], outcomes[len(old):]))
            if before != after:
                entry = _Entry("problem", "comes" if after else "goes", "circuit")
                found.setdefault(entry, set()).add(mask)
        for entry in sorted(found, key=_order):
            yield self._change(entry, group, frozenset(found[entry]), rows, circuit=circuit)

    def _change(self, entry: _Entry, group: Group, inside: frozenset[int],
                rows: Callable[[int], tuple[Sequence[Fit], Sequence[Fit]]], role: str | None = None,
                circuit: str | None = None, title: str = "") -> Change:
        facts = self._common.facts
        hangs_on, branches = group.hangs_on(inside)
        witness, mask = _first(group, inside)
        old_rows, new_rows = rows(mask)
        sides = _line(self._old, entry.old), _line(self._new, entry.new)
        named, when = hangs_shown(facts, hangs_on, branches)
        where = f" where {in_words(facts, branches)}" if branches else ", whatever the vehicle"
        return Change(
            what=entry.what, change=entry.change, kind=entry.kind, role=role, circuit=circuit,  # type: ignore[arg-type]
            title=title, old=sides[0], new=sides[1], certainty="certain" if group.certain(inside) else "possible",
            hangs_on=named, when=when, witness=witness, old_rows=_places(old_rows), new_rows=_places(new_rows),
            text=f"{_said(entry, *sides, role, circuit, title)}{where}.")


def _roles(edition: Edition, job: str, side: Side) -> dict[str, DueRole]:
    found = {}
    for name, ways in reached(edition, job).ways.items():
        role = due_role(edition, name, ways)
        found[name] = side.role(role, dict.fromkeys(way.job for way in ways))
    return found


def _sides(group: Group, mask: int, old: DueRole | None, new: DueRole | None) -> tuple[Outcome | None, Outcome | None]:
    outcomes = {id(role): outcome for role, outcome in group.outcomes(mask)}
    return outcomes.get(id(old)), outcomes.get(id(new))


def _first(group: Group, inside: frozenset[int]) -> tuple[dict[str, str], int]:
    """The first world in which it is so, and its mask."""
    world = group.worlds.first(group.rows, inside.__contains__)
    assert world is not None
    at = group.worlds
    for number, fact in enumerate(at.space.facts):
        at = at.where(number, fact.read(world[fact.name]))
    (mask,) = at.masks(group.rows)
    return world, mask


def _rows_of(entry: _Entry, line: tuple[str, Key] | None, outcome: Outcome | None) -> list[Fit]:
    """The rows of an outcome that a change speaks of."""
    if outcome is None:
        return []
    if entry.what == "nothing":
        return [fit for fit in outcome.fits if fit.key.nothing]
    if entry.what == "problem":
        return list(outcome.fits)
    return [fit for fit in outcome.fits if line is not None and fit.key == line[1]]


def _places(fits: Sequence[Fit]) -> tuple[RowPlace, ...]:
    return tuple(sorted(RowPlace(fit.file, fit.row) for fit in fits))


def _same_thing(one: Key, other: Key) -> bool:
    return (one.item, one.requirement, one.finding) == (other.item, other.requirement, other.finding)


def _fillers(roles: Sequence[DueRole]) -> set[tuple[str | None, str | None]]:
    return {(fit.item, fit.requirement) for role in roles for fit in (*role.fits, *role.otherwise)
            if not fit.key.nothing}


def _problems(edition: Edition, outcome: Outcome | None) -> set[str]:
    if outcome is None:
        return set()
    found = {outcome.problem} if outcome.problem else set()
    return found | ({"unmet"} if any(unmet(edition, key) for _, key in outcome.lines) else set())


def _order(entry: _Entry) -> tuple[object, ...]:
    def of(line: tuple[str, Key] | None) -> tuple[object, ...]:
        return (line is None, *((*line[1].order, line[0]) if line else ()))

    whats, ways = ("line", "acceptable", "nothing", "problem"), ("goes", "comes", "changes")
    place = whats.index(entry.what), entry.kind or "", ways.index(entry.change)
    return *place, of(entry.old), of(entry.new), entry.stages


def _line(edition: Edition, line: tuple[str, Key] | None) -> LineSide | None:
    if line is None:
        return None
    stage, key = line
    if key.item is not None:
        name = edition.item(key.item).name
    else:
        assert key.requirement is not None
        name = edition.requirement(key.requirement).requirement.title
    return LineSide(stage, key.item, key.requirement, name, amount.show(key.amount), key.unit, key.finding,
                    acceptable(edition, key), amount.show(key.least) if key.least else "")


def _said(entry: _Entry, old: LineSide | None, new: LineSide | None, role: str | None, circuit: str | None,
          title: str) -> str:
    """A change in words, without where."""
    named = f"{title} ({role})" if role else f"The circuit {circuit}"
    if entry.what == "nothing" and entry.change == "changes":
        return f"{named} states at {entry.stages[1]!r} instead of {entry.stages[0]!r} that nothing is needed"
    if entry.what == "nothing":
        verb = "now states" if entry.change == "comes" else "no longer states"
        return f"{named} {verb} that nothing is needed"
    if entry.what == "problem":
        return f"{named} {'now has' if entry.change == 'comes' else 'no longer has'} the problem {entry.kind}"
    one = new or old
    assert one is not None
    thing = f"{one.name} ({one.item or one.requirement})" + (f", if: {one.finding}" if one.finding else "")
    if entry.what == "acceptable":
        assert old is not None
        assert new is not None
        was, now = (", ".join(side.acceptable) or "no item" for side in (old, new))
        return f"{named}: {thing} accepts {now} instead of {was}"
    if old is None or new is None:
        return f"{named}: {_measure(one)} of {thing} {'comes' if old is None else 'goes'} at {one.stage!r}"
    changed = []
    if _measure(old) != _measure(new):
        changed.append(f"{_measure(new)} instead of {_measure(old)}")
    if old.stage != new.stage:
        changed.append(f"at {new.stage!r} instead of {old.stage!r}")
    return f"{named}: {thing} {' and '.join(changed)}"


def _measure(side: LineSide) -> str:
    return f"{side.least} to {side.amount} {side.unit}" if side.least else f"{side.amount} {side.unit}"
