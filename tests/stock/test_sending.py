"""Orders are sent over real HTTP to suppliers that misbehave; each way has one outcome, and nothing is sent twice."""

import os
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from kitbuilder.errors import StoreRefuses
from kitbuilder.model.order import OrderedFor, OrderedLine, OrderRow
from kitbuilder.plugins import load_plugins
from kitbuilder.settings import FILE, read_settings
from kitbuilder.stock.sending import Sender, Sent
from kitbuilder.store import orders, settling
from kitbuilder.store.database import Store, open_store
from tests.databases import KINDS, server
from tests.stock.suppliers import Supplier, accepted, supplier
from tests.store.shelf import LATER, NOW, SITE, book
from tests.store.test_orders_and_runs import READY, propose

ROOT = Path(__file__).resolve().parents[2]
SETTINGS = """
[sources.web]
plugin = "http-supplier"
url = "{url}"
orders = true
deadline_s = 1.0

[sources.paper]
plugin = "price-file"
file = "prices.csv"
supplier = true
"""


class Desk:
    """A store with one approved order, and what sends it."""

    def __init__(self, folder: Path, store: Store, web: Supplier, source: str = "web") -> None:
        self.folder, self.store, self.web = folder, store, web
        self.point_to(web.url)
        book(store)
        propose(store, order(source))
        orders.decide(store, 1, "approved", "Ada", NOW)

    def point_to(self, url: str) -> None:
        """Another address of the supplier."""
        (self.folder / FILE).write_text(SETTINGS.format(url=url), "utf-8")

    def send(self) -> Sent:
        """Send what waits: what became of the one order."""
        [one] = Sender(self.store, read_settings(self.folder / FILE), PLUGINS, "EUR", "night", NOW).send()
        return one

    def order(self) -> OrderRow:
        """The order as it stands."""
        return orders.get(self.store, 1)


PLUGINS = load_plugins()


def order(source: str = "web") -> OrderRow:
    """Two lines for one booking, at a slot with a fee."""
    return OrderRow(
        key=f"{SITE}|2026-03-11|{source}|first van", site=SITE, source=source, slot="first van", ready=READY,
        cut_off=LATER, currency="EUR", fee=450, state="proposed", proposed_at=NOW,
        lines=(OrderedLine("XX-1", "each", 4000, (), 1680), OrderedLine("OIL", "L", 20500, (), 9000)),
        wanted_for=(OrderedFor("XX-1", 1, "1/role:XX-1", 3000), OrderedFor("OIL", 1, "1/oil:OIL", 12500)))


@pytest.fixture
def web() -> Iterator[Supplier]:
    with supplier() as made:
        yield made


@pytest.fixture
def desk(tmp_path: Path, web: Supplier) -> Iterator[Desk]:
    store = open_store(tmp_path / "workshop.db", synchronous="NORMAL")
    yield Desk(tmp_path, store, web)
    store.close()


def test_a_supplier_that_takes_it_confirms_it_and_knows_only_what_it_must(desk, web):
    assert desk.send().order.state == "confirmed"
    one = desk.order()
    assert (one.supplier_number, one.expected_at, one.sent_at) == ("A-1", READY, NOW)
    assert web.orders == [{
        "format": "kitbuilder.order/1", "key": "Lauterfeld|2026-03-11|web|first van|1", "now": "2026-03-10T15:00:00Z",
        "slot": "first van", "ready": "2026-03-11T07:00:00Z", "currency": "EUR", "fee": "4.50",
        "lines": [{"item": "XX-1", "unit": "each", "quantity": "4", "price": "16.80"},
                  {"item": "OIL", "unit": "L", "quantity": "20.5", "price": "90.00"}]}]
    # a quoted string, as draft-ietf-httpapi-idempotency-key-header has it (RFC 8941, strings)
    assert web.keys == ['"Lauterfeld|2026-03-11|web|first van|1"']


