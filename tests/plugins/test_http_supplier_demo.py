"""The demo's supplier, asked by the plug-in: two programs that share nothing but the documented format."""

import http.client
import json
import signal
import socket
import subprocess
import sys
from datetime import timedelta
from pathlib import Path

import msgspec
import pytest
from kitbuilder_http_supplier import make
from kitbuilder_price_file import make as price_file

from kitbuilder import Arrival, BadData, Context, Offer, Price, QuoteRequest, Slot, SourceFailed, Wanted, WrongUse
from kitbuilder.demo.supplier import PRICES, DemoSupplier, demo_supplier
from kitbuilder.demo.workshop import demo_catalogue, lay_out
from kitbuilder.settings import read_settings
from tests.plugins.http_servers import NOW, ask
from tests.plugins.installed import ROOT, kitbuilder

LIST = """\
item,quantity,unit,slot,ready,cut_off,fee,minimum,sureness,most,from,price,per,packs,least,returnable,deposit,currency,as_of
W-1,400,each,van,2026-03-11T08:00:00Z,2026-03-10T17:00:00Z,6.50,25.00,,,,4.20,100,50 100,50,,,EUR,2026-03-10T14:30:00Z
W-1,,each,van,2026-03-11T08:00:00Z,2026-03-10T17:00:00Z,6.50,25.00,,,200,3.90,100,,,,,EUR,2026-03-10T14:10:00Z
W-1,,each,counter,2026-03-10T16:00:00Z,,,,on the shelf,30,,5.00,100,,,,,EUR,2026-03-10T14:30:00Z
O-1,any,L,van,2026-03-11T08:00:00Z,2026-03-10T17:00:00Z,6.50,25.00,promised,,,,,,,no,,EUR,2026-03-10T09:30:00Z
U-1,1,each,van,2026-03-11T08:00:00Z,2026-03-10T17:00:00Z,6.50,25.00,,,,900,,,,,350,EUR,2026-03-10T14:30:00Z
"""


@pytest.fixture
def prices(tmp_path: Path) -> Path:
    file = tmp_path / PRICES
    file.write_text(LIST)
    return file


def wanting(*items: str) -> QuoteRequest:
    return QuoteRequest(tuple(Wanted(item, "L" if item.startswith("O") else "each") for item in items), NOW)


def raw(supplier: DemoSupplier, method: str = "POST", path: str = "/quote", body: bytes = b"{}",
        headers: dict[str, str] | None = None) -> tuple[int, object]:
    connection = http.client.HTTPConnection(supplier.url.removeprefix("http://"), timeout=10)
    connection.request(method, path, body, headers or {})
    response = connection.getresponse()
    assert response.headers["content-type"] == "application/json"
    told = response.status, json.loads(response.read())
    connection.close()
    return told


def test_a_price_list_becomes_a_quote(prices):
    with DemoSupplier(prices) as supplier:
        quote = ask(supplier.url, request=wanting("W-1", "O-1", "U-1", "X-1"))
    assert quote.as_of == NOW - timedelta(hours=5, minutes=30) and quote.currency == "EUR"
    day = NOW.replace(hour=0)
    assert quote.slots == (
        Slot(name="van", ready=day + timedelta(hours=32), cut_off=day + timedelta(hours=17), fee=650, minimum=2500),
        Slot(name="counter", ready=day + timedelta(hours=16)))
    assert quote.offers == (
        Offer(item="W-1", unit="each", pool=400_000, packs=(50_000, 100_000), least=50_000, arrivals=(
            Arrival(slot="van", sureness="confirmed", prices=(
                Price(minor=420, per=100_000), Price(minor=390, per=100_000, least=200_000))),
            Arrival(slot="counter", sureness="on the shelf", most=30_000, prices=(Price(minor=500, per=100_000),)))),
        Offer(item="O-1", unit="L", pool=None, returnable=False, arrivals=(Arrival(slot="van", sureness="promised"),)),
        Offer(item="U-1", unit="each", pool=1000, deposit=35000, arrivals=(
            Arrival(slot="van", sureness="confirmed", prices=(Price(minor=90000, per=1000),)),)))
    assert quote.unreadable == {}


