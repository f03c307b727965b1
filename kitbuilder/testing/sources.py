"""Checks of a stock source."""

import threading
import time
from collections.abc import Callable, Mapping
from datetime import UTC, datetime, timedelta
from fractions import Fraction
from pathlib import Path
from typing import Any

import msgspec

from kitbuilder import amount
from kitbuilder.hooks import Context, ShelfView, SourceKind, StockSource
from kitbuilder.model.offer import Offer, Price, Quote, QuoteRequest, Wanted
from kitbuilder.model.stock_elsewhere import IssueRequest
from kitbuilder.plugins import Plugins
from kitbuilder.settings import PluginSettings, Settings
from kitbuilder.stock.quoting import Answer, ask_sources
from kitbuilder.stock.seam import checked

#: What a source may say that it does.
DOES = frozenset({"quote", "hold", "release", "issue", "take back", "order", "order status"})
#: An item that no source has: it looks like no number of anybody's.
STRANGE = Wanted("~ no such item ~", "each")


class SourceCase(msgspec.Struct, frozen=True, kw_only=True):
    """A source to be checked, and what is true of it.

    `kind` is what the hook registers; `settings` its own keys, `folder` where their paths start; `currency` is the
    catalogue's, `now` what counts as now, `deadline_s` as in the settings; `shelf` a view of a shelf if it needs one.
    `has`: for each item that it is asked for, how much it has in all ("0": none; None: as much as is asked for), a
    decimal in the item's unit. `prices`: for some items their dearest price for one of the unit, as a decimal.
    `unreadable`: items of which it can't tell. `told_at`: of when its answer is (without: of any time up to now).
    `breaks` makes it unable to answer (the file is gone, the service is down); `hangs` makes it slow beyond its
    deadline.
    """

    kind: SourceKind
    settings: Mapping[str, Any]
    folder: Path
    has: Mapping[Wanted, str | None]
    currency: str = "EUR"
    now: datetime = datetime(2026, 3, 10, 15, tzinfo=UTC)
    deadline_s: float = 5.0
    shelf: ShelfView | None = None
    prices: Mapping[str, str] = {}
    unreadable: tuple[Wanted, ...] = ()
    told_at: datetime | None = None
    breaks: Callable[[], object] | None = None
    hangs: Callable[[], object] | None = None

    def made(self, settings: Mapping[str, Any] | None = None) -> StockSource:
        """The source, as kitbuilder makes it for each command."""
        return self.kind.make(Context(
            "checked", dict(self.settings if settings is None else settings), self.folder, self.currency,
            self.deadline_s, self.shelf, self.folder / "kept"))

    def quote(self, *wanted: Wanted) -> Quote:
        """Its answer, as kitbuilder takes it. Raises SourceFailed for one that it doesn't take, and what it raises."""
        request = QuoteRequest(wanted, self.now)
        return checked(self.made().quote(request), request)

    def asked(self, stale_after_h: float = 24.0, deadline_s: float | None = None) -> Answer:
        """What kitbuilder makes of it: fresh, stale or failed."""
        one = PluginSettings(
            "checked", self.kind.name, deadline_s or self.deadline_s, stale_after_h, dict(self.settings))
        plugins = Plugins((), {self.kind.name: (self.kind, "checked")}, {})
        request = QuoteRequest((*self.has, *self.unreadable), self.now)
        [answer] = ask_sources(
            Settings(self.folder, sources=(one,)), plugins, request, self.currency, self.shelf, self.folder / "kept")
        return answer


