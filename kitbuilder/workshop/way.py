"""One way to a goal as it is worked out: what is charged, what may turn out, when it is done."""

from collections.abc import Callable, Collection, Sequence
from datetime import timedelta
from fractions import Fraction
from typing import Final

from msgspec import UNSET, UnsetType

from kitbuilder import amount
from kitbuilder.calendar.wall import in_utc
from kitbuilder.catalogue.edition import Edition
from kitbuilder.kit.build import build_kit
from kitbuilder.kit.chances import decimal
from kitbuilder.kit.due import DueJob, due
from kitbuilder.kit.events import LineEvent, acceptable, events
from kitbuilder.kit.stages import stage_minutes, stage_parts
from kitbuilder.model.catalogue import SORTS, Box, Key, Sort
from kitbuilder.model.kit import Kit, Line
from kitbuilder.model.options import (
    Advised,
    ChargedPart,
    ChargedStage,
    Choice,
    Cost,
    DepositDue,
    MayTurnOut,
    Span,
    StripDown,
    Sums,
    Waits,
    Way,
)
from kitbuilder.stock.supersede import successors
from kitbuilder.vehicle.statements import Statement, settle
from kitbuilder.vehicle.worlds import Worlds
from kitbuilder.workshop.asked import Asked, When, at_site, day_of
from kitbuilder.workshop.at_hand import Finish, Shelves, Wanted, finish
from kitbuilder.workshop.charges import Charges, Price, PriceOf, half_up, selling_prices, smallest
from kitbuilder.workshop.costs import source_prices
from kitbuilder.workshop.together import Term, extremes
from kitbuilder.workshop.turns import TOOL, Want, cases, chance_of_any, chance_used, role_price, want_price

#: What a customer isn't told one by one.
SMALL: Final[tuple[Sort, ...]] = ("single-use", "consumable")


