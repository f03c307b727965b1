"""The demo's supplier: a small HTTP service on this machine that answers quotes from a price list.

It takes orders too, which it keeps in memory. It speaks what `kitbuilder_http_supplier` documents, and is what a
supplier would have to build:

    with DemoSupplier(prices) as supplier:      # any free port of 127.0.0.1
        print(supplier.url)

Columns of the price list: those of a price file (item, quantity, unit, ready, price, per, currency, as_of, note),
and more that may be left out: slot (the name of `ready`), cut_off, fee and minimum of the slot, sureness, most, from
(the price is for at least so much), packs (sizes with spaces between), least, returnable (yes or no), deposit. A row
with a quantity ("any": as much as is asked for) begins an offer; rows of the same item without one add slots or
price breaks to it. What has passed its cut-off is not offered.
"""

import hmac
import json
import socketserver
import threading
from collections.abc import Callable, Iterable
from datetime import datetime, timedelta
from http.server import BaseHTTPRequestHandler
from pathlib import Path
from types import TracebackType
from typing import Annotated, Any, Literal, Never
from urllib.parse import unquote, urlsplit

import msgspec

from kitbuilder.catalogue.rows import SheetRow, read_rows
from kitbuilder.demo.answers import Answers, place_of
from kitbuilder.demo.taking import Order, answer_to
from kitbuilder.errors import BadData, WrongUse
from kitbuilder.settings import Settings

#: The price list's name in a demo folder.
PRICES = "prices-wholesaler.csv"
#: The only address that is listened on.
HOST = "127.0.0.1"
NEEDED = ("item", "quantity", "unit", "ready", "currency", "as_of")
COLUMNS = (*NEEDED, "price", "per", "slot", "cut_off", "fee", "minimum", "sureness", "most", "from", "packs", "least",
           "returnable", "deposit", "note")
#: Bytes that a question may have, and seconds that one may take to be put.
LIMIT = 4 * 1024 * 1024
PATIENCE_S = 10


class _Wanted(msgspec.Struct):
    item: str


class _Question(msgspec.Struct):
    format: Literal["kitbuilder.quote-request/1"]
    now: Annotated[datetime, msgspec.Meta(tz=True)]
    wanted: list[_Wanted]


class DemoSupplier:
    """The service on a price list, which is read anew for each question. As a context manager it answers in the
    background until the block ends; `serve` answers until Ctrl-C. `url` is its address.

    `port` 0 takes any free one. With a `token`, only questions that bring it are answered. `told` gets a line for each
    question. `page`: so many offers at most stand on one page of an answer. Raises BadData for a price list that can't
    be read, WrongUse for a port that is taken.
    """

    def __init__(self, prices: Path, port: int = 0, token: str = "", told: Callable[[str], None] | None = None,
                 page: int = 1000) -> None:
        _Prices(prices)  # what is wrong with it should be known before anybody asks
        try:
            self._server = _Server((HOST, port), _Handler)
        except OSError as error:
            raise WrongUse(f"Port {port} of {HOST} can't be used ({error.strerror}): is another demo supplier running? "
                           f"Stop it, or give url in the settings another port.") from None
        self._server.prices, self._server.token, self._server.told = prices, token, told
        self._server.answers = Answers(page)
        self._server.taken, self._server.taking = {}, threading.Lock()
        self.url = f"http://{HOST}:{self._server.server_address[1]}"
        self._thread: threading.Thread | None = None

    def serve(self) -> None:
        """Answer until Ctrl-C, then let the port go."""
        try:
            self._server.serve_forever(poll_interval=0.1)
        except KeyboardInterrupt:
            pass  # how one ends it
        finally:
            self._server.server_close()

    def __enter__(self) -> "DemoSupplier":
        self._thread = threading.Thread(target=self._server.serve_forever, args=(0.05,), daemon=True)
        self._thread.start()
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self._server.shutdown()
        self._server.server_close()
        if self._thread is not None:
            self._thread.join()


