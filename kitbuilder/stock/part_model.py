"""One part of a problem as a whole-number model, whose levels are the fields of a plan's value."""

from collections.abc import Collection, Sequence
from typing import Final, NamedTuple

import msgspec

from kitbuilder.model.plan import Value
from kitbuilder.stock.components import Column, Order, Problem, Row
from kitbuilder.stock.draft import Draft, trim
from kitbuilder.stock.grain import grain_of
from kitbuilder.stock.lines import LineModel, Ordering, Taker
from kitbuilder.stock.packs import fewest
from kitbuilder.stock.scarce import scarce
from kitbuilder.stock.service import SERVICE, Served
from kitbuilder.stock.slots import alike
from kitbuilder.stock.terms import Key
from kitbuilder.stock.ways import Binding, bindings_of, ways_taken, weight_of
from kitbuilder.stock.whole import Model, Terms, value

#: need, item, source, slot
Choice = tuple[str, str, str, str]


class Must(NamedTuple):
    """Needs, by name, that must be filled, and bookings that mustn't be short."""

    needs: frozenset[str] = frozenset()
    bookings: frozenset[int] = frozenset()


NOTHING: Final = Must()


def choice_of(need: str, key: Key) -> Choice:
    """What makes two plans different: not the lot."""
    return (need, key[1], key[0], key[3])


