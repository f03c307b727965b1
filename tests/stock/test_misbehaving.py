"""Stock sources that misbehave: each is named and fenced off, and the others' answers stand."""

import threading
from datetime import UTC, datetime, timedelta, timezone

import pytest

from kitbuilder import Arrival, BadData, Offer, Price, Quote, QuoteRequest, Slot, SourceFailed
from kitbuilder.plugins import Plugin, Plugins
from kitbuilder.stock.quoting import Answer
from tests.stock.asking import NOW, OFFER, QUOTE, Says, asked, change, saying

GOOD = Answer("source-1", ("quote",), "fresh", QUOTE, 0, None)
ARRIVAL, SLOT = OFFER.arrivals[0], QUOTE.slots[0]
NAIVE = datetime(2026, 3, 10, 15, 0)
CANT_BE = "it answered an amount or price for P-1 that can't be"


class Mute(Exception):
    def __str__(self):
        raise RuntimeError("can't be told")


def raising(error):
    def answer(request):
        raise error
    return lambda context: Says(answer)


def offering(**changes):
    return change(QUOTE, offers=(change(OFFER, **changes),))


def arriving(**changes):
    return offering(arrivals=(change(ARRIVAL, **changes),))


def slotted(**changes):
    return change(QUOTE, slots=(change(SLOT, **changes),))


def endless():
    inside = []
    inside.append(inside)
    return inside


WRONG = {
    "nothing": (None, "it answered NoneType, expected a Quote"),
    "a dict": ({"offers": []}, "it answered dict, expected a Quote"),
    "a list": ([QUOTE], "it answered list, expected a Quote"),
    "the class": (Quote, "it answered StructMeta, expected a Quote"),
    "a request": (QuoteRequest((), NOW), "it answered QuoteRequest, expected a Quote"),
    "offers of None": (change(QUOTE, offers=None), "Expected `array`, got `null` - at `$.offers`"),
    "an offer of None": (change(QUOTE, offers=(None,)), "Expected `object`, got `null` - at `$.offers[0]`"),
    "an offer that is text": (change(QUOTE, offers=("P-1",)), "a Quote that is not one"),
    "an endless list": (change(QUOTE, offers=endless()), "RecursionError"),
    "a thing of its own inside": (change(QUOTE, unreadable={"P-1": object()}), "a Quote that is not one"),
    "a pool as text": (offering(pool="4000"), "Expected `int | null`, got `str`"),
    "a pool with a fraction": (offering(pool=4000.5), "got `float`"),
    "a pool that is True": (offering(pool=True), "got `bool`"),
    "a number for an item": (offering(item=7), "Expected `str`, got `int`"),
    "a sureness of its own": (arriving(sureness="certainly"), "Invalid enum value 'certainly'"),
    "a day without time": (slotted(ready=NOW.date()), "$.slots"),
    "as of no zone": (change(QUOTE, as_of=NAIVE), "a time without a zone: 2026-03-10T15:00:00"),
    "ready without a zone": (slotted(ready=NAIVE), "a time without a zone"),
    "a cut-off without a zone": (slotted(cut_off=NAIVE), "a time without a zone"),
    "an item that wasn't asked for": (offering(item="X-9"), "it answered for 'X-9', which it was not asked for"),
    "a slot that isn't there": (arriving(slot="noon"), "P-1 for a slot 'noon' that it didn't name"),
    "a slot named twice": (change(QUOTE, slots=(SLOT, SLOT)), "it named the slot 'now' twice"),
    "a slot used twice": (offering(arrivals=(ARRIVAL, ARRIVAL)), "for the slot 'now' twice in one offer"),
    "an item twice in one slot": (change(QUOTE, offers=(*QUOTE.offers, *QUOTE.offers)), "P-1 twice in the slot 'now'"),
    "no arrival": (offering(arrivals=()), "P-1 without an arrival"),
    "another quantity": (offering(unit="L"), "it answered P-1 in 'L', expected a unit that converts to each"),
    "another counted unit": (offering(unit="pair"), "it answered P-1 in 'pair'"),
    "no unit there is": (offering(unit="furlong"), "it answered P-1 in 'furlong'"),
    "less than nothing": (offering(pool=-1), CANT_BE),
    "less than nothing in a slot": (arriving(most=-1000), CANT_BE),
    "a price below nothing": (arriving(prices=(Price(minor=-1, per=1000),)), CANT_BE),
    "a price for none": (arriving(prices=(Price(minor=1, per=0),)), CANT_BE),
    "a break below nothing": (arriving(prices=(Price(minor=1, per=1, least=-1),)), CANT_BE),
    "breaks that go down": (
        arriving(prices=(Price(minor=1, per=1, least=9), Price(minor=2, per=1))), "from the smallest up"),
    "an empty pack": (offering(packs=(1000, 0)), CANT_BE),
    "a least order below nothing": (offering(least=-1), CANT_BE),
    "a deposit below nothing": (offering(deposit=-1), CANT_BE),
    "a fee below nothing": (slotted(fee=-1), "a fee or minimum below zero for the slot 'now'"),
    "a minimum below nothing": (slotted(minimum=-1), "a fee or minimum below zero for the slot 'now'"),
    "a currency in small letters": (change(QUOTE, currency="eur"), "the currency 'eur', expected one of ISO 4217"),
    "a sign for a currency": (change(QUOTE, currency="€"), "the currency '€'"),
    "a currency with a figure": (change(QUOTE, currency="E1R"), "the currency 'E1R'"),
    "a currency with a line's end": (change(QUOTE, currency="EUR\n"), "the currency 'EUR\\n'"),
}