def demo_supplier(settings: Settings, told: Callable[[str], None] | None = None) -> DemoSupplier:
    """The supplier that a demo folder's settings ask: its price list there, and the port of its url.

    Raises WrongUse where the settings have no http-supplier on this machine; BadData, WrongUse as DemoSupplier.
    """
    for source in settings.sources:
        url = str(source.keys.get("url", ""))
        if source.plugin == "http-supplier" and url.startswith(f"http://{HOST}:"):
            try:
                port = urlsplit(url).port
            except ValueError:
                port = None
            if port:
                return DemoSupplier(settings.folder / PRICES, port, told=told)
    where = settings.file or settings.folder
    raise WrongUse(f"{where} has no source with plugin = \"http-supplier\" and url = \"http://{HOST}:PORT\". Type this "
                   f"inside a demo folder; `kitbuilder demo FOLDER` makes one.")


class _Server(socketserver.ThreadingTCPServer):
    # not http.server's own: that looks up the machine's name, which may take seconds
    allow_reuse_address = True
    daemon_threads = True
    request_queue_size = 64
    prices: Path
    token: str
    told: Callable[[str], None] | None
    answers: Answers
    #: Orders by key, as they came and as they were answered; they last as long as the service runs.
    taken: dict[str, tuple[bytes, dict[str, Any]]]
    taking: threading.Lock

    def handle_error(self, request: Any, client_address: Any) -> None:
        """Nothing: an asker that went away is none of the demo's business, other faults are answered as 500."""


class _Refused(Exception):
    def __init__(self, status: int, why: str) -> None:
        super().__init__(why)
        self.status = status


