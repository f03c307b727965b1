"""What of a kit's lines on condition goes along where no shelf is at hand.

What may turn out is worked out over every world that agrees with what is known: worlds in which the findings bring
the same lines are one case, by their weight. Findings are independent; one that covers another takes its place. Items
that several findings bring add up, a tool serves them all. What is sure to go along anyway is no choice: it takes its
part of the van's limits, and a tool among it is there for findings too.
"""

from collections.abc import Mapping, Sequence
from fractions import Fraction

import msgspec
from msgspec import UNSET

from kitbuilder import amount
from kitbuilder.catalogue.edition import Edition
from kitbuilder.kit.along import Amount, Case, Chosen, Thing, Trip, Turn, carrying, expected_cost
from kitbuilder.kit.along_choice import choose
from kitbuilder.kit.chances import decimal
from kitbuilder.kit.conditions import Conditions
from kitbuilder.kit.due import DueRole, due
from kitbuilder.kit.events import acceptable
from kitbuilder.kit.group import Group
from kitbuilder.model.along import Along, AlongLeft, AlongTaken
from kitbuilder.model.catalogue import Item, Key
from kitbuilder.model.kit import Kit
from kitbuilder.vehicle.statements import Statement, settle
from kitbuilder.vehicle.worlds import Worlds

#: Amounts of a thing that findings may add up to are told apart up to so many; beyond, the next greater one counts.
MOST_AMOUNTS = 64