@pytest.mark.parametrize("what", WRONG)
def test_rubbish_is_refused_with_the_name_of_what_answered_it_and_the_next_source_stands(what):
    answer, words = WRONG[what]
    bad, good = asked(saying(answer), saying(QUOTE))
    assert (bad.source, bad.does, bad.state, bad.quote, bad.age_s) == ("source-0", ("quote",), "failed", None, None)
    assert bad.error.startswith("kind-0 of a-stranger: ")
    assert words in bad.error
    assert good == GOOD


@pytest.mark.parametrize(("error", "words"), [
    (RuntimeError("no chalk\n\tleft"), "RuntimeError: no chalk left"), (SystemExit(2), "SystemExit: 2"),
    (KeyboardInterrupt(), "KeyboardInterrupt"), (GeneratorExit(), "GeneratorExit"), (Mute(), "Mute"),
    (ValueError("not ours"), "ValueError: not ours"), (BadData("The board is wet."), "The board is wet"),
    (SourceFailed("it is night"), "it is night"), (ConnectionRefusedError(111, "refused"), "refused"),
])
def test_a_source_that_raises_is_failed_with_its_reason(error, words):
    bad, good = asked(raising(error), saying(QUOTE))
    assert (bad.state, bad.error.removeprefix("kind-0 of a-stranger: ").endswith(words)) == ("failed", True), bad.error
    assert good == GOOD


def test_a_source_that_hangs_is_left_behind_at_its_deadline():
    hold = threading.Event()
    try:
        bad, good = asked(lambda context: Says(lambda request: hold.wait(60)), saying(QUOTE), deadline_s=0.3)
        assert not hold.is_set()
    finally:
        hold.set()
    assert (bad.state, bad.error) == ("failed", "kind-0 of a-stranger: no answer within 0.3 s")
    assert good == GOOD


def test_one_that_hangs_while_it_is_made_or_judged_is_left_behind_too():
    hold = threading.Event()

    class Slow:
        @property
        def does(self):
            return hold.wait(60)

    try:
        made, asked_what, good = asked(
            lambda context: hold.wait(60), lambda context: Slow(), saying(QUOTE), deadline_s=0.3)
    finally:
        hold.set()
    assert [made.error, asked_what.error] == [
        f"kind-{at} of a-stranger: no answer within 0.3 s" for at in (0, 1)]
    assert good.state == "fresh"


@pytest.mark.parametrize(("make", "words"), [
    (lambda context: None, "AttributeError: 'NoneType' object has no attribute 'does'"),
    (lambda context: object(), "has no attribute 'does'"),
    (lambda: None, "TypeError"),
    (lambda context: 1 / 0, "ZeroDivisionError"),
])
def test_a_kind_that_makes_no_source_is_failed(make, words):
    bad, good = asked(make, saying(QUOTE))
    assert bad.state == "failed"
    assert words in bad.error
    assert good == GOOD