def test_only_what_is_asked_for_is_answered_and_makes_the_answers_age(prices):
    with DemoSupplier(prices) as supplier:
        quote = ask(supplier.url, request=wanting("U-1"))
        assert [offer.item for offer in quote.offers] == ["U-1"]
        assert [slot.name for slot in quote.slots] == ["van"]
        assert quote.as_of == NOW - timedelta(minutes=30)
        # of several rows the oldest
        assert ask(supplier.url, request=wanting("W-1", "U-1")).as_of == NOW - timedelta(minutes=50)
        assert ask(supplier.url, request=QuoteRequest((), NOW)).offers == ()


@pytest.mark.parametrize("minutes,slots", [(119, ["van", "counter"]), (120, ["counter"])])
def test_what_has_passed_its_cut_off_is_not_offered(prices, minutes, slots):
    late = QuoteRequest(wanting("W-1", "U-1").wanted, NOW + timedelta(minutes=minutes))
    with DemoSupplier(prices) as supplier:
        quote = ask(supplier.url, request=late)
    assert [slot.name for slot in quote.slots] == slots
    assert [offer.item for offer in quote.offers] == ["W-1", "U-1"][:len(slots)]


def test_a_plain_price_file_means_the_same_over_http():
    file = demo_catalogue() / "prices-supplier.csv"
    items = sorted({line.split(",")[0]: line.split(",")[2] for line in file.read_text().splitlines()[1:]}.items())
    request = QuoteRequest(tuple(Wanted(item, unit) for item, unit in items), NOW)
    told = price_file(Context("supplier", {"file": file.name, "supplier": True}, file.parent, "EUR")).quote(request)
    with DemoSupplier(file) as supplier:
        over_http = ask(supplier.url, request=request)
    assert len(told.offers) > 20 and told.unreadable == {}
    assert over_http.offers == told.offers and over_http.as_of == told.as_of
    assert sorted(over_http.slots, key=lambda slot: slot.ready) == list(told.slots)


def test_the_list_is_read_anew_for_each_question_and_damage_is_told(prices):
    with DemoSupplier(prices) as supplier:
        prices.write_text(LIST.replace("U-1,1,", "U-1,7,"))
        assert ask(supplier.url, request=wanting("U-1")).offers[0].pool == 7000
        prices.write_text(LIST.replace("any,L,van", ",L,van"))
        with pytest.raises(SourceFailed) as failed:
            ask(supplier.url, request=wanting("U-1"))
    assert str(failed.value).endswith(
        f"it says: the supplier's price list is damaged: {PRICES}, line 5: expected a quantity, or the item and unit "
        f"of the row above.")


@pytest.mark.parametrize("old,new,said", [
    ("W-1,400", ",400", "line 2: expected item"),
    ("2026-03-10T16:00:00Z", "16:00", "line 4: read '16:00' under ready, expected a day and time with its zone"),
    (",no,,", ",perhaps,,", "line 5: read 'perhaps' under returnable, expected yes or no"),
    ("6.50,25.00,promised", "9.50,25.00,promised", "line 5: expected the slot 'van' as in the rows above"),
    ("900,,,,,350,EUR", "900,,,,,350,GBP", "one currency in all of them"),
    ("most", "mist", "mist"),
    (LIST[LIST.index("\n"):], "\n", "expected at least one row"),
])
def test_a_list_that_cant_be_read_is_told_before_anybody_asks(prices, old, new, said):
    assert LIST.count(old) == 1
    prices.write_text(LIST.replace(old, new))
    with pytest.raises(BadData) as bad:
        DemoSupplier(prices)
    assert PRICES in str(bad.value) and said in str(bad.value)


