"""The demo's supplier: a small HTTP service on this machine that answers quotes from a price list.

It takes orders too, which it keeps in memory. It speaks what `kitbuilder_http_supplier` documents, and is what a
supplier would have to build:

    with DemoSupplier(prices) as supplier:      # any free port of 127.0.0.1
        print(supplier.url)
"""

import hmac
import json
import socketserver
import threading
from collections.abc import Callable, Iterable
from datetime import timedelta
from http.server import BaseHTTPRequestHandler
from pathlib import Path
from types import TracebackType
from typing import Any
from urllib.parse import unquote, urlsplit

import msgspec

from kitbuilder.demo.answers import Answers, place_of
from kitbuilder.demo.prices import Prices, Question
from kitbuilder.demo.taking import Order
from kitbuilder.errors import BadData, WrongUse
from kitbuilder.settings import Settings

#: The price list's name in a demo folder.
PRICES = "prices-wholesaler.csv"
#: The only address that is listened on.
HOST = "127.0.0.1"
#: Bytes that a question may have, and seconds that one may take to be put.
LIMIT = 4 * 1024 * 1024
PATIENCE_S = 10


class DemoSupplier:
    """The service on a price list, which is read anew for each question. As a context manager it answers in the
    background until the block ends; `serve` answers until Ctrl-C. `url` is its address.

    `port` 0 takes any free one. With a `token`, only questions that bring it are answered. `told` gets a line for each
    question. `page`: so many offers at most stand on one page of an answer. Raises BadData for a price list that can't
    be read, WrongUse for a port that is taken.
    """

    def __init__(self, prices: Path, port: int = 0, token: str = "", told: Callable[[str], None] | None = None,
                 page: int = 1000) -> None:
        Prices(prices)  # what is wrong with it should be known before anybody asks
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
                answer = Prices(self.server.prices).answer(question)
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
            question = msgspec.json.decode(known[0], type=Question)
            now = question.now + timedelta(seconds=known[1])
            whole = Prices(self.server.prices).answer(msgspec.structs.replace(question, now=now))
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
            answer = Prices(self.server.prices).take(order, f"D-{len(self.server.taken) + 1}")
            self.server.taken[order.key] = body, answer
        return answer, f"got an order of {len(order.lines)} lines, {answer['state']} as {answer['number']}"

    def _admit(self, paths: Iterable[str]) -> None:
        if self.path not in paths:
            raise _Refused(404, "there is only /quote here, and /orders")
        given = self.headers.get("Authorization", "")
        if self.server.token and not hmac.compare_digest(given.encode(), f"Bearer {self.server.token}".encode()):
            raise _Refused(401, "a quote takes the token that was agreed on")

    def _question(self) -> Question:
        try:
            return msgspec.json.decode(self._body(), type=Question)
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
