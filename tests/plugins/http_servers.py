"""Real servers on loopback that answer as badly as a test wants: what they do with a connection is a function."""

import contextlib
import socket
import ssl
import threading
import time
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path

from kitbuilder_http_supplier import make

from kitbuilder import Context, Quote, QuoteRequest, Wanted

NOW = datetime(2026, 3, 10, 15, tzinfo=UTC)
REQUEST = QuoteRequest((Wanted("TH-10140", "each"), Wanted("OI-20010", "L", ("00012345600012",))), NOW)
ANSWER = (b'{"format": "kitbuilder.quote/1", "as_of": "2026-03-10T14:30:00+00:00", "currency": "EUR", "slots": [], '
          b'"offers": [], "unreadable": {}}')


class Server:
    """Listens on a free port of 127.0.0.1. `act(connection, number, question)` answers the number-th question, which
    has been read whole; the connection is closed after it. `heads` and `bodies` keep what was asked."""

    def __init__(self, act: Callable[[socket.socket, int, bytes], None], tls: ssl.SSLContext | None = None) -> None:
        self.heads: list[str] = []
        self.bodies: list[bytes] = []
        self._act, self._tls = act, tls
        self._listener = socket.create_server(("127.0.0.1", 0))
        self.port = self._listener.getsockname()[1]
        self.host = f"127.0.0.1:{self.port}"
        self.url = f"http{'s' if tls else ''}://{self.host}"
        threading.Thread(target=self._serve, daemon=True).start()

    def _serve(self) -> None:
        with contextlib.suppress(OSError):  # the listener is closed when the test is over
            while True:
                connection = self._listener.accept()[0]
                threading.Thread(target=self._talk, args=(connection,), daemon=True).start()

    def _talk(self, connection: socket.socket) -> None:
        with contextlib.suppress(OSError):  # the asker may break off: some tests are about that
            if self._tls:
                connection = self._tls.wrap_socket(connection, server_side=True)
            with connection:
                head = b""
                while b"\r\n\r\n" not in head:
                    more = connection.recv(65536)
                    if not more:
                        return
                    head += more
                head, _, body = head.partition(b"\r\n\r\n")
                lengths = [line for line in head.lower().split(b"\r\n") if line.startswith(b"content-length:")]
                while lengths and len(body) < int(lengths[0].split(b":")[1]):
                    body += connection.recv(65536)
                self.heads.append(head.decode())
                self.bodies.append(body)
                self._act(connection, len(self.heads), body)
                # what the asker still sends must not turn the end of the answer into a reset
                connection.shutdown(socket.SHUT_WR)
                connection.settimeout(5)
                connection.recv(1)

    def close(self) -> None:
        # closing alone doesn't wake the thread that accepts
        with contextlib.suppress(OSError):
            self._listener.shutdown(socket.SHUT_RDWR)
        self._listener.close()


@contextlib.contextmanager
def serving(
    act: bytes | Callable[[socket.socket, int, bytes], None], tls: ssl.SSLContext | None = None,
) -> Iterator[Server]:
    """A server that does `act`, or sends these bytes, at each question."""
    def send(connection: socket.socket, number: int, question: bytes) -> None:
        connection.sendall(act)  # type: ignore[arg-type]

    server = Server(send if isinstance(act, bytes) else act, tls)
    try:
        yield server
    finally:
        server.close()


def answer(status: str = "200 OK", body: bytes = ANSWER, kind: str = "application/json", **headers: str) -> bytes:
    """An answer in HTTP; keywords are more headers, with _ for -."""
    lines = [f"HTTP/1.1 {status}", f"Content-Type: {kind}", f"Content-Length: {len(body)}",
             *(f"{name.replace('_', '-')}: {value}" for name, value in headers.items())]
    return "\r\n".join(lines).encode() + b"\r\n\r\n" + body


def drip(connection: socket.socket, data: bytes, pause_s: float = 0.05) -> None:
    """Send a byte now and then, and then nothing more until the asker gives up."""
    for at in range(len(data)):
        connection.sendall(data[at:at + 1])
        time.sleep(pause_s)
    connection.recv(1)


def ask(url: str, deadline_s: float = 5.0, folder: Path = Path("."), request: QuoteRequest = REQUEST,
        **settings: object) -> Quote:
    """Ask the plug-in, as the core would, with these settings."""
    return make(Context("wholesaler", {"url": url, **settings}, folder, "EUR", deadline_s)).quote(request)