class _Filler(msgspec.Struct, frozen=True):
    """What lines are filled with; a tool serves several, anything else adds up. `key` is the first line's."""

    name: str
    tool: bool
    key: Key
    item: Item | None

    def grams(self, smallest: int) -> int:
        """What so much of it weighs, rounded up; 0 where that isn't known."""
        if self.item is None:
            return 0
        return -(-self.item.weight * smallest // (1000 * _size(self.item.unit)))


def with_along(edition: Edition, kit: Kit, statements: Sequence[Statement],
               conditions: Conditions | None) -> Kit:
    """The kit with what goes along, if it is known that its job is done where no shelf is at hand."""
    if conditions is None:
        return kit
    worlds = settle(edition.space, edition.tables, statements).worlds
    place = edition.space.number[conditions.place]
    where = edition.facts[place].cells(worlds.opened(place))
    if not set(where) <= set(conditions.away):
        return kit
    return msgspec.structs.replace(kit, along=_Along(edition, kit, worlds, conditions, " or ".join(where)).found())


class _Along:
    def __init__(self, edition: Edition, kit: Kit, worlds: Worlds, conditions: Conditions, place: str) -> None:
        self._edition, self._kit, self._worlds = edition, kit, worlds
        self._conditions, self._place = conditions, place
        self._fillers: dict[str, _Filler] = {}
        self._aboard: dict[str, int] = {}
        self._grams = 0
        self._worth = Fraction(0)
        self._unknown: dict[str, None] = {}
        self._coarse = False

    def found(self) -> Along:
        """The choice, shown."""
        needs = due(self._edition, self._kit.job)
        roles = [role for role in needs.roles if not role.role.advised]
        for role in roles:
            self._go_anyway(role)
        cases = self._cases([role for role in roles if any(fit.finding for fit in role.fits)])
        conditions = self._conditions
        place = {line.item or line.requirement: number for number, line in reversed(list(enumerate(self._kit.lines)))}
        fillers = sorted(self._fillers.values(), key=lambda one: (
            place.get(one.key.item or one.key.requirement, len(place)), one.name))
        trip = Trip(
            tuple(self._thing(filler, cases) for filler in fillers), tuple(cases),
            Fraction(conditions.stopped), _left(conditions.most_weight, self._grams),
            _left(conditions.most_value, self._worth))
        chosen = choose(trip)
        if self._coarse:  # an amount in between may cost less
            chosen = msgspec.structs.replace(chosen, bound=Fraction(0))
        return self._shown(trip, chosen)

    def _go_anyway(self, role: DueRole) -> None:
        """Count what is certain against the van's limits, and remember the tools."""
        outcomes = [role.outcome(mask).lines for mask in Group(self._worlds, [role]).weights]
        for stage, key in frozenset.intersection(*outcomes) if outcomes else ():
            if key.finding is None and stage:
                filler = self._filler(role, key)
                smallest = key.amount * _size(key.unit)
                self._grams += self._weighed(filler, smallest)
                self._worth += self._valued(filler, smallest)
                if filler.tool:
                    self._aboard[filler.name] = max(self._aboard.get(filler.name, 0), smallest)

    def _cases(self, roles: list[DueRole]) -> list[Case]:
        group = Group(self._worlds, roles)
        weights: dict[tuple[tuple[DueRole, Key], ...], int] = {}
        for mask, weight in group.weights.items():
            lines = tuple(
                (role, key) for role, outcome in group.outcomes(mask)
                for _, key in sorted(outcome.lines, key=lambda line: (line[0], line[1].order)) if key.finding)
            weights[lines] = weights.get(lines, 0) + weight
        total = sum(weights.values())
        return [Case(Fraction(weight, total), self._turns(lines)) for lines, weight in weights.items()]

    def _turns(self, lines: tuple[tuple[DueRole, Key], ...]) -> tuple[Turn, ...]:
        takes: dict[str, dict[str, int]] = {}
        never: set[str] = set()
        for role, key in lines:
            assert key.finding is not None
            of = takes.setdefault(key.finding, {})
            filler = self._filler(role, key)
            smallest = key.amount * _size(key.unit)
            if not acceptable(self._edition, key):
                never.add(key.finding)
            elif not filler.tool:
                of[filler.name] = of.get(filler.name, 0) + smallest
            elif smallest > self._aboard.get(filler.name, 0):
                of[filler.name] = max(of.get(filler.name, 0), smallest)
            if filler.name in of:
                self._fillers.setdefault(filler.name, filler)
        findings = self._edition.findings
        return tuple(
            Turn(name, Fraction(*findings[name].chance), of,
                 tuple(one for one in findings[name].covered_by if one in takes), name in never)
            for name, of in takes.items())

    def _filler(self, role: DueRole, key: Key) -> _Filler:
        tool = role.role.sort == "special tool"
        numbers = acceptable(self._edition, key)
        name = (f"{'tool ' if tool else ''}{'item' if key.item else 'requirement'} {key.item or key.requirement} "
                f"{amount.quantity(key.unit)}")
        return _Filler(name, tool, key, self._edition.item(numbers[0]) if numbers else None)

    def _thing(self, filler: _Filler, cases: list[Case]) -> Thing:
        sums = {0}
        for case in cases:
            taken = [turn.takes[filler.name] for turn in case.turns if filler.name in turn.takes]
            of_case = {0}
            for one in taken:
                of_case |= {one} if filler.tool else {one + other for other in of_case}
                if len(of_case) > MOST_AMOUNTS:
                    self._coarse = True
                    of_case = {*sorted(of_case)[::2], max(of_case)}
            sums |= of_case
        return Thing(filler.name, tuple(
            Amount(one, self._conditions.carrying(filler.grams(one)), Fraction(self._weighed(filler, one)),
                   self._valued(filler, one)) for one in sorted(sums) if one), not filler.tool)

    def _weighed(self, filler: _Filler, smallest: int) -> int:
        if self._conditions.most_weight is not None and filler.item is not None and not filler.item.weight:
            self._unknown[filler.item.number] = None
        return filler.grams(smallest)

    def _valued(self, filler: _Filler, smallest: int) -> Fraction:
        """What so much is worth, in minor units: what is charged for it, or else what a source asks."""
        if self._conditions.most_value is None or filler.item is None or filler.tool:
            return Fraction(0)
        sold = self._edition.selling(filler.item.number)
        each = Fraction(sold.price, sold.per) if sold else self._asked(filler.item.number)
        if each is None:
            self._unknown[filler.item.number] = None
            return Fraction(0)
        return each * smallest / _size(filler.item.unit)

    def _asked(self, number: str) -> Fraction | None:
        """The least price of an item that a source told, in minor units for a thousandth of its unit."""
        currency = self._edition.heading.currency
        rows = [row for line in self._kit.lines if isinstance(line.stock, tuple) for row in line.stock]
        found = [
            Fraction(row.price) * 10**amount.minor_places(currency) / (Fraction(row.per) * 1000)
            for row in rows if row.item == number and row.price is not None and row.per is not None]
        return min(found, default=None)

    def _shown(self, trip: Trip, chosen: Chosen) -> Along:
        currency = self._edition.heading.currency
        hangs = {fact for line in self._kit.lines if line.finding and line.certainty == "possible"
                 for fact in line.hangs_on}
        return Along(
            self._place, currency, tuple(self._taken(trip, chosen, name) for name in chosen.amounts),
            self._left_behind(trip, chosen), _money(chosen.cost, currency), _money(expected_cost(trip, {}), currency),
            _money(trip.stopped, currency), decimal(*chosen.complete.as_integer_ratio()), chosen.proven,
            _money(chosen.bound, currency), tuple(one.fact for one in self._kit.questions if one.fact in hangs),
            tuple(self._unknown))

    def _taken(self, trip: Trip, chosen: Chosen, name: str) -> AlongTaken:
        filler, smallest = self._fillers[name], chosen.amounts[name]
        rest = {other: much for other, much in chosen.amounts.items() if other != name}
        for_it = dict.fromkeys(turn.name for case in trip.cases for turn in case.turns if name in turn.takes)
        grams = filler.grams(smallest)
        return AlongTaken(
            filler.key.item, filler.key.requirement, self._name(filler), amount.show(-(-smallest // _size(
                filler.key.unit))), filler.key.unit, tuple(for_it),
            _money(expected_cost(trip, rest) - chosen.cost, self._edition.heading.currency),
            amount.show(grams) if grams else UNSET)

    def _name(self, filler: _Filler) -> str:
        key = filler.key
        if key.item is not None:
            return self._edition.item(key.item).name
        assert key.requirement is not None
        return self._edition.requirement(key.requirement).requirement.title

    def _left_behind(self, trip: Trip, chosen: Chosen) -> tuple[AlongLeft, ...]:
        takes: dict[str, dict[str, int]] = {}
        weights: dict[str, Fraction] = {}
        never: set[str] = set()
        for case in trip.cases:
            for turn in case.turns:
                weights[turn.name] = weights.get(turn.name, Fraction(0)) + case.weight * turn.chance
                never |= {turn.name} if turn.never else set()
                of = takes.setdefault(turn.name, {})
                for name, much in turn.takes.items():
                    of[name] = max(of.get(name, 0), much)
        found = []
        place = {line.finding: number for number, line in reversed(list(enumerate(self._kit.lines)))}
        for finding, of in sorted(takes.items(), key=lambda one: place.get(one[0], len(place))):
            lacking = {name: much for name, much in of.items() if chosen.amounts.get(name, 0) < much}
            if lacking or finding in never:
                more: Mapping[str, int] = {**chosen.amounts, **lacking}
                cost = None if finding in never else expected_cost(trip, more) - chosen.cost
                found.append(AlongLeft(
                    finding, decimal(*weights[finding].as_integer_ratio()),
                    tuple(self._name(self._fillers[name]) for name in lacking),
                    None if cost is None or not self._fits(trip, more) else _money(
                        cost, self._edition.heading.currency)))
        return tuple(found)

    @staticmethod
    def _fits(trip: Trip, amounts: Mapping[str, int]) -> bool:
        _, weight, value = carrying(trip, amounts)
        return not (trip.most_weight is not None and weight > trip.most_weight) and not (
            trip.most_value is not None and value > trip.most_value)


def _left(most: int | None, taken: int | Fraction) -> Fraction | None:
    """What is left of a limit; none of it where what goes along anyway takes more."""
    return None if most is None else max(Fraction(0), most - Fraction(taken))


def _size(unit: str) -> int:
    """How many of its quantity's smallest unit a unit is."""
    return amount.MEASURED[unit][1] if unit in amount.MEASURED else 1


def _money(minor: Fraction, currency: str) -> str:
    """Minor units as a decimal, rounded half to even."""
    return amount.show_money(round(minor), currency)