class PartModel:
    """Variables: of each column, how many steps are taken; of each need, what is missing and whether anything is; of
    each booking, whether it is short, and at which delays something comes; of each circuit, its item; of each
    binding, its way."""

    def __init__(self, problem: Problem, chosen: Collection[Choice], *, differ: bool = False,
                 must: Must = NOTHING, served: Sequence[Served] = ()) -> None:
        """`must`: what no answer leaves unfilled; `served`: how well some bookings are served in every answer."""
        self.problem, self.model = problem, Model()
        self.grain = grain_of(problem, fine=differ)
        self.fields: dict[str, Terms] = {name: {} for name in Value.__struct_fields__}
        # what the fields are at least, whatever is chosen
        self.always: dict[str, int] = dict.fromkeys(Value.__struct_fields__, 0)
        self.must = must
        self.taken: dict[tuple[str, Key], tuple[int, int]] = {}
        self.missing: dict[str, tuple[int, int]] = {}
        self.kept: list[tuple[str, Column, int]] = []
        self.short: dict[int, int] = {}
        self.late: dict[int, dict[int, int]] = {}
        self.circuits: dict[tuple[tuple[int, str], str], int] = {}
        self.trips: dict[Order, int] = {}
        self.always["changes"] = sum(
            row.lost + sum(column.held > row.most for column in row.columns) for row in problem.rows)
        self.ways: dict[Binding, dict[int, int]] = {}
        self._bookings()
        self._bindings()
        groups = [(key,) for key in self._bought()] if differ else alike(problem)
        self.first = {key: group[0] for group in groups for key in group}
        self.several = {key for group in groups if len(group) > 1 for key in group}
        for row in problem.rows:
            self._need(row)
        self._limits()
        self._scarce()
        self.ordering = Ordering(self.model, problem, self.grain, self.fields["money"])
        self.lines: dict[Key, LineModel] = {}
        self._lines(groups)
        self.settled: set[int] = set()
        for one in served:
            self._settle(one)
        if differ:
            self._differ(chosen)

    def levels(self) -> list[Terms]:
        """The fields of the value, in order, but for what is settled."""
        return [{variable: times for variable, times in terms.items() if variable not in self.settled}
                for terms in self.fields.values()]

    def _settle(self, served: Served) -> None:
        names = {row.need.name for row in self.problem.rows if row.need.booking in served.bookings}
        mine = {variable for booking in served.bookings & self.short.keys()
                for variable in (self.short[booking], *self.late[booking].values())}
        mine |= {variable for name in names & self.missing.keys() for variable in self.missing[name]}
        for field in SERVICE:
            terms = {variable: times for variable, times in self.fields[field].items() if variable in mine}
            if terms:
                most = getattr(served.value, field) // (self.grain if field == "missing_amount" else 1)
                self.model.row(None, most, terms, 1)
        self.settled |= mine

    def _bookings(self) -> None:
        rows: dict[int, list[Row]] = {}
        for row in self.problem.rows:
            rows.setdefault(row.need.booking, []).append(row)
        for booking, mine in rows.items():
            vor = "_vor" if any(row.need.vor for row in mine) else ""
            self.short[booking] = self.model.choice()
            if booking in self.must.bookings or all(row.sure for row in mine):
                self.model.upper[self.short[booking]] = 0
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

    def _bindings(self) -> None:
        for binding, needs in bindings_of([row.need for row in self.problem.rows]).items():
            ways = self.ways[binding] = {}
            for way in sorted({way for need in needs for way in need.ways}):
                ways[way] = self.model.choice()
                if weight_of(needs, way):
                    self.fields["preference"][ways[way]] = weight_of(needs, way) // self.grain
            self.model.row(1, 1, dict.fromkeys(ways.values(), 1))

    def _counts(self, row: Row, times: int) -> Terms:
        """So much, less, if the way that is taken needs what this need asks for; nothing if it always does."""
        ways = self.ways.get((row.need.booking, row.need.binding), {})
        return {ways[way]: -times for way in row.need.ways}

    def _need(self, row: Row) -> None:
        name, booking, grain = row.need.name, row.need.booking, self.grain
        most = row.most // grain
        for column in row.columns:
            width = grain if grain % column.step == 0 else column.step
            first = (name, self.first.get(column.key, column.key))
            if first not in self.taken:  # one for all slots of a line that is bought in one
                self.taken[first] = (self.model.variable(row.most // width), width)
            self.taken[name, column.key] = self.taken[first]
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
            after = self._sum(row, [column for column in row.columns
                                    if column.delay >= delay and column.key not in self.several])
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
        lack, lacks = self.model.variable(0 if name in self.must.needs else row.quantity // grain), self.model.choice()
        self.missing[name] = (lack, lacks)
        self.fields["missing"][lacks] = 1
        self.fields["missing_amount"][lack] = 1
        exact = all(row.quantity % column.step == 0 for column in row.columns)
        wanted, counts = row.quantity // grain, self._counts(row, row.quantity // grain)
        always = 0 if counts else wanted
        self.model.row(always, always if exact else None, {**given, **counts, lack: 1})
        if not exact:
            self.model.row(None, 0 if counts else most, {**given, **self._counts(row, most)})
        if counts and name in self.must.needs:
            self.model.row(1, None, dict.fromkeys(counts, 1))
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
        for least, late in scarce(self.problem, self.grain, self.short, self.late):
            self.model.row(least, None, late)

    def _bought(self) -> list[Key]:
        return list(dict.fromkeys(
            column.key for row in self.problem.rows for column in row.columns if not column.own))

    def _lines(self, groups: Sequence[tuple[Key, ...]]) -> None:
        takers: dict[Key, dict[str, dict[Key, int]]] = {}
        rows = {row.need.name: row for row in self.problem.rows}
        for row in self.problem.rows:
            for column in row.columns:
                if not column.own:
                    mine = takers.setdefault(self.first[column.key], {})
                    mine.setdefault(row.need.name, {})[column.key] = column.delay
        for group in groups:
            line = self.ordering.line(group, [
                Taker(*self.taken[name, group[0]], rows[name].most, frozenset(delays))
                for name, delays in takers[group[0]].items()])
            self.lines |= dict.fromkeys(group, line)
            if len(group) > 1:
                for name, delays in takers[group[0]].items():
                    self._waits(rows[name], delays, line)
        self.ordering.finish()

    def _waits(self, row: Row, delays: dict[Key, int], line: LineModel) -> None:
        """What comes in one of several slots makes its booking late unless that slot is soon enough."""
        variable, width = self.taken[row.need.name, line.keys[0]]
        most = row.most // self.grain
        for delay, late in self.late[row.need.booking].items():
            if any(delays.get(key, 0) >= delay for key in line.keys):
                soon = [slot for key, slot in zip(line.keys, line.slots, strict=False)
                        if delays.get(key, delay) < delay]
                self.model.row(None, 0, {variable: width // self.grain, **dict.fromkeys(soon, -most), late: -most,
                                         self.short[row.need.booking]: -most})

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
        for (name, key), (variable, width) in self.taken.items():
            if answer[variable] and (key not in self.lines or self.lines[key].key_of(answer) == key):
                draft.taken[name, key] = answer[variable] * width
        trim(self.problem, draft)
        taken = {key for (_, key), amount in draft.taken.items() if amount}
        for key, line in self.lines.items():
            packs = line.packs_of(answer)
            if packs and key in taken:  # an answer that isn't the best one may buy what nobody takes
                draft.bought[key] = fewest(line.line, packs)
        return draft

    def value_of(self, answer: list[int]) -> Value:
        """The value of the plan that an answer says, by the levels."""
        return Value(*(self.told(place, value(terms, answer)) for place, terms in enumerate(self.fields.values())))

    def told(self, place: int, amount: int) -> int:
        """What a level's sum means for its field."""
        name = Value.__struct_fields__[place]
        grain = self.grain if name in ("missing_amount", "use_by", "lots", "preference") else 1
        return amount * grain + self.always[name]

    def known(self, least: Value) -> list[int]:
        """What the levels' sums are at least, one after the other, if no plan is better than one of a value; as far as
        that says anything."""
        found: list[int] = []
        for name, field in zip(Value.__struct_fields__, msgspec.structs.astuple(least), strict=True):
            grain = self.grain if name in ("missing_amount", "use_by", "lots", "preference") else 1
            if field < self.always[name]:
                return [*found, *[0] * (len(Value.__struct_fields__) - len(found))]
            found.append(-(-(field - self.always[name]) // grain))
        return found

    def answer_of(self, draft: Draft) -> list[int] | None:
        """The answer that says a plan, None if its amounts don't fit the model's grain."""
        answer = list(self.model.lower)
        for at, amount in draft.taken.items():
            variable, width = self.taken[at]
            taken, rest = divmod(amount, width)
            if rest:
                return None
            answer[variable] += taken
        given = {row.need.name: sum(draft.taken.get((row.need.name, column.key), 0) for column in row.columns)
                 for row in self.problem.rows}
        ways = ways_taken([row.need for row in self.problem.rows], given)
        for binding, way in ways.items():
            answer[self.ways[binding][way]] = 1
        for row in self.problem.rows:
            name, booking = row.need.name, row.need.booking
            if row.need.binding and ways[booking, row.need.binding] not in row.need.ways:
                continue
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
            self.lines[key].answer(key, packs, answer)
        self.ordering.answer(answer)
        return answer