class OneWay:
    """A job type as a way to its goal, under some statements. Raises as build_kit does."""

    def __init__(self, edition: Edition, job: str, statements: Sequence[Statement], charges: Charges,
                 when: When | None, asked: Asked | None) -> None:
        self.edition, self.job, self.charges, self.when, self.asked = edition, job, charges, when, asked
        self.currency = edition.heading.currency
        self.statements = statements
        self.kit: Kit = build_kit(edition, job, statements)
        self.needs: DueJob = due(edition, job)
        self.worlds: Worlds = settle(edition.space, edition.tables, statements).worlds
        # the kit's lines are made of these, one by one
        self.lines: list[tuple[Line, LineEvent]] = list(
            zip(self.kit.lines, events(edition, self.needs, self.worlds).lines, strict=True))
        self.sold = selling_prices(edition)
        self.cases = cases(edition, self.needs, self.worlds)
        self.weight = sum(case.weight for case in self.cases)

    def way(self) -> Way:
        """All of it."""
        done, shelves = self._finish()
        waits = tuple(
            Waits(one.line.stage, one.line.name, amount.show(one.line.milli), one.line.unit,
                  at_site(one.until, self.when) if one.until is not None and self.when else None,
                  "a source failed" if one.unsure else "nothing brings it" if one.until is None else "arrives later")
            for one in (done.late if done else ()))
        return Way(
            self._choice(done), waits, self._strip_down(done, shelves),
            tuple(one.text for one in self.kit.problems), self._cost())

    # what is charged

    def _choice(self, done: Finish | None) -> Choice:
        turns = self._may_turn_out()
        parts = tuple(self._part(line, event) for line, event in self._charged())
        unpriced = tuple(dict.fromkeys(part.name for part in parts if part.price is None))
        return Choice(
            self.job, self.needs.job.title, self._sums(), parts, self._stages(), self._deposits(), turns,
            self._advised(), unpriced, self._hangs_on(),
            at_site(done.earliest, self.when) if done and done.earliest and self.when else None,
            at_site(done.latest, self.when) if done and done.latest and self.when else None)

    def _charged(self) -> list[tuple[Line, LineEvent]]:
        """The lines that are charged for in any case: without a finding, not chosen by the customer, no tools."""
        return [(line, event) for line, event in self.lines
                if line.finding is None and line.sort != TOOL and not event.role.role.advised]

    def _part(self, line: Line, event: LineEvent) -> ChargedPart:
        price = self.sold(event.key)
        item = price.item if price else line.item
        name = line.name if line.item or not item else self.edition.item(item).name
        return ChargedPart(
            line.stage, line.role, line.title, name, item, line.amount, line.unit, line.sort, line.certainty,
            line.hangs_on, line.when, self._span(price) if price else None)

    def _span(self, both: tuple[int, int] | Price) -> Span:
        return Span(self._money(both[0]), self._money(both[1]))

    def _taxed(self, both: tuple[int, int] | Price) -> Span:
        return self._span((self.charges.with_tax(both[0]), self.charges.with_tax(both[1])))

    def _money(self, minor: int) -> str:
        return amount.show_money(minor, self.currency)

    def _terms(self, price_of: PriceOf, sorts: Collection[Sort] = SORTS) -> list[Term]:
        """The lines of each role that is charged for and is of certain sorts, as a part of the sum."""

        def term(number: int) -> Term:
            role = self.needs.roles[number]

            def value(mask: int) -> tuple[int, int]:
                keys = [key for _, key in role.outcome(mask).lines if key.finding is None]
                return role_price(role.role, keys, price_of)

            return Term(role.rows, value)

        return [term(number) for number, role in enumerate(self.needs.roles)
                if not role.role.advised and role.role.sort in sorts]

    def _labour_terms(self) -> list[Term]:
        def term(parts: Sequence[tuple[Box, int]]) -> Term:
            def value(mask: int) -> tuple[int, int]:
                price = self.charges.labour(sum(one for bit, (_, one) in enumerate(parts) if mask >> bit & 1))
                return price, price

            return Term([box for box, _ in parts], value)

        return [term(parts) for parts in stage_parts(self.edition, self.job).values()]

    def _sums(self) -> Sums:
        parts, labour = self._terms(self.sold), self._labour_terms()
        net = extremes(self.worlds, parts + labour)
        rated, taxed = self.charges.rate is not None, bool(self.charges.tax)
        extra = half_up(*self._expected().as_integer_ratio())
        return Sums(
            self._span(extremes(self.worlds, parts)),
            self._span(extremes(self.worlds, self._terms(self.sold, SMALL))),
            self._span(extremes(self.worlds, labour)) if rated else None, self._span(net),
            self._span((self.charges.tax_on(net[0]), self.charges.tax_on(net[1]))) if taxed else None,
            self._taxed(net), self._span(extremes(self.worlds, self._terms(self._deposit_of))),
            self._money(extra), self._taxed((net[0] + extra, net[1] + extra)))

    def _stages(self) -> tuple[ChargedStage, ...]:
        labour, rated = self.charges.labour, self.charges.rate is not None
        return tuple(
            ChargedStage(one.name, one.least, one.most,
                         self._span((labour(one.least), labour(one.most))) if rated else None)
            for one in stage_minutes(self.edition, self.job, self.statements))

    def _advised(self) -> tuple[Advised, ...]:
        found = []
        for line, event in self.lines:
            if event.role.role.advised and line.finding is None and line.sort != TOOL:
                price = self.sold(event.key)
                found.append(Advised(line.title, line.name, line.certainty, self._span(price) if price else None,
                                     self._taxed(price) if price else None))
        return tuple(found)

    def _hangs_on(self) -> tuple[str, ...]:
        """The facts that parts or minutes hang on, in the order of facts.toml."""
        named = {fact for line, _ in self._charged() for fact in line.hangs_on}
        minutes = stage_minutes(self.edition, self.job, self.statements)
        for one, parts in zip(minutes, stage_parts(self.edition, self.job).values(), strict=True):
            if one.least != one.most:
                named |= {
                    self.edition.facts[fact].name for box, _ in parts for fact in box if not self.worlds.settled(fact)}
        return tuple(fact.name for fact in self.edition.facts if fact.name in named)

    # deposits

    def _deposit_of(self, key: Key) -> Price | None:
        """The deposit of a line with the tax that is asked with it."""
        for number in acceptable(self.edition, key):
            exchange = self.edition.exchange(number)
            if exchange is not None and exchange.deposit:
                deposit = half_up(exchange.deposit * key.amount, 1000)
                asked = deposit + self.charges.deposit_taxed(deposit)
                return Price(asked, asked, number)
        return None

    def _deposits(self) -> tuple[DepositDue, ...]:
        found = [self._deposit(event.key, line.certainty == "certain", None) for line, event in self._charged()]
        seen = set()
        for case in self.cases:
            for finding, want in case.wants.items():
                for _, key in want.lines:
                    if (finding, key) not in seen:
                        seen.add((finding, key))
                        found.append(self._deposit(key, False, finding))
        return tuple(one for one in found if one is not None)

    def _deposit(self, key: Key, certain: bool, finding: str | None) -> DepositDue | None:
        price = self._deposit_of(key)
        exchange = self.edition.exchange(price.item) if price else None
        if price is None or exchange is None:
            return None
        bare = half_up(exchange.deposit * key.amount, 1000)
        back_by = None
        if exchange.days and self.when is not None:
            # counted from the day the work starts: a customer who goes by it is never too late
            back_by = (self.when.day + timedelta(days=exchange.days)).isoformat()
        return DepositDue(
            price.item, self.edition.item(price.item).name, self._money(bare), self._money(price.most - bare), back_by,
            exchange.state, "certain" if certain else "possible", finding)

    # what may turn out

    def _expected(self) -> Fraction:
        """What findings add on average, in minor units, exactly; where a fill may take less, its most counts."""
        total = Fraction(0)
        for case in self.cases:
            for name, want in case.wants.items():
                used = chance_used(case, self.edition.findings[name], self.edition.findings)
                total += case.weight * used * self._adds(want)[1]
        return total / self.weight

    def _adds(self, want: Want) -> tuple[int, int]:
        return want_price(want, self.sold, self.charges.labour)

    def _may_turn_out(self) -> tuple[MayTurnOut, ...]:
        """The findings, by the stage at which each turns out, then in the order of the catalogue."""
        stages = [stage.name for stage in self.needs.job.stages]
        findings = self.edition.findings
        found = []
        for place, (name, finding) in enumerate(findings.items()):
            wants = [(case, case.wants[name]) for case in self.cases if name in case.wants]
            if not wants:
                continue
            used = [(Fraction(case.weight) * chance_used(case, finding, findings), want) for case, want in wants]
            adds = [self._adds(want) for _, want in used]
            chance = sum((part for part, _ in used), Fraction(0)) / self.weight
            average = sum((part * most for (part, _), (_, most) in zip(used, adds, strict=True)), Fraction(0))
            unpriced = dict.fromkeys(
                self._name(key) for _, want in used for role, key in want.lines
                if role.sort != TOOL and self.sold(key) is None)
            both = min(one[0] for one in adds), max(one[1] for one in adds)
            turns = finding.turns_into if finding.turns_into != self.job else ""
            found.append((min(stages.index(want.stage) for _, want in used), place, MayTurnOut(
                name, finding.title, decimal(chance.numerator, chance.denominator),
                self._span(both), self._taxed(both),
                self._money(half_up(*(average / self.weight).as_integer_ratio())),
                self.edition.job(turns).job.title if turns else None, tuple(unpriced))))
        return tuple(one for *_, one in sorted(found, key=lambda one: one[:2]))

    def _name(self, key: Key) -> str:
        if key.item is not None:
            return self.edition.item(key.item).name
        assert key.requirement is not None
        return self.edition.requirement(key.requirement).requirement.title

    # stock and time

    def _finish(self) -> tuple[Finish | None, Shelves | None]:
        shelves = Shelves(self.asked.answers, self.asked.now) if self.asked else None
        if self.when is None:
            return None, shelves
        sure = [self._wanted(line, event) for line, event in self._charged() if line.certainty == "certain"]
        rest = [self._wanted(line, event) for line, event in self._charged() if line.certainty != "certain"]
        minutes = stage_minutes(self.edition, self.job, self.statements)
        return finish(self.when.site, self.when.start, minutes, sure, rest, shelves), shelves

    def _wanted(self, line: Line, event: LineEvent) -> Wanted:
        return Wanted(line.stage, line.name, event.key.amount, line.unit, self._items(event.key),
                      event.role.role.circuit)

    def _items(self, key: Key) -> tuple[str, ...]:
        """What may be taken for a line; whoever looks into stock looks for what has taken an item's place too."""
        items = acceptable(self.edition, key)
        if self.asked is None:
            return items
        return successors(items, self.edition.supersessions, day_of(self.when, self.asked.now))

    def _strip_down(self, done: Finish | None, shelves: Shelves | None) -> StripDown:
        at_hand: dict[tuple[str, Key], bool] = {}

        def there(stage: str, key: Key) -> bool:
            if (stage, key) not in at_hand:
                ready = [shelves.ready(item, smallest(key.amount, key.unit)) for item in self._items(key)] \
                    if shelves else []
                start = done.starts[stage] if done else in_utc(self.asked.now) if self.asked else None
                at_hand[stage, key] = any(one is not None and start is not None and one <= start for one in ready)
            return at_hand[stage, key]

        total, about = Fraction(0), set()
        for case in self.cases:
            lacking = [name for name, want in case.wants.items() if self._lacks(want, there)]
            about |= set(lacking)
            total += case.weight * chance_of_any(case, lacking, self.edition.findings)
        chance = total / self.weight
        return StripDown(decimal(chance.numerator, chance.denominator),
                         tuple(name for name in self.edition.findings if name in about))

    def _lacks(self, want: Want, there: Callable[[str, Key], bool]) -> bool:
        return any(role.sort != TOOL and not there(want.stage, key) for role, key in want.lines)

    def _cost(self) -> Cost | UnsetType:
        if self.asked is None or not self.asked.cost:
            return UNSET
        price_of = source_prices(self.edition, self.asked.answers, day_of(self.when, self.asked.now))
        unpriced = dict.fromkeys(line.name for line, event in self._charged() if price_of(event.key) is None)
        return Cost(self._span(extremes(self.worlds, self._terms(price_of))), tuple(unpriced))