class _Handler(BaseHTTPRequestHandler):
    protocol_version = "HTTP/1.1"
    server_version = "kitbuilder-demo-supplier"
    sys_version = ""
    timeout = PATIENCE_S
    server: _Server

    def do_POST(self) -> None:
        """Answer a question, or say in one sentence why not."""
        self.close_connection = True
        status = 200
        more: dict[str, str] = {}
        try:
            self._admit(("/quote", "/orders"))
            answer: dict[str, Any]
            if self.path == "/orders":
                answer, line = self._order()
            else:
                question = self._question()
                answer = _Prices(self.server.prices).answer(question)
                name = self.server.answers.remember(msgspec.json.encode(question))
                page = self.server.answers.page(name, answer, 1, "")
                assert page is not None
                assert page.answer is not None
                answer, more = page.answer, page.headers
                line = f"asked for {len(question.wanted)} items, answered {len(answer['offers'])} offers"
        except _Refused as refused:
            status, answer = refused.status, {"error": str(refused)}
        except BadData as bad:
            status, answer = 500, {"error": f"the supplier's price list is damaged: {bad}"}
        except OSError:
            raise  # the asker went away, or never finished
        except Exception as error:  # a fault of the demo's
            status, answer = 500, {"error": f"{type(error).__name__}: {error}"}
        if status != 200:
            line = f"refused with status {status}: {answer['error']}"
        # first: who has the answer may look at what was told
        if self.server.told is not None:
            self.server.told(line)
        self._send(status, answer, more)

    def do_GET(self) -> None:
        """Say what there is under an order's key; quotes are asked for by POST."""
        self.close_connection = True
        if self.path.startswith("/quote/"):
            self._again()
            return
        if not self.path.startswith("/orders/"):
            self._send(405, {"error": "a quote is asked for by POST to /quote"}, {"Allow": "POST"})
            return
        try:
            self._admit((self.path,))
        except _Refused as refused:
            self._send(refused.status, {"error": str(refused)})
            return
        key = unquote(self.path.removeprefix("/orders/"))
        with self.server.taking:
            known = self.server.taken.get(key)
        self._send(200, known[1] if known else {"format": "kitbuilder.order-answer/1", "key": key, "state": "unknown"})

    def _again(self) -> None:
        """An answer again, or one of its pages, or that it is as before."""
        try:
            self._admit((self.path,))
            place = place_of(self.path)
            known = self.server.answers.find(place[0]) if place else None
            if place is None or known is None:
                raise _Refused(404, "there is no such answer (any more): put the question by POST to /quote")
            question = msgspec.json.decode(known[0], type=_Question)
            now = question.now + timedelta(seconds=known[1])
            whole = _Prices(self.server.prices).answer(msgspec.structs.replace(question, now=now))
            page = self.server.answers.page(place[0], whole, place[1], self.headers.get("If-None-Match", ""))
            if page is None:
                raise _Refused(404, "there is no such page")
        except _Refused as refused:
            self._send(refused.status, {"error": str(refused)})
        except BadData as bad:
            self._send(500, {"error": f"the supplier's price list is damaged: {bad}"})
        else:
            if self.server.told is not None:
                what = "nothing has changed" if page.answer is None else f"answered {len(page.answer['offers'])} offers"
                self.server.told(f"asked again for {len(question.wanted)} items, {what}")
            self._send(page.status, page.answer, page.headers)

    def _order(self) -> tuple[dict[str, Any], str]:
        """The answer to an order, and what is told of it. What comes again under a key gets the same answer."""
        body = self._body()
        try:
            order = msgspec.json.decode(body, type=Order)
        except (msgspec.DecodeError, UnicodeDecodeError) as error:
            raise _Refused(400, f"this is no order of kitbuilder.order/1: {error}") from None
        if not self.headers.get("Idempotency-Key"):
            raise _Refused(400, "an order brings its key as Idempotency-Key too")
        with self.server.taking:
            if order.key in self.server.taken:
                first, answer = self.server.taken[order.key]
                if first != body:
                    raise _Refused(422, "this key was another order's")
                return answer, f"got order {answer['number']} again, answered the same"
            answer = _Prices(self.server.prices).take(order, f"D-{len(self.server.taken) + 1}")
            self.server.taken[order.key] = body, answer
        return answer, f"got an order of {len(order.lines)} lines, {answer['state']} as {answer['number']}"

    def _admit(self, paths: Iterable[str]) -> None:
        if self.path not in paths:
            raise _Refused(404, "there is only /quote here, and /orders")
        given = self.headers.get("Authorization", "")
        if self.server.token and not hmac.compare_digest(given.encode(), f"Bearer {self.server.token}".encode()):
            raise _Refused(401, "a quote takes the token that was agreed on")

    def _question(self) -> _Question:
        try:
            return msgspec.json.decode(self._body(), type=_Question)
        except (msgspec.DecodeError, UnicodeDecodeError) as error:
            raise _Refused(400, f"the question is not one of kitbuilder.quote-request/1: {error}") from None

    def _body(self) -> bytes:
        length = self.headers.get("Content-Length", "")
        if not (length.isascii() and length.isdecimal()):
            raise _Refused(411, "a question has to tell its length")
        if len(length) > 9 or int(length) > LIMIT:
            raise _Refused(413, f"a question has {LIMIT} bytes at most")
        return self.rfile.read(int(length))

    def _send(self, status: int, answer: dict[str, Any] | None, headers: dict[str, str] | None = None) -> None:
        body = b"" if answer is None else json.dumps(answer, ensure_ascii=False).encode()
        kind = {} if answer is None else {"Content-Type": "application/json", "Content-Length": str(len(body))}
        self.send_response(status)
        for name, value in {**kind, "Connection": "close", **(headers or {})}.items():
            self.send_header(name, value)
        self.end_headers()
        self.wfile.write(body)

    def log_message(self, format: str, *args: Any) -> None:
        """Nothing: `told` says what is to be said."""