class SourceChecks:
    """What kitbuilder relies on in a stock source. A class that inherits it has a fixture `case`: a SourceCase."""

    def test_it_is_registered_with_a_name_and_a_line_of_help(self, case: SourceCase) -> None:
        """People type the name into their settings and read the help beside it."""
        assert type(case.kind) is SourceKind
        assert case.kind.name == case.kind.name.strip() != ""
        assert case.kind.help == " ".join(case.kind.help.split()) != ""

    def test_it_says_what_it_does(self, case: SourceCase) -> None:
        """`does` holds words of the hook's documentation, `quote` among them."""
        does = case.made().does
        assert isinstance(does, frozenset)
        assert "quote" in does
        assert does <= DOES, f"unknown: {sorted(does - DOES)}"

    def test_settings_that_it_does_not_know_are_refused(self, case: SourceCase) -> None:
        """A key mistyped would read as its default: a bare ValueError says what was expected."""
        try:
            case.made({**case.settings, "no-such-key": "1"})
        except ValueError as error:
            assert type(error) is ValueError, f"{type(error).__name__} is not taken as its word on settings"
            assert str(error).strip(), "it doesn't say what was expected"
        else:
            raise AssertionError("it took no-such-key")

    def test_what_there_is_and_what_it_costs_is_told_exactly(self, case: SourceCase) -> None:
        """Amounts are milli-units, money is minor units: nothing is rounded on the way."""
        quote = case.quote(*case.has, *case.unreadable)
        for wanted, has in case.has.items():
            offers = [offer for offer in quote.offers if offer.item == wanted.item]
            there = _pool(offers, wanted)
            expected = None if has is None else Fraction(has) * 1000 * _finest(wanted.unit)
            assert wanted.item not in quote.unreadable, quote.unreadable
            assert there == expected, f"{wanted.item}: {there} thousandths of the smallest unit, expected {expected}"
            if wanted.item in case.prices:
                assert _dearest(offers, wanted) == (
                    amount.parse_money(case.prices[wanted.item], case.currency), 1), f"the price of {wanted.item}"

    def test_what_it_cannot_tell_is_not_told_as_none(self, case: SourceCase) -> None:
        """An item without an offer is one that isn't there; one that nobody can tell is named, with the reason."""
        quote = case.quote(*case.has, *case.unreadable)
        for wanted in case.unreadable:
            assert quote.unreadable.get(wanted.item, "").strip(), f"{wanted.item} reads as none"
            assert not any(offer.item == wanted.item for offer in quote.offers)

    def test_an_item_that_it_does_not_know_is_none_and_harms_no_other(self, case: SourceCase) -> None:
        """Every source is asked for every item of a kit, also for those it never heard of."""
        alone = case.quote(*case.has)
        beside = case.quote(STRANGE, *case.has)
        assert not any(offer.item == STRANGE.item for offer in beside.offers)
        assert _of(alone, case.has) == _of(beside, case.has)
        assert not any(offer.item == STRANGE.item for offer in case.quote(STRANGE).offers)

    def test_for_nothing_it_has_an_answer_too(self, case: SourceCase) -> None:
        """`kitbuilder sources` asks so, to see whether it answers."""
        assert case.quote().offers == ()

    def test_the_same_question_has_the_same_answer(self, case: SourceCase) -> None:
        """A plan must not hang on the order of questions: nor on which items are asked for beside."""
        whole = case.quote(*case.has)
        assert case.quote(*case.has) == whole, "asked twice"
        assert _of(case.quote(*reversed(list(case.has))), case.has) == _of(whole, case.has), "asked the other way round"
        for wanted in case.has:
            assert _of(case.quote(wanted), (wanted,)) == _of(whole, (wanted,)), f"{wanted.item} asked for alone"

    def test_it_answers_several_at_once(self, case: SourceCase) -> None:
        """Several commands run at once, each with a source of its own."""
        whole = case.quote(*case.has)
        found: list[Quote | Exception] = []

        def ask() -> None:
            try:
                found.append(case.quote(*case.has))
            except Exception as error:
                found.append(error)

        threads = [threading.Thread(target=ask) for _ in range(4)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        assert found == [whole] * 4

    def test_it_says_of_when_its_answer_is(self, case: SourceCase) -> None:
        """`as_of` has a zone and isn't in the future; the age that people see is counted from it."""
        as_of = case.quote(*case.has).as_of
        assert as_of <= case.now, f"{as_of} is after {case.now}"
        assert case.told_at is None or as_of == case.told_at

    def test_its_answer_is_fresh_and_becomes_stale(self, case: SourceCase) -> None:
        """Stale is what is older than the settings allow; it is used, and its age is shown."""
        case.quote(*case.has)
        answer = case.asked(stale_after_h=1e5)
        assert (answer.state, answer.error) == ("fresh", None)
        if case.told_at is not None and case.told_at < case.now:
            age = case.now - case.told_at
            answer = case.asked(stale_after_h=age / timedelta(hours=1) / 2)
            assert (answer.state, answer.age_s) == ("stale", int(age.total_seconds()))

    def test_one_that_cannot_answer_fails_and_is_not_empty(self, case: SourceCase) -> None:
        """It raises, or answers what it knew with its age; it never says that there is nothing."""
        if case.breaks is None:
            return
        before = case.quote(*case.has)
        case.breaks()
        answer = case.asked(stale_after_h=1e5)
        if answer.quote is None:
            assert answer.state == "failed"
            assert answer.error
            return
        assert answer.quote.as_of <= before.as_of, "it passes old news off as new"
        for wanted, has in case.has.items():
            if has is None or has.strip("0."):
                known = any(offer.item == wanted.item for offer in answer.quote.offers)
                assert known or wanted.item in answer.quote.unreadable, f"{wanted.item} reads as none"

    def test_what_it_is_told_twice_under_one_key_it_issues_once(self, case: SourceCase) -> None:
        """A kind that is `elsewhere` and says `issue` is told again where nobody knows whether it came through."""
        if not case.kind.elsewhere or "issue" not in case.made().does:
            return
        there = {one: Fraction(has) for one, has in case.has.items() if has is not None and Fraction(has) >= 2}
        assert there, "the case has nothing that could be taken"
        wanted, has = next(iter(there.items()))
        told = IssueRequest(key="checked|1", item=wanted.item, unit=wanted.unit, quantity=1000, lot="",
                            reference="checked", who="checked", taken_at=case.now)
        for request in (told, told, msgspec.structs.replace(told, key="checked|2")):
            case.made().issue(request)  # type: ignore[attr-defined]  # what `does` says is what it promises
        offers = [offer for offer in case.quote(wanted).offers if offer.item == wanted.item]
        assert _pool(offers, wanted) == (has - 2) * 1000 * _finest(wanted.unit), "two keys, one of them told twice"

    def test_its_own_word_comes_before_the_deadline(self, case: SourceCase) -> None:
        """Where it hangs, kitbuilder can only say that no answer came; the source itself knows why."""
        if case.hangs is None:
            return
        case.hangs()
        started = time.monotonic()
        answer = case.asked()
        assert time.monotonic() - started < case.deadline_s + 1
        assert answer.state == "failed"
        assert answer.error is not None
        assert f": no answer within {case.deadline_s:g} s" not in answer.error, "it didn't give up by itself"


def _of(quote: Quote, wanted: Mapping[Wanted, object] | tuple[Wanted, ...]) -> dict[str, list[bytes]]:
    """The offers of each item with their slots' terms, in the order that they stand in."""
    slots = {slot.name: slot for slot in quote.slots}
    return {one.item: [msgspec.json.encode((offer, [slots[arrival.slot] for arrival in offer.arrivals]))
                       for offer in quote.offers if offer.item == one.item] for one in wanted}


def _finest(unit: str) -> int:
    return amount.MEASURED[unit][1] if unit in amount.MEASURED else 1


def _pool(offers: list[Offer], wanted: Wanted) -> int | None:
    """All that is offered, in thousandths of the smallest unit; None: as much as is asked for."""
    there = 0
    for offer in offers:
        most = [arrival.most for arrival in offer.arrivals if arrival.most is not None]
        limits = [] if offer.pool is None else [offer.pool]
        if len(most) == len(offer.arrivals):
            limits.append(sum(most))
        if not limits:
            return None
        there += min(limits) * _finest(offer.unit)
    return there


def _dearest(offers: list[Offer], wanted: Wanted) -> tuple[int, int]:
    """The dearest price as a fraction: minor units for one of the item's unit."""
    def worth(offer: Offer, price: Price) -> Fraction:
        return Fraction(price.minor * 1000 * _finest(wanted.unit), price.per * _finest(offer.unit))

    dearest = max((worth(offer, price) for offer in offers for arrival in offer.arrivals for price in arrival.prices),
                  default=Fraction(-1))
    return dearest.numerator, dearest.denominator
