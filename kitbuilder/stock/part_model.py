"""One part of a problem as a whole-number model, whose levels are the fields of a plan's value."""

from collections.abc import Collection
from functools import reduce
from math import gcd

from kitbuilder.model.plan import Value
from kitbuilder.stock.components import Column, Line, Order, Problem, Row
from kitbuilder.stock.draft import Draft, trim
from kitbuilder.stock.lines import LineModel, Ordering
from kitbuilder.stock.packs import fewest
from kitbuilder.stock.terms import Key
from kitbuilder.stock.whole import Model, Terms, value

#: need, item, source, slot
Choice = tuple[str, str, str, str]


def choice_of(need: str, key: Key) -> Choice:
    """What makes two plans different: not the lot."""
    return (need, key[1], key[0], key[3])


class PartModel:
    """Variables: of each column, how many steps are taken; of each need, what is missing and whether anything is; of
    each booking, whether it is short, and at which delays something comes; of each circuit, its item."""

    def __init__(self, problem: Problem, chosen: Collection[Choice], *, differ: bool = False) -> None:
        self.problem, self.model = problem, Model()
        self.grain = _grain(problem, fine=differ)
        self.fields: dict[str, Terms] = {name: {} for name in Value.__struct_fields__}
        # what the fields are at least, whatever is chosen
        self.always: dict[str, int] = dict.fromkeys(Value.__struct_fields__, 0)
        self.taken: dict[tuple[str, Key], tuple[int, int]] = {}
        self.missing: dict[str, tuple[int, int]] = {}
        self.kept: list[tuple[str, Column, int]] = []
        self.short: dict[int, int] = {}
        self.late: dict[int, dict[int, int]] = {}
        self.circuits: dict[tuple[tuple[int, str], str], int] = {}
        self.trips: dict[Order, int] = {}
        self.always["changes"] = sum(
            row.lost + sum(column.held > row.most for column in row.columns) for row in problem.rows)
        self._bookings()
        for row in problem.rows:
            self._need(row)
        self._limits()
        self._scarce()
        self.ordering = Ordering(self.model, problem, self.grain, self.fields["money"])
        self.lines: dict[Key, LineModel] = {}
        self._lines()
        if differ:
            self._differ(chosen)

    def levels(self) -> list[Terms]:
        """The fields of the value, in order."""
        return list(self.fields.values())

    def _bookings(self) -> None:
        rows: dict[int, list[Row]] = {}
        for row in self.problem.rows:
            rows.setdefault(row.need.booking, []).append(row)
        for booking, mine in rows.items():
            vor = "_vor" if any(row.need.vor for row in mine) else ""
            self.short[booking] = self.model.choice()
            self.fields[f"short{vor}"][self.short[booking]] = 1
            self.fields[f"not_on_time{vor}"][self.short[booking]] = 1
            self.late[booking] = {}
            before = 0
            for delay in sorted({column.delay for row in mine for column in row.columns} - {0}):
                variable = self.late[booking][delay] = self.model.choice()
                if not before:
                    self.fields[f"not_on_time{vor}"][variable] = 1
                self.fields[f"delay{vor}_s"][variable] = delay - before
                before = delay

    def _need(self, row: Row) -> None:
        name, booking, grain = row.need.name, row.need.booking, self.grain
        most = row.most // grain
        for column in row.columns:
            width = grain if grain % column.step == 0 else column.step
            variable = self.model.variable(row.most // width)
            self.taken[name, column.key] = (variable, width)
        for field in ("use_by", "lots", "preference"):
            least = min(getattr(column, field) for column in row.columns) if row.sure else 0
            self.always[field] += least * row.quantity
            for column in row.columns:
                if getattr(column, field) > least:
                    variable, width = self.taken[name, column.key]
                    self.fields[field][variable] = (getattr(column, field) - least) * (width // grain)
        self._trips(row, most)
        given = self._sum(row, row.columns)
        if row.sure:
            self.model.row(row.quantity // grain, row.quantity // grain, given)
        else:
            self._lacks(row, given)
        for delay, late in self.late[booking].items():
            after = self._sum(row, [column for column in row.columns if column.delay >= delay])
            if after:
                self.model.row(None, 0, {**after, late: -most, self.short[booking]: -most})
        self._circuit(row, most)
        for column in row.columns:
            if 0 < column.held <= row.most:
                changed = self.model.choice()
                self.kept.append((name, column, changed))
                self.fields["changes"][changed] = 1
                variable, width = self.taken[name, column.key]
                self.model.row(column.held // grain, None, {variable: width // grain, changed: column.held // grain})

    def _trips(self, row: Row, most: int) -> None:
        for trip in sorted({column.trip for column in row.columns if column.trip is not None}):
            fee = self.problem.orders[trip][0]
            if fee:
                if trip not in self.trips:
                    self.trips[trip] = self.model.choice()
                    self.fields["money"][self.trips[trip]] = fee
                brought = self._sum(row, [column for column in row.columns if column.trip == trip])
                self.model.row(None, 0, {**brought, self.trips[trip]: -most})

    def _lacks(self, row: Row, given: Terms) -> None:
        """A need may be left unfilled, wholly or in part: then its booking is short."""
        name, booking, grain = row.need.name, row.need.booking, self.grain
        most = row.most // grain
        lack, lacks = self.model.variable(row.quantity // grain), self.model.choice()
        self.missing[name] = (lack, lacks)
        self.fields["missing"][lacks] = 1
        self.fields["missing_amount"][lack] = 1
        exact = all(row.quantity % column.step == 0 for column in row.columns)
        self.model.row(row.quantity // grain, row.quantity // grain if exact else None, {**given, lack: 1})
        if not exact:
            self.model.row(None, most, given)
        self.model.row(0, None, {lacks: row.quantity // grain, lack: -1})
        self.model.row(0, None, {self.short[booking]: 1, lacks: -1})

    def _sum(self, row: Row, columns: Collection[Column]) -> Terms:
        """What a need takes from some columns, in grains."""
        pairs = [self.taken[row.need.name, column.key] for column in columns]
        return {variable: width // self.grain for variable, width in pairs}

    def _circuit(self, row: Row, most: int) -> None:
        if row.circuit is None:
            return
        for item in sorted({column.key[1] for column in row.columns}):
            if (row.circuit, item) not in self.circuits:
                self.circuits[row.circuit, item] = self.model.choice()
            of_item = self._sum(row, [column for column in row.columns if column.key[1] == item])
            self.model.row(None, 0, {**of_item, self.circuits[row.circuit, item]: -most})

    def _limits(self) -> None:
        for circuit in sorted({circuit for circuit, _ in self.circuits}):
            self.model.row(None, 1, {variable: 1 for (one, _), variable in self.circuits.items() if one == circuit})
        for limit, members in self.problem.limits():
            pairs = [self.taken[self.problem.rows[number].need.name, column.key] for number, column in members]
            self.model.row(None, limit // self.grain, {variable: width // self.grain for variable, width in pairs})

    def _scarce(self) -> None:
        """What follows from the other rows where pools run out: of the needs that only some pools can fill by a delay,
        no more are filled by then than the pools hold. It says of bookings alone what else is spread over many rows,
        and makes the search much shorter."""
        by_pools: dict[frozenset[Key], list[tuple[Row, int | None]]] = {}
        for row in self.problem.rows:
            for delay in (*sorted(self.late[row.need.booking]), None):
                pools = frozenset(
                    self.problem.pool_of[column.key] for column in row.columns if delay is None or column.delay < delay)
                if pools <= self.problem.pools.keys():
                    by_pools.setdefault(pools, []).append((row, delay))
        by_first: dict[Key, list[frozenset[Key]]] = {}
        for pools in by_pools:
            if pools:
                by_first.setdefault(min(pools), []).append(pools)
        for pools in by_pools:
            latest: dict[str, tuple[Row, int | None]] = {}
            within = [one for pool in sorted(pools) for one in by_first.get(pool, ()) if one <= pools]
            for others in (frozenset[Key](), *within):
                for row, delay in by_pools.get(others, ()):
                    before = latest.get(row.need.name)
                    if before is None or (before[1] is not None and (delay is None or delay > before[1])):
                        latest[row.need.name] = (row, delay)
            late: Terms = {}
            wanted = 0
            for row, delay in latest.values():
                quantity, booking = row.quantity // self.grain, row.need.booking
                wanted += quantity
                for variable in (self.short[booking], *(() if delay is None else (self.late[booking][delay],))):
                    late[variable] = late.get(variable, 0) + quantity
            there = sum(self.problem.pools[pool] // self.grain for pool in pools)
            if wanted > there:
                self.model.row(wanted - there, None, late)

    def _lines(self) -> None:
        takers: dict[Key, list[Row]] = {}
        for row in self.problem.rows:
            for column in row.columns:
                if not column.own:
                    takers.setdefault(column.key, []).append(row)
        for key, rows in takers.items():
            mine = [(*self.taken[row.need.name, key], row.most) for row in rows]
            self.lines[key] = self.ordering.line(key, mine)
        self.ordering.finish()

    def _differ(self, chosen: Collection[Choice]) -> None:
        """Some choice is another one: not taken though chosen, or taken though not."""
        others: Terms = {}
        for row in self.problem.rows:
            by_choice: dict[Choice, list[Column]] = {}
            for column in row.columns:
                by_choice.setdefault(choice_of(row.need.name, column.key), []).append(column)
            for choice, columns in by_choice.items():
                other = self.model.choice()
                others[other] = 1
                given, most = self._sum(row, columns), row.most // self.grain
                if choice in chosen:
                    self.model.row(None, most, {**given, other: most})
                else:
                    self.model.row(0, None, {**dict.fromkeys(given, 1), other: -1})
        self.model.row(1, None, others)

    def draft_of(self, answer: list[int]) -> Draft:
        """The plan that an answer says."""
        draft = Draft()
        for at, (variable, width) in self.taken.items():
            if answer[variable]:
                draft.taken[at] = answer[variable] * width
        for key, line in self.lines.items():
            packs = line.packs_of(answer)
            if packs:
                draft.bought[key] = fewest(line.line, packs)
        trim(self.problem, draft)
        return draft

    def value_of(self, answer: list[int]) -> Value:
        """The value of the plan that an answer says, by the levels."""
        return Value(*(self.told(place, value(terms, answer)) for place, terms in enumerate(self.fields.values())))

    def told(self, place: int, amount: int) -> int:
        """What a level's sum means for its field."""
        name = Value.__struct_fields__[place]
        grain = self.grain if name in ("missing_amount", "use_by", "lots", "preference") else 1
        return amount * grain + self.always[name]

    def answer_of(self, draft: Draft) -> list[int] | None:
        """The answer that says a plan, None if its amounts don't fit the model's grain."""
        answer = list(self.model.lower)
        for at, amount in draft.taken.items():
            variable, width = self.taken[at]
            answer[variable], rest = divmod(amount, width)
            if rest:
                return None
        for row in self.problem.rows:
            name, booking = row.need.name, row.need.booking
            lack = row.quantity - sum(draft.taken.get((name, column.key), 0) for column in row.columns)
            if lack > 0 and name in self.missing:
                answer[self.missing[name][0]] = lack // self.grain
                answer[self.missing[name][1]] = answer[self.short[booking]] = 1
        for row in self.problem.rows:
            for column in row.columns:
                if not draft.taken.get((row.need.name, column.key), 0):
                    continue
                if column.trip in self.trips:
                    answer[self.trips[column.trip]] = 1
                if row.circuit is not None:
                    answer[self.circuits[row.circuit, column.key[1]]] = 1
                if not answer[self.short[row.need.booking]]:
                    for delay, late in self.late[row.need.booking].items():
                        answer[late] |= column.delay >= delay
        for name, column, changed in self.kept:
            answer[changed] = int(draft.taken.get((name, column.key), 0) < column.held)
        for key, packs in draft.bought.items():
            self.lines[key].answer(packs, answer)
        self.ordering.answer(answer)
        return answer


def _grain(problem: Problem, *, fine: bool) -> int:
    """The largest amount of which all that a best plan takes is a multiple.

    With all choices of yes or no made, what is taken flows from pools to needs, so amounts are whole multiples of
    whatever divides all limits. Where an order's minimum, or the wish for another choice, makes a single step count,
    it is that step (`fine`).
    """
    amounts = [limit for limit, _ in problem.limits()]
    lines: dict[Key, Line] = {}
    orders: set[Order] = set()
    steps: list[int] = []
    for row in problem.rows:
        amounts.append(row.quantity)
        for column in row.columns:
            amounts.append(column.held)
            steps.append(column.step)
            if not column.own:
                lines[column.key] = problem.lines[column.key]
                orders.add(lines[column.key].order)
    amounts += [pack for line in lines.values() for pack in line.packs]
    grain = reduce(gcd, amounts, 0)
    if fine or any(problem.orders[order][1] for order in orders):
        grain = reduce(gcd, steps, grain)
    # a step that doesn't divide the grain has its own width, which the grain then divides
    return reduce(lambda found, one: found if found % one == 0 else gcd(found, one), sorted(steps), grain)
