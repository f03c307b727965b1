"""Suppliers that take orders over real HTTP on loopback, each as badly as a test wants."""

import json
import socketserver
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler
from typing import Any
from urllib.parse import unquote


class Supplier:
    """A service whose `on_order(talk, order)` and `on_status(talk, key)` a test gives; it keeps what it was sent."""

    def __init__(self) -> None:
        self.orders: list[dict[str, Any]] = []
        self.keys: list[str] = []
        self.asked: list[str] = []
        self.on_order: Callable[[Talk, dict[str, Any]], None] = lambda talk, order: talk.send(accepted(order))
        self.on_status: Callable[[Talk, str], None] = lambda talk, key: talk.send(self.known(key))
        supplier = self

        class Handler(Talk):
            def do_POST(self) -> None:
                order = json.loads(self.rfile.read(int(self.headers["Content-Length"])))
                supplier.orders.append(order)
                supplier.keys.append(self.headers["Idempotency-Key"])
                supplier.on_order(self, order)

            def do_GET(self) -> None:
                key = unquote(self.path.removeprefix("/orders/"))
                supplier.asked.append(key)
                supplier.on_status(self, key)

        self._server = socketserver.ThreadingTCPServer(("127.0.0.1", 0), Handler, bind_and_activate=True)
        self._server.daemon_threads = True
        self.url = f"http://127.0.0.1:{self._server.server_address[1]}"
        threading.Thread(target=self._server.serve_forever, args=(0.02,), daemon=True).start()

    def known(self, key: str) -> dict[str, Any]:
        """What it has under a key, as it would accept it."""
        order = next((one for one in self.orders if one["key"] == key), None)
        return accepted(order) if order else {"format": "kitbuilder.order-answer/1", "key": key, "state": "unknown"}

    def close(self) -> None:
        self._server.shutdown()
        self._server.server_close()


class Talk(BaseHTTPRequestHandler):
    """One connection."""

    def send(self, answer: dict[str, Any], status: int = 200) -> None:
        body = json.dumps(answer).encode()
        self.send_response(status)
        self.send_header("Content-Type", "application/json")
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self.wfile.write(body)

    def log_message(self, format: str, *args: Any) -> None:
        """Nothing."""


def accepted(order: dict[str, Any], **changes: Any) -> dict[str, Any]:
    """The answer that takes all of an order; `lines` changes its lines by item, None leaves one out."""
    lines = changes.pop("lines", {})
    told = [{"item": one["item"], "quantity": one["quantity"], "price": one["price"]} | (lines.get(one["item"]) or {})
            for one in order["lines"] if lines.get(one["item"], {}) is not None]
    return {"format": "kitbuilder.order-answer/1", "key": order["key"], "state": "accepted", "number": "A-1",
            "lines": told} | changes


@contextmanager
def supplier() -> Iterator[Supplier]:
    made = Supplier()
    try:
        yield made
    finally:
        made.close()