def test_a_token_is_asked_for(prices, tmp_path):
    (tmp_path / "token").write_text("tok-1")
    (tmp_path / "other").write_text("tok-2")
    with DemoSupplier(prices, token="tok-1") as supplier:
        assert ask(supplier.url, folder=tmp_path, token_file="token", request=wanting("U-1")).offers
        for settings, said in (({}, "asks for a token"), ({"token_file": "other"}, "doesn't accept the token")):
            with pytest.raises(SourceFailed, match=f"{said} .status 401.*it says: a quote takes the token"):
                ask(supplier.url, folder=tmp_path, **settings)


def test_questions_that_are_none_are_refused_with_a_sentence(prices):
    told: list[str] = []
    with DemoSupplier(prices, told=told.append) as supplier:
        assert raw(supplier, path="/") == (404, {"error": "there is only /quote here, and /orders"})
        assert raw(supplier, "GET") == (405, {"error": "a quote is asked for by POST to /quote"})
        status, answer = raw(supplier)
        assert status == 400 and "is not one of kitbuilder.quote-request/1: Object missing" in str(answer)
        assert raw(supplier, body=b"\xff")[0] == 400
        assert raw(supplier, headers={"Content-Length": "9999999"}) == (
            413, {"error": "a question has 4194304 bytes at most"})
        assert raw(supplier, headers={"Content-Length": "two"}) == (411, {"error": "a question has to tell its length"})
        ask(supplier.url, request=wanting("U-1", "W-1"))
    assert told[0] == "refused with status 404: there is only /quote here, and /orders"
    assert told[-1] == "asked for 2 items, answered 2 offers"


def test_it_listens_on_this_machine_only(prices):
    with DemoSupplier(prices) as supplier:
        assert supplier._server.socket.getsockname()[0] == "127.0.0.1"
        assert supplier.url.startswith("http://127.0.0.1:")


def test_it_ends_with_its_block_whoever_hangs_on_it(prices):
    with DemoSupplier(prices) as supplier:
        port = int(supplier.url.rpartition(":")[2])
        asker = socket.create_connection(("127.0.0.1", port))
        asker.sendall(b"POST /quote HTTP/1.1\r\n")
    with asker, pytest.raises(ConnectionRefusedError):
        socket.create_connection(("127.0.0.1", port))
    with pytest.raises(SourceFailed, match="refused the connection"):
        ask(supplier.url)


def test_a_port_that_is_taken_is_told(prices):
    with DemoSupplier(prices) as supplier, pytest.raises(WrongUse, match="is another demo supplier running"):
        DemoSupplier(prices, int(supplier.url.rpartition(":")[2]))


# in a demo workshop

@pytest.fixture
def workshop(tmp_path: Path) -> Path:
    folder = tmp_path / "demo"
    lay_out(folder)
    (folder / PRICES).write_text(LIST)
    with socket.create_server(("127.0.0.1", 0)) as free:
        port = free.getsockname()[1]
    settings = folder / "kitbuilder.toml"
    # the demo may come with such a source of its own: only ours counts here
    catalogue, now = (line for line in settings.read_text().splitlines() if line.startswith(("catalogue", "now")))
    settings.write_text(f'{catalogue}\n{now}\n\n[sources.wholesaler]\nplugin = "http-supplier"\n'
                        f'url = "http://127.0.0.1:{port}"\n')
    return folder


def test_a_command_finds_it_while_it_runs_and_says_so_when_it_doesnt(workshop):
    with demo_supplier(read_settings(workshop / "kitbuilder.toml")) as supplier:
        told = kitbuilder(workshop, "sources", "--json")
        assert told.returncode == 0, told.stderr
        [row] = msgspec.json.decode(told.stdout)["sources"]
        assert (row["source"], row["state"], row["error"]) == ("wholesaler", "fresh", None)
    told = kitbuilder(workshop, "sources", "--json")
    assert told.returncode == 4
    [row] = msgspec.json.decode(told.stdout)["sources"]
    assert row["state"] == "failed"
    assert f"{supplier.url.removeprefix('http://')} refused the connection: is the service running" in row["error"]