#: What a supplier answers, the state that the order is in then, what is awaited of each item, and what is told.
ANSWERS = {
    "cheaper": ({"lines": {"XX-1": {"price": "16.00"}}}, "confirmed", (3000, 12500), ""),
    "dearer": ({"lines": {"XX-1": {"price": "18.00"}}}, "changed", (3000, 12500),
               "XX-1 costs 18.00 EUR instead of 16.80 EUR"),
    "a higher fee": ({"fee": "9.00"}, "changed", (3000, 12500), "the fee is 9.00 EUR instead of 4.50 EUR"),
    "no price told": ({"lines": {"XX-1": {"price": None}}}, "confirmed", (3000, 12500), ""),
    "part of a line": ({"lines": {"XX-1": {"quantity": "1", "price": "4.20"}}}, "part", (1000, 12500),
                       "only 1 of 4 each XX-1"),
    "more than is wanted, less than is ordered": (
        {"lines": {"OIL": {"quantity": "20", "price": "87.80"}}}, "part", (3000, 12500), "only 20 of 20.5 L OIL"),
    "one line not": ({"lines": {"OIL": None}}, "part", (3000, 0), "only 0 of 20.5 L OIL"),
    "part, and dearer": ({"lines": {"XX-1": {"quantity": "1", "price": "9.00"}}}, "changed", (3000, 12500),
                         "XX-1 costs 9.00 EUR instead of 4.20 EUR; only 1 of 4 each XX-1"),
    "a substitute": ({"lines": {"XX-1": {"substitute": "YY-1"}}}, "changed", (3000, 12500), "YY-1 in place of XX-1"),
    "more": ({"lines": {"XX-1": {"quantity": "5", "price": "21.00"}}}, "changed", (3000, 12500),
             "5 each of XX-1 instead of 4"),
    "later": ({"lines": {"XX-1": {"ready": "2026-03-13T07:00:00Z"}}}, "changed", (3000, 12500),
              "XX-1 comes 2026-03-13 07:00 instead of 2026-03-11 07:00"),
    "earlier": ({"lines": {"XX-1": {"ready": "2026-03-11T06:00:00Z"}}}, "confirmed", (3000, 12500), ""),
    "refused": ({"state": "refused", "says": "sold out", "lines": {"XX-1": None, "OIL": None}}, "refused",
                (3000, 12500), "sold out"),
    "accepted, none of it": ({"lines": {"XX-1": {"quantity": "0"}, "OIL": {"quantity": "0"}}}, "refused",
                             (3000, 12500), ""),
}


@pytest.mark.parametrize("what", ANSWERS)
def test_each_answer_has_its_outcome_and_is_not_sent_again(desk, web, what):
    changes, state, awaited, said = ANSWERS[what]
    web.on_order = lambda talk, order: talk.send(accepted(order, **changes))
    assert desk.send().order.state == state
    one = desk.order()
    assert (one.state, one.said) == (state, said)
    coming = {each.item: each.quantity for each in one.wanted_for}
    assert (coming.get("XX-1", 0), coming.get("OIL", 0)) == awaited
    assert Sender(desk.store, read_settings(desk.folder / FILE), PLUGINS, "EUR", "night", NOW).send() == []
    assert len(web.orders) == 1


def hang(talk, _):
    """Take it, and say nothing until the asker has given up."""
    time.sleep(3)


def break_off(talk, _):
    """Take it, and hang up."""
    talk.connection.shutdown(socket.SHUT_RDWR)


def half(talk, order):
    """Begin to answer, and hang up."""
    talk.wfile.write(b"HTTP/1.1 200 OK\r\nContent-Type: application/json\r\nContent-Length: 500\r\n\r\n{\"format\"")
    talk.connection.shutdown(socket.SHUT_RDWR)


def page(talk, _):
    """Answer with a page for people."""
    talk.wfile.write(b"HTTP/1.1 200 OK\r\nContent-Type: text/html\r\nContent-Length: 4\r\n\r\n<p/>")


#: What a supplier does once it has the order, and what is told of it.
UNCLEAR = {
    "it hangs": (hang, "took the connection but gave no answer"),
    "it hangs up": (break_off, "no answer in HTTP"),
    "it hangs up while it answers": (half, "broke off its answer"),
    "it fails": (lambda talk, _: talk.send({"error": "out of order"}, 500), "a fault of its own (status 500)"),
    "it works on it": (lambda talk, _: talk.send({"error": "wait"}, 409), "it says: wait"),
    "it had the key for another": (lambda talk, _: talk.send({"error": "known"}, 422), "it says: known"),
    "a page": (page, "expected application/json"),
    "no JSON": (lambda talk, _: talk.send({}), "no kitbuilder.order-answer/1"),
    "another's answer": (lambda talk, order: talk.send(accepted({**order, "key": "x"})), "answered for the order 'x'"),
    "strange items": (lambda talk, order: talk.send(accepted({**order, "lines": [
        {"item": "ZZ", "quantity": "1", "price": "1.00"}]})), "'ZZ', which wasn't ordered"),
    "an item twice": (lambda talk, order: talk.send(accepted({**order, "lines": order["lines"][:1] * 2})),
                      "twice for one item"),
    "rubbish amounts": (lambda talk, order: talk.send(accepted(order, lines={"XX-1": {"quantity": "-4"}})),
                        "can't be used"),
    "nothing accepted by name": (lambda talk, order: talk.send(accepted(order, lines={"XX-1": None, "OIL": None})),
                                 "accepted without saying what"),
}


