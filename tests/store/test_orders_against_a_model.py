"""Whatever suppliers answer and people say, in whatever order: an order's state against a simple model of it.

The model knows what was sent and what each answer said; it shares nothing with the store but the words for states.
"""

import tempfile
from datetime import timedelta
from pathlib import Path

import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from kitbuilder.errors import StoreRefuses
from kitbuilder.model.order import Goods, LineVerdict, OrderedFor, OrderedLine, Verdict
from kitbuilder.store import deliveries, holds, orders, outbox, settling, shelves
from kitbuilder.store.audit import audit
from kitbuilder.store.database import open_store
from tests.databases import laid, server
from tests.store.shelf import LATER, NOW, SITE, book
from tests.store.test_orders_and_runs import READY, order, propose

ANSWERS = {
    "all": Verdict(state="confirmed", expected_at=READY, lines=(LineVerdict("XX-1", 4000, 1680),)),
    "part": Verdict(state="part", expected_at=READY, lines=(LineVerdict("XX-1", 1000, 420),)),
    "dearer": Verdict(state="changed", expected_at=READY, lines=(LineVerdict("XX-1", 4000, 2000),)),
    "no": Verdict(state="refused"),
}
#: What a person does: from which states it may be done, and what comes of it.
PERSON = {
    "ordered": {"approved": "ordered"},
    "cancelled": dict.fromkeys(("approved", "ordered", "confirmed", "part", "changed", "unclear"), "cancelled"),
    "take": {"changed": "confirmed"}, "yes": {"unclear": "confirmed"}, "no": {"unclear": "refused"},
    "rest": dict.fromkeys(("ordered", "confirmed", "part"), "received"),
}


class Orders(RuleBasedStateMachine):
    """One order of four of an item, for one booking that needs three."""

    place = "sqlite"

    @initialize()
    def begin(self):
        self.folder = tempfile.TemporaryDirectory()
        self.store = open_store(
            server().fresh() if self.place == "postgresql" else laid(Path(self.folder.name) / "s.db"),
            synchronous="NORMAL")
        book(self.store)
        propose(self.store, order(lines=(OrderedLine("XX-1", "each", 4000, (), 1680),),
                                  wanted_for=(OrderedFor("XX-1", 1, "1/role:XX-1", 3000),)))
        orders.decide(self.store, 1, "approved", "Ada", NOW)
        self.state, self.sent, self.heard = "approved", 0, ""
        self.came = 0
        self.due = 4000

    def teardown(self):
        if hasattr(self, "store"):
            self.store.close()
            self.folder.cleanup()

    @rule()
    def send(self):
        marked = outbox.begin(self.store, 1, "night", NOW)
        assert (marked is not None) == (self.state == "approved")
        if marked:
            self.state, self.sent = "sending", self.sent + 1

    @rule()
    def nothing_went_out(self):
        outbox.not_sent(self.store, 1, "no connection", "night", NOW)
        if self.state == "sending":
            self.state, self.sent = "approved", self.sent - 1

    @rule()
    def time_out(self):
        outbox.unclear(self.store, 1, "no answer", "night", NOW)
        if self.state == "sending":
            self.state = "unclear"

    @rule()
    def broken_off(self):
        assert outbox.broken_off(self.store, "night", NOW) == ([1] if self.state == "sending" else [])
        if self.state == "sending":
            self.state = "unclear"

    @precondition(lambda self: self.sent)
    @rule(what=st.sampled_from(sorted(ANSWERS)))
    def answer(self, what):
        outbox.answered(self.store, 1, ANSWERS[what], "night", NOW)
        if self.state in ("sending", "unclear"):
            self.state = ANSWERS[what].state
            if what != "no":
                self.due = ANSWERS[what].lines[0].quantity
        elif self.state not in ("cancelled", "received") and what != self.heard:
            self.state = "unclear"
        self.heard = what

    @rule(what=st.sampled_from(sorted(PERSON)))
    def person(self, what):
        act = {
            "ordered": lambda: orders.decide(self.store, 1, "ordered", "Ada", NOW),
            "cancelled": lambda: orders.decide(self.store, 1, "cancelled", "Ada", NOW),
            "take": lambda: settling.take(self.store, 1, "Ada", NOW),
            "yes": lambda: settling.settle(self.store, 1, True, "Ada", NOW),
            "no": lambda: settling.settle(self.store, 1, False, "Ada", NOW),
            "rest": lambda: settling.drop_rest(self.store, 1, "Ada", NOW)}[what]
        then = PERSON[what].get(self.state)
        if what == "rest" and not self.came:
            then = None
        if then is None:
            with pytest.raises(StoreRefuses):
                act()
            return
        act()
        if what == "take" and self.due < 4000:
            then = "part"
        if what == "rest":
            self.due = min(self.came, 4000)
        self.state = then

    @rule(quantity=st.sampled_from([1000, 3000, 5000]), note=st.integers(1, 3))
    def goods(self, quantity, note):
        goods = Goods(note=f"N-{note}-{quantity}", item="XX-1", quantity=quantity, unit="each", bin="IN")
        one = deliveries.receive(self.store, 1, goods, "Ben", LATER)
        assert one.again == (goods.note in self.notes)
        if one.again:
            return
        self.notes.add(goods.note)
        closed = self.state in ("cancelled", "refused")
        within = 0 if closed else min(quantity, max(0, self.due - self.came))
        assert one.beyond == quantity - within
        self.came += quantity
        if not closed and self.state != "received":
            if self.came >= self.due:
                self.state = "received"
            elif within and self.state in ("unclear", "approved"):
                self.state = {"unclear": "confirmed", "approved": "ordered"}[self.state]

    @initialize()
    def no_notes(self):
        self.notes = set()

    @invariant()
    def as_the_model_says(self):
        if not hasattr(self, "store"):
            return
        one = orders.get(self.store, 1)
        assert one.state == self.state
        assert self.sent <= 1, "it never goes out twice"
        awaited = sum(each.quantity for each in one.wanted_for)
        held = sum(each.quantity for each in holds.holds(self.store, 1))
        assert 0 <= awaited <= 3000 and held + awaited <= 3000
        assert sum(lot.on_hand for lot in shelves.lots(self.store, SITE)) == self.came
        assert audit(self.store) == []
        history = orders.history(self.store, 1)
        assert history[-1].state == self.state and all(each.who for each in history)
        if self.state in ("confirmed", "part", "ordered"):
            assert one.expected_at is not None and one.expected_at < READY + timedelta(days=1)


class OrdersOnAServer(Orders):
    place = "postgresql"


TestOrders = Orders.TestCase
TestOrders.settings = settings(max_examples=40, stateful_step_count=14, deadline=None)
TestOrdersOnAServer = OrdersOnAServer.TestCase
TestOrdersOnAServer.settings = settings(max_examples=8, stateful_step_count=14, deadline=None)


@pytest.mark.long
class TestOrdersLong(Orders.TestCase):
    """The same, for much longer."""

    settings = settings(max_examples=300, stateful_step_count=30, deadline=None)


@pytest.mark.long
class TestOrdersOnAServerLong(OrdersOnAServer.TestCase):
    """The same, for much longer."""

    settings = settings(max_examples=100, stateful_step_count=30, deadline=None)