def test_settings_that_a_kind_refuses_are_told_with_their_table():
    def make(context):
        raise ValueError(f"chalk = \"…\", not {context.settings['chalk']}")

    [answer] = asked(make, chalk=7)
    assert answer.error == "kind-0 of a-stranger: in [sources.source-0] it expected chalk = \"…\", not 7"


def test_an_error_that_is_no_word_on_the_settings_keeps_its_name():
    """Kinds of ValueError come from whatever a maker does, such as reading a file: they say nothing was expected."""
    [answer] = asked(lambda context: b"\xff".decode("utf-8"))
    assert answer.error.startswith("kind-0 of a-stranger: UnicodeDecodeError: ")


def test_a_kind_gets_its_own_keys_and_nothing_else():
    met = []
    asked(lambda context: met.append(context) or Says(lambda request: QUOTE), chalk="white")
    [context] = met
    assert (context.name, dict(context.settings), context.currency) == ("source-0", {"chalk": "white"}, "EUR")


def test_a_kind_that_nobody_brings_is_told_with_what_did_not_load():
    plugins = Plugins((Plugin("slate", "slate-board", "3", (), "OSError: broken"),), {}, {})
    [answer] = asked(saying(QUOTE), plugins=plugins)
    assert (answer.state, answer.does) == ("failed", ())
    assert "no plug-in brings 'kind-0'" in answer.error
    assert "slate of slate-board failed: OSError: broken" in answer.error


def test_what_converts_is_taken_as_what_it_means():
    """Lists for tuples, a day as text: an answer whose meaning is plain counts, by its meaning."""
    offers = [change(OFFER, arrivals=[ARRIVAL])]
    loose = Quote(as_of="2026-03-10T16:00:00+01:00", currency="EUR", slots=[SLOT], offers=offers)
    [answer] = asked(saying(loose))
    assert answer.state == "fresh", answer.error
    assert answer.quote == QUOTE
    assert isinstance(answer.quote.as_of, datetime)
    assert isinstance(answer.quote.offers, tuple)


def test_measured_units_of_one_quantity_are_all_right():
    quote = change(QUOTE, offers=(OFFER, Offer(item="O-1", unit="mL", pool=1, arrivals=(ARRIVAL,))))
    assert [answer.state for answer in asked(saying(quote))] == ["fresh"]


def test_a_quote_with_everything_in_it_is_taken_as_it_is():
    quote = Quote(
        as_of=NOW, currency="SEK", unreadable={"O-1": "the barrel's gauge is broken"},
        slots=(Slot(name="noon", ready=NOW, cut_off=NOW - timedelta(hours=1), fee=4900, minimum=100),),
        offers=(Offer(
            item="P-1", unit="each", pool=None, packs=(1000, 5000), least=2000, returnable=False, deposit=100,
            arrivals=(Arrival(slot="noon", sureness="promised", most=0, prices=(
                Price(minor=0, per=1), Price(minor=1, per=1, least=5))),)),))
    [answer] = asked(saying(quote))
    assert (answer.state, answer.quote, answer.error) == ("fresh", quote, None)


@pytest.mark.parametrize(("hours", "state"), [
    (0, "fresh"), (5, "fresh"), (6, "fresh"), (6.001, "stale"), (1000, "stale")])
def test_an_answer_is_stale_when_it_is_older_than_the_settings_allow(hours, state):
    zone = timezone(timedelta(hours=9))
    told = (NOW - timedelta(hours=hours)).astimezone(zone)
    [answer] = asked(saying(change(QUOTE, as_of=told)), stale_after_h=6.0)
    assert (answer.state, answer.age_s, answer.error) == (state, int(hours * 3600), None)


def test_an_answer_from_a_clock_that_is_ahead_has_no_age_below_nought():
    [answer] = asked(saying(change(QUOTE, as_of=datetime(2030, 1, 1, tzinfo=UTC))))
    assert (answer.state, answer.age_s) == ("fresh", 0)