@pytest.mark.parametrize("what", UNCLEAR)
def test_where_nobody_knows_it_is_unclear_and_asked_after_never_sent_again(desk, web, what):
    act, said = UNCLEAR[what]
    web.on_order = act
    web.on_status = lambda talk, key: talk.send({"error": "not now"}, 503)
    first = desk.send()
    assert (first.order.state, said in first.why) == ("unclear", True)
    again = desk.send()
    assert (again.order.state, "it can't be asked after" in again.why) == ("unclear", True)
    web.on_status = lambda talk, key: talk.send(web.known(key))
    settled = desk.send()
    assert settled.order.state == "confirmed"
    assert len(web.orders) == 1 and set(web.asked) == {"Lauterfeld|2026-03-11|web|first van|1"}


def test_a_supplier_that_never_got_it_leaves_it_to_a_person(desk, web):
    """It may still be on its way, so being asked is no leave to send it again."""
    web.on_order = break_off
    desk.send()
    web.orders.clear()
    for _ in range(2):
        one = desk.send()
        assert (one.order.state, one.why) == ("unclear", "the supplier doesn't know it")
    assert web.orders == []
    assert settling.settle(desk.store, 1, False, "Ada", NOW).state == "refused"


def test_a_supplier_that_answers_twice_is_heard_once(desk, web):
    def twice(talk, order):
        talk.send(accepted(order))
        talk.send(accepted(order, lines={"XX-1": None}))

    web.on_order = twice
    assert desk.send().order.state == "confirmed"


#: Statuses after which nothing was ordered, for certain.
@pytest.mark.parametrize("status", [400, 401, 403, 404, 405, 413, 415, 429, 302])
def test_what_the_service_did_not_take_is_sent_by_the_next_run(desk, web, status):
    web.on_order = lambda talk, _: talk.send({"error": "no"}, status)
    one = desk.send()
    assert one.order.state == "approved" and f"(status {status}" in one.why
    web.on_order = lambda talk, order: talk.send(accepted(order))
    assert desk.send().order.state == "confirmed"
    assert web.keys == ['"Lauterfeld|2026-03-11|web|first van|1"'] * 2


def test_where_nothing_listens_nothing_was_sent_and_the_next_run_tries_again(desk, web):
    with socket.create_server(("127.0.0.1", 0)) as nobody:
        port = nobody.getsockname()[1]
    desk.point_to(f"http://127.0.0.1:{port}")
    one = desk.send()
    assert (one.order.state, "refused the connection" in one.why) == ("approved", True)
    desk.point_to(web.url)
    assert desk.send().order.state == "confirmed"


def test_a_confirmation_that_comes_after_it_was_cancelled_is_told(desk, web):
    web.on_order = break_off
    desk.send()
    orders.decide(desk.store, 1, "cancelled", "Ada", NOW)
    one = desk.send()
    assert (one.order.state, one.why) == (
        "cancelled", "the supplier accepted it all the same: tell them that it is cancelled")
    assert Sender(desk.store, read_settings(desk.folder / FILE), PLUGINS, "EUR", "night", NOW).send() == []


def test_a_cancelled_one_that_nobody_knows_of_is_asked_after_until_it_would_be_there(desk, web):
    web.on_order = break_off
    desk.send()
    orders.decide(desk.store, 1, "cancelled", "Ada", NOW)
    web.on_status = lambda talk, key: talk.send({"error": "not now"}, 503)
    assert desk.send().order.state == "cancelled"
    late = Sender(desk.store, read_settings(desk.folder / FILE), PLUGINS, "EUR", "night", READY)
    assert late.send() == [] and len(web.asked) == 1


def test_a_source_that_takes_no_orders_is_rung_up(tmp_path, web):
    store = open_store(tmp_path / "workshop.db", synchronous="NORMAL")
    desk = Desk(tmp_path, store, web, source="paper")
    one = desk.send()
    assert (one.by_hand, one.order.state, one.why) == (
        True, "approved", "it takes no orders, so ring them up")
    store.close()


def test_two_who_send_at_once_send_once(desk, web):
    waiting, go = threading.Event(), threading.Event()

    def slowly(talk, order):
        waiting.set()
        go.wait(5)
        talk.send(accepted(order))

    web.on_order = slowly
    (desk.folder / FILE).write_text((desk.folder / FILE).read_text().replace("1.0", "5.0"))
    thread = threading.Thread(target=desk.send)
    thread.start()
    assert waiting.wait(5)
    with pytest.raises(StoreRefuses, match="being sent by another process"):
        desk.send()
    go.set()
    thread.join()
    assert desk.order().state == "confirmed" and len(web.orders) == 1