def test_it_serves_until_it_is_interrupted_and_lets_the_port_go(workshop):
    code = ("import sys; from pathlib import Path\n"
            "from kitbuilder.demo.supplier import demo_supplier\n"
            "from kitbuilder.settings import read_settings\n"
            "supplier = demo_supplier(read_settings(Path(sys.argv[1])), lambda line: print(line, flush=True))\n"
            "print(supplier.url, flush=True)\n"
            "supplier.serve()\n"
            "again = demo_supplier(read_settings(Path(sys.argv[1])))\n"
            "print('ended, and', again.url, 'is free')\n")
    settings = workshop / "kitbuilder.toml"
    with subprocess.Popen([sys.executable, "-c", code, str(settings)], cwd=ROOT, text=True, stdout=subprocess.PIPE,
                          stderr=subprocess.PIPE) as process:
        try:
            assert process.stdout is not None
            url = process.stdout.readline().strip()
            assert url in settings.read_text()
            assert ask(url, request=wanting("W-1")).offers[0].pool == 400_000
            assert process.stdout.readline() == "asked for 1 items, answered 1 offers\n"
            process.send_signal(signal.SIGINT)
            out, complaints = process.communicate(timeout=20)
        finally:
            process.kill()
    assert (process.returncode, out, complaints) == (0, f"ended, and {url} is free\n", "")


@pytest.mark.parametrize("url", [None, "https://127.0.0.1:8443", "http://127.0.0.1", "http://parts.example:80",
                                 "http://127.0.0.1:99999", "http://127.0.0.1:x"])
def test_settings_without_a_supplier_on_this_machine_are_told(workshop, url):
    settings = workshop / "kitbuilder.toml"
    kept = settings.read_text().partition("[sources.wholesaler]")[0]
    settings.write_text(kept + (f'[sources.a]\nplugin = "http-supplier"\nurl = "{url}"\n' if url else ""))
    with pytest.raises(WrongUse) as wrong:
        demo_supplier(read_settings(settings))
    assert 'has no source with plugin = "http-supplier" and url = "http://127.0.0.1:PORT"' in str(wrong.value)


def test_it_takes_an_order_once_and_tells_what_it_has_under_a_key(prices):
    from kitbuilder import OrderItem, OrderRequest

    told: list[str] = []
    ready = NOW.replace(hour=0) + timedelta(hours=32)
    request = OrderRequest(key="hillfoot|a/b ü|1", slot="van", ready=ready, cut_off=None, currency="EUR", fee=650,
                           now=NOW, lines=(OrderItem("U-1", "each", 2000, 180000), OrderItem("O-1", "L", 2500, 2500),
                                  OrderItem("X-1", "each", 1000, 100)))
    with DemoSupplier(prices, told=told.append) as supplier:
        web = make(Context("web", {"url": supplier.url, "orders": True}, prices.parent, "EUR"))
        assert web.does == {"quote", "order", "order status"}
        assert web.order_status(request.key).state == "unknown"
        first = web.order(request)
        assert (first.state, first.number) == ("accepted", "D-1")
        assert [(one.item, one.quantity, one.minor) for one in first.lines] == [
            ("U-1", 1000, None), ("O-1", 2500, 2500)]
        assert web.order(request) == first == web.order_status(request.key)
        with pytest.raises(SourceFailed, match="this key was another order's"):
            web.order(msgspec.structs.replace(request, lines=request.lines[:1]))
        late = web.order(msgspec.structs.replace(request, key="late", now=NOW + timedelta(hours=3)))
        assert (late.state, late.says) == ("refused", "nothing goes out in the slot 'van' any more")
        status, answer = raw(supplier, path="/orders")
        assert status == 400 and "no order of kitbuilder.order/1" in str(answer)
    assert told[1] == "got order D-1 again, answered the same"
