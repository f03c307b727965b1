"""What goes with what: fills of exchange units, and taps and sealing rings for threads, over every vehicle.

A line that waits for a finding or for the customer's choice needs what goes with it only then, and what goes with it
may wait for the same.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence

import msgspec

from kitbuilder.catalogue.edition import Edition
from kitbuilder.kit.build import hangs_shown
from kitbuilder.kit.due import DueRole, due
from kitbuilder.kit.events import acceptable
from kitbuilder.kit.group import Group
from kitbuilder.kit.words import in_words
from kitbuilder.model.catalogue import Exchange, Item, Key
from kitbuilder.model.kit import RowPlace
from kitbuilder.proof.remark import Kind, Remark
from kitbuilder.vehicle.worlds import Worlds

#: How a role must fill a circuit so that a unit that came dry is full.
_FILLING = ("dry", "drain and refill")


class _Brought(msgspec.Struct, frozen=True):
    """What a line brings of one thread: ports, a tap, sealing rings (None: a set, in which there are enough)."""

    ports: int = 0
    tap: bool = False
    rings: int | None = 0


_Line = tuple[DueRole, Key, _Brought]


def amounts_in(edition: Edition, job: str, worlds: Worlds) -> Iterator[Remark]:
    """The remarks on a job type; those on what it includes come up again, in the same words."""
    found = _Job(edition, job, worlds)
    if "exchange" in edition.more:
        yield from found.fills()
    if "ports" in edition.more:
        yield from found.threads()


class _Job:
    def __init__(self, edition: Edition, job: str, worlds: Worlds) -> None:
        self._edition, self._job, self._worlds = edition, job, worlds
        self._roles = due(edition, job).roles
        self._keys = {
            role.role.name: tuple(dict.fromkeys(
                fit.key for fit in (*role.fits, *role.otherwise) if not fit.nothing)) for role in self._roles}
        self._items: dict[Key, tuple[Item, ...]] = {}

    def _may_fill(self, key: Key) -> tuple[Item, ...]:
        if key not in self._items:
            self._items[key] = tuple(self._edition.item(number) for number in acceptable(self._edition, key))
        return self._items[key]

    def _remark(self, kind: Kind, group: Group, inside: frozenset[int], text: str, item: str = "") -> Remark:
        facts = self._edition.facts
        hangs_on, branches = group.hangs_on(inside)
        where = f" where {in_words(facts, branches)}" if branches else " whatever the vehicle"
        _, fits = group.witness(inside)
        return Remark(kind, f"{text}{where}.", tuple(RowPlace(fit.file, fit.row) for fit in fits), self._job,
                      item=item, when=hangs_shown(facts, hangs_on, branches)[1])

    # Fills

    def fills(self) -> Iterator[Remark]:
        """Units that arrive filled beside a dry fill, and units that arrive dry and that nothing fills."""
        for role in self._roles:
            units: dict[str, tuple[Exchange, list[Key]]] = {}
            for key in self._keys[role.role.name]:
                for item in self._may_fill(key):
                    unit = self._edition.exchange(item.number)
                    if unit is not None and unit.circuit:
                        units.setdefault(item.number, (unit, []))[1].append(key)
            for unit, keys in units.values():
                yield from self._filled(role, unit, keys) if unit.arrives == "filled" else self._dry(role, unit, keys)

    def _of_circuit(self, circuit: str, fills: Sequence[str]) -> list[DueRole]:
        return [one for one in self._roles if one.role.circuit == circuit and one.role.fill in fills]

    def _filled(self, role: DueRole, unit: Exchange, keys: Sequence[Key]) -> Iterator[Remark]:
        filling = self._of_circuit(unit.circuit, ("dry",))
        if filling:
            group, inside = self._beside(role, keys, filling, lambda key, fills: bool(fills))
            if inside:
                titles = " and ".join(one.role.title for one in filling)
                yield self._remark("fill", group, inside, f"{unit.item} arrives filled ({unit.circuit}), and the kit "
                                   f"has a dry fill beside it ({titles})", unit.item)

    def _dry(self, role: DueRole, unit: Exchange, keys: Sequence[Key]) -> Iterator[Remark]:
        def unfilled(key: Key, fills: Sequence[tuple[DueRole, Key]]) -> bool:
            return not any(fill.finding in (None, key.finding) and (not of.role.advised or role.role.advised)
                           for of, fill in fills)

        group, inside = self._beside(role, keys, self._of_circuit(unit.circuit, _FILLING), unfilled)
        if inside:
            yield self._remark("fill", group, inside, f"{unit.item} arrives dry and must be filled ({unit.circuit}), "
                               "and nothing in the kit fills it", unit.item)

    def _beside(self, role: DueRole, keys: Sequence[Key], filling: Sequence[DueRole],
                wrong: Callable[[Key, list[tuple[DueRole, Key]]], bool]) -> tuple[Group, frozenset[int]]:
        """Where a role has one of some keys, and that is wrong beside the lines of the roles that fill."""
        group = Group(self._worlds, list(dict.fromkeys((role, *filling))))

        def is_wrong(mask: int) -> bool:
            outcomes = list(group.outcomes(mask))
            fills = [(of, key) for of, outcome in outcomes if of in filling for _, key in outcome.lines]
            (own,) = (outcome for of, outcome in outcomes if of is role)
            return any(key in keys and wrong(key, fills) for _, key in own.lines)

        return group, group.masks(is_wrong)

    # Threads

    def threads(self) -> Iterator[Remark]:
        """Ports without a tap of their thread, and with fewer sealing rings than there are ports."""
        every = {role.role.name: role for role in self._roles}
        keys = [(every[name], key) for name, keys in self._keys.items() for key in keys]
        threads = sorted({port.thread for _, key in keys for item in self._may_fill(key) for port in item.ports})
        for thread in threads:
            lines = [(role, key, brought) for role, key in keys
                     if (brought := self._brought(key, thread)) != _Brought()]
            yield from self._thread(thread, lines)

    def _brought(self, key: Key, thread: str) -> _Brought:
        """What a line brings of a thread: the most ports of any item that may fill it, what goes along of every one."""
        from kitbuilder.kinds.sealing_ring import usual_ring

        items = self._may_fill(key)
        pieces = -(-key.amount // 1000) if key.unit in ("each", "pair", "set") else 1
        ports = max((port.count for item in items for port in item.ports if port.thread == thread), default=0)

        def seals(item: Item) -> bool:
            has = item.properties
            return item.kind == "sealing ring" and (
                has.get("thread", thread) == thread and ("thread" in has or has.get("size") == usual_ring(thread)))

        tap = bool(items) and all(
            item.kind == "thread tap" and item.properties.get("thread") == thread for item in items)
        rings: int | None = 0
        if items and all(seals(item) for item in items):
            rings = None if key.unit == "set" else pieces * (2 if key.unit == "pair" else 1)
        return _Brought(ports * pieces, tap, rings)

    def _thread(self, thread: str, lines: Sequence[_Line]) -> Iterator[Remark]:
        group = Group(self._worlds, list(dict.fromkeys(role for role, _, _ in lines)))
        brought = {(role.role.name, key): one for role, key, one in lines}
        waited = {key.finding for _, key, _ in lines if key.finding is not None}
        covered_by = {name: self._edition.findings[name].covered_by for name in waited}
        untapped: set[int] = set()
        short: dict[tuple[int, int], set[int]] = {}
        for mask in group.weights:
            there = [(role, key, brought[role.role.name, key]) for role, outcome in group.outcomes(mask)
                     for _, key in outcome.lines if (role.role.name, key) in brought]
            for chosen in (False, True):
                counting = [one for one in there if chosen or not one[0].role.advised]
                if _untapped(counting):
                    untapped.add(mask)
                ports, rings = _worst(counting, covered_by)
                if rings is not None and rings < ports:
                    short.setdefault((ports, rings), set()).add(mask)
                    break
        if untapped:
            whose = self._whose(thread, group, untapped)
            yield self._remark("thread", group, frozenset(untapped),
                               f"The kit has a port {thread} ({whose}) and no tap for that thread")
        for (ports, rings), masks in sorted(short.items()):
            has = f"{_counted(ports, 'port')} {thread} ({self._whose(thread, group, masks)})"
            yield self._remark("thread", group, frozenset(masks), f"The kit has {has} and "
                               f"{_counted(rings, 'sealing ring') if rings else 'no sealing ring'} for that thread")

    def _whose(self, thread: str, group: Group, masks: Iterable[int]) -> str:
        """The items with a port of a thread that may be in the kit under some masks."""
        keys = {key for mask in masks for _, outcome in group.outcomes(mask) for _, key in outcome.lines}
        return ", ".join(sorted({item.number for key in keys for item in self._may_fill(key)
                                 if any(port.thread == thread for port in item.ports)}))


def _counted(number: int, one: str) -> str:
    """A number with its noun: `1 port`, `2 ports`."""
    return f"{number} {one}{'' if number == 1 else 's'}"


def _untapped(lines: Sequence[_Line]) -> bool:
    """Whether something has a port, and no tap is there whenever it is."""
    findings = {key.finding for _, key, one in lines if one.ports}
    return any(not any(one.tap and key.finding in (None, finding) for _, key, one in lines) for finding in findings)


def _worst(lines: Sequence[_Line], covered_by: Mapping[str, Sequence[str]]) -> tuple[int, int | None]:
    """Ports and rings in the worst case of findings: those that bring more ports than rings occur, and no others.

    Of a finding and one that covers it only the latter's lines are used. Rings are None where there are enough.
    """
    ports: dict[str | None, int] = {None: 0}
    rings: dict[str | None, int | None] = {None: 0}
    for _, key, one in lines:
        ports[key.finding] = ports.get(key.finding, 0) + one.ports
        so_far = rings.get(key.finding, 0)
        rings[key.finding] = None if so_far is None or one.rings is None else so_far + one.rings
    always = rings[None]
    if always is None:
        return 0, None
    missing = {name: ports[name] - there for name, there in rings.items()
               if name is not None and there is not None and ports[name] > there}
    occurring = _most(sorted(missing), missing, covered_by)
    return (ports[None] + sum(ports[name] for name in occurring),
            always + sum(rings[name] or 0 for name in occurring))


def _most(names: Sequence[str], missing: Mapping[str, int], covered_by: Mapping[str, Sequence[str]]) -> list[str]:
    """Of some findings those, none of which covers another, that miss most together."""
    if not names:
        return []
    first, rest = names[0], names[1:]
    beside = [one for one in rest if one not in covered_by[first] and first not in covered_by[one]]
    taken = [first, *_most(beside, missing, covered_by)]
    if len(beside) == len(rest):
        return taken
    left = _most(rest, missing, covered_by)
    return max((taken, left), key=lambda found: sum(missing[name] for name in found))