#: Sends what waits, and kills itself before its N-th statement; with 0 it counts them.
KILLED = """
import os, signal, sqlite3, sys
from pathlib import Path
from kitbuilder.plugins import load_plugins
from kitbuilder.settings import read_settings
from kitbuilder.stock.sending import Sender
from kitbuilder.store.database import open_store
from tests.store.shelf import NOW
folder, address, fatal = Path(sys.argv[1]), sys.argv[2], int(sys.argv[3])
seen = 0
def trace(text=""):
    global seen
    seen += 1
    if seen == fatal:
        os.kill(os.getpid(), signal.SIGKILL)
if "://" in address:
    import psycopg
    def traced(real):
        def before(self, *args, **told):
            trace()
            return real(self, *args, **told)
        return before
    store = open_store(address)
    psycopg.Cursor.execute = traced(psycopg.Cursor.execute)
    psycopg.Connection.commit = traced(psycopg.Connection.commit)
else:
    store = open_store(address, synchronous="NORMAL")
    with store.engine.connect() as connection:
        connection.connection.driver_connection.set_trace_callback(trace)
Sender(store, read_settings(folder / "kitbuilder.toml"), load_plugins(), "EUR", "night", NOW).send()
print(seen)
"""


def run_killed(folder: Path, address: object, fatal: int) -> tuple[int, str]:
    done = subprocess.run(
        [sys.executable, "-c", KILLED, str(folder), str(address), str(fatal)], cwd=ROOT, text=True, check=False,
        env=os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)}, capture_output=True, timeout=60)
    assert done.returncode in (0, -signal.SIGKILL), done.stderr
    return done.returncode, done.stdout.strip()


def stores(kind: str, folder: Path) -> object:
    return server().fresh() if kind == "postgresql" else folder / "workshop.db"


def killed_at(kind: str, folder: Path, fatal: int) -> None:
    """Kill the sender before a statement, then send again as the next run would."""
    with supplier() as web:
        address = stores(kind, folder)
        store = open_store(address)
        desk = Desk(folder, store, web)
        before = len(web.orders)
        code, _ = run_killed(folder, address, fatal)
        was = desk.order().state
        got = len(web.orders) - before
        if code == 0:
            assert (was, got) == ("confirmed", 1)
        elif was == "approved":
            assert got == 0  # nothing was marked, so nothing went out
        web.on_status = lambda talk, key: talk.send({"error": "ask a person"}, 503)
        found = Sender(store, read_settings(folder / FILE), PLUGINS, "EUR", "night", NOW).send()
        after = desk.order().state
        assert len(web.orders) <= 1, "never sent twice"
        if was == "sending":
            assert after == "unclear"
        assert after in ("confirmed", "unclear")
        assert (after == "unclear") == (was == "sending"), (was, after, found)
        store.close()


@pytest.mark.parametrize("kind", KINDS)
def test_killed_between_the_commit_and_the_answer_it_is_unclear_and_never_sent_again(tmp_path, kind):
    """The supplier kills the sender as soon as it has the order."""
    with supplier() as web:
        address = stores(kind, tmp_path)
        store = open_store(address)
        desk = Desk(tmp_path, store, web)
        (tmp_path / FILE).write_text((tmp_path / FILE).read_text().replace("1.0", "30.0"))
        web.on_order = lambda talk, order: hang(talk, order)
        process = subprocess.Popen(
            [sys.executable, "-c", KILLED, str(tmp_path), str(address), "0"], cwd=ROOT, stdout=subprocess.PIPE,
            env=os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)})
        for _ in range(400):
            if web.orders or process.poll() is not None:
                break
            time.sleep(0.05)
        assert desk.order().state == "sending"
        process.kill()
        process.communicate()
        web.on_status = lambda talk, key: talk.send({"error": "ask a person"}, 503)
        assert desk.send().order.state == "unclear"
        assert desk.send().order.state == "unclear"
        assert len(web.orders) == 1
        store.close()


@pytest.mark.parametrize("kind", KINDS)
def test_killed_before_any_statement_of_the_sending_it_is_never_sent_twice(tmp_path, kind):
    """Some of them; the long suite has all."""
    counted = tmp_path / "counted"
    counted.mkdir()
    with supplier() as web:
        address = stores(kind, counted)
        store = open_store(address)
        Desk(counted, store, web)
        store.close()
        code, said = run_killed(counted, address, 0)
        assert (code, len(web.orders)) == (0, 1)
    many = int(said)
    assert many >= 10
    for fatal in range(3, many + 1, 7):
        folder = tmp_path / str(fatal)
        folder.mkdir()
        killed_at(kind, folder, fatal)


@pytest.mark.long
@pytest.mark.parametrize("kind", KINDS)
def test_killed_before_every_statement_of_the_sending_it_is_never_sent_twice(tmp_path, kind):
    counted = tmp_path / "counted"
    counted.mkdir()
    with supplier() as web:
        address = stores(kind, counted)
        store = open_store(address)
        Desk(counted, store, web)
        store.close()
        _, said = run_killed(counted, address, 0)
    for fatal in range(1, int(said) + 1):
        folder = tmp_path / str(fatal)
        folder.mkdir()
        killed_at(kind, folder, fatal)