class _Prices:
    """A price list as read."""

    def __init__(self, file: Path) -> None:
        self._rows = read_rows(file, NEEDED, COLUMNS)
        self._file = file.name
        self._slots: dict[str, dict[str, Any]] = {}
        self._cut_offs: dict[str, datetime] = {}
        self._offers: list[dict[str, Any]] = []
        self._as_of: dict[str, datetime] = {}
        for row in self._rows:
            self._take(row)
        currencies = {row.cells["currency"] for row in self._rows}
        if len(currencies) != 1:
            raise BadData(f"{self._file}: expected at least one row, and one currency in all of them.")
        self._currency = currencies.pop()

    def answer(self, question: _Question) -> dict[str, Any]:
        """The answer to a question, as JSON has it."""
        items = {one.item for one in question.wanted}
        late = {name for name, cut_off in self._cut_offs.items() if cut_off <= question.now}
        offers = []
        for offer in self._offers:
            arrivals = [arrival for arrival in offer["arrivals"] if arrival["slot"] not in late]
            if offer["item"] in items and arrivals:
                offers.append({**offer, "arrivals": arrivals})
        used = {arrival["slot"] for offer in offers for arrival in offer["arrivals"]}
        told = [when for item, when in self._as_of.items() if item in items] or self._as_of.values()
        return {
            "format": "kitbuilder.quote/1", "as_of": min(told).isoformat(), "currency": self._currency,
            "slots": [slot for name, slot in self._slots.items() if name in used], "offers": offers, "unreadable": {}}

    def take(self, order: Order, number: str) -> dict[str, Any]:
        """The answer to an order, as JSON has it."""
        return answer_to(order, number, set(self._slots), self._cut_offs, self._offers)

    def _take(self, row: SheetRow) -> None:
        cells = row.cells
        missing = [column for column in ("item", "unit", "ready", "currency", "as_of") if column not in cells]
        if missing:
            self._wrong(row, f"expected {', '.join(missing)}")
        when = self._moment(row, "as_of")
        self._as_of[cells["item"]] = min(when, self._as_of.get(cells["item"], when))
        slot = self._slot(row)
        if "quantity" in cells:
            quantity = cells["quantity"]
            self._offers.append({
                "item": cells["item"], "unit": cells["unit"], "pool": None if quantity == "any" else quantity,
                "packs": cells.get("packs", "").split(), "least": cells.get("least", "0"),
                "returnable": self._yes(row), "deposit": cells.get("deposit", "0"), "arrivals": []})
        elif not self._offers or any(self._offers[-1][key] != cells[key] for key in ("item", "unit")):
            self._wrong(row, "expected a quantity, or the item and unit of the row above")
        self._arrive(row, slot, self._offers[-1]["arrivals"])

    def _arrive(self, row: SheetRow, slot: str, arrivals: list[dict[str, Any]]) -> None:
        here = next((arrival for arrival in arrivals if arrival["slot"] == slot), None)
        if here is None:
            here = {"slot": slot, "sureness": row.cells.get("sureness", "confirmed"), "most": row.cells.get("most"),
                    "prices": []}
            arrivals.append(here)
        if "price" in row.cells:
            here["prices"].append({
                "price": row.cells["price"], "per": row.cells.get("per", "1"), "least": row.cells.get("from", "0")})

    def _slot(self, row: SheetRow) -> str:
        cells = row.cells
        ready = self._moment(row, "ready")
        name = cells.get("slot", ready.isoformat())
        told = {"name": name, "ready": ready.isoformat(), "cut_off": None, "fee": cells.get("fee", "0"),
                "minimum": cells.get("minimum", "0")}
        if "cut_off" in cells:
            self._cut_offs[name] = self._moment(row, "cut_off")
            told["cut_off"] = self._cut_offs[name].isoformat()
        if self._slots.setdefault(name, told) != told:
            self._wrong(row, f"expected the slot {name!r} as in the rows above: {_terms(self._slots[name].values())}")
        return name

    def _yes(self, row: SheetRow) -> bool:
        word = row.cells.get("returnable", "yes")
        if word not in ("yes", "no"):
            self._wrong(row, f"read {word!r} under returnable, expected yes or no")
        return word == "yes"

    def _moment(self, row: SheetRow, column: str) -> datetime:
        text = row.cells[column]
        try:
            moment = datetime.fromisoformat(text)
        except ValueError:
            moment = None
        if moment is None or moment.tzinfo is None:
            self._wrong(row, f"read {text!r} under {column}, expected a day and time with its zone")
        return moment

    def _wrong(self, row: SheetRow, what: str) -> Never:
        raise BadData(f"{self._file}, line {row.line}: {what}.")


def _terms(values: Iterable[str | None]) -> str:
    return ", ".join(value or "-" for value in values)
