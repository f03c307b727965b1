"""A round of quotes from ten sources, against the slowest of them alone.

    .venv-test/bin/python benchmarks/quotes.py [--rounds N] [--items N …] [--slowest MS]

Ten suppliers' services run on loopback, each a process of its own that takes its time for an answer (from a tenth of
the slowest's to the slowest's, which is 500 milliseconds without --slowest) and answers all items. Asked are all ten
at once through the bundled plug-in, and the slowest alone, in turn, in one process; told is how many times the second
is the first, round by round. 1.2 is promised. With a quick slowest and many items it is the reading of ten answers
that counts, one after the other.
"""

import argparse
import json
import multiprocessing
import tempfile
import time
from collections.abc import Callable
from datetime import UTC, datetime
from functools import partial
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from multiprocessing.connection import Connection
from pathlib import Path

from timing import in_rounds, ratio, told

from kitbuilder.model.offer import QuoteRequest, Wanted
from kitbuilder.plugins import load_plugins
from kitbuilder.settings import PluginSettings, Settings
from kitbuilder.stock.quoting import ask_sources

NOW = datetime(2026, 3, 10, 15, tzinfo=UTC)


def body(items: list[str]) -> bytes:
    """An answer with an offer of each item."""
    slot = {"name": "van", "ready": "2026-03-11T08:00:00Z", "cut_off": None}
    offers = [{"item": item, "unit": "each", "pool": "4", "returnable": True, "arrivals": [
        {"slot": "van", "sureness": "confirmed", "prices": [{"price": "11.80", "per": "1"}]}]} for item in items]
    return json.dumps({"format": "kitbuilder.quote/1", "as_of": "2026-03-10T14:30:00Z", "currency": "EUR",
                       "slots": [slot], "offers": offers}).encode()


def serve(delay_s: float, answer: bytes, tell: Connection) -> None:
    """A service that answers so after so long; it tells its port."""
    class Handler(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            self.rfile.read(int(self.headers["Content-Length"]))
            time.sleep(delay_s)
            self.send_response(200)
            self.send_header("Content-Type", "application/json")
            self.send_header("Content-Length", str(len(answer)))
            self.end_headers()
            self.wfile.write(answer)

        def log_message(self, *_: object) -> None:
            pass

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    tell.send(server.server_address[1])
    server.serve_forever()


def _once(ask: Callable[[list[PluginSettings]], int], sources: list[PluginSettings], number: int) -> int:
    return ask(sources)


def main() -> None:
    """Measure, and print one line for each number of items."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--rounds", type=int, default=9)
    parser.add_argument("--items", type=int, nargs="*", default=[40, 400])
    parser.add_argument("--slowest", type=int, default=500, metavar="MS")
    given = parser.parse_args()
    plugins = load_plugins()
    for count in given.items:
        items = [f"P-{number}" for number in range(count)]
        request = QuoteRequest(tuple(Wanted(item, "each") for item in items), NOW)
        services, sources = [], []
        try:
            for number, delay_s in enumerate(given.slowest / 10_000 * part for part in range(1, 11)):
                here, there = multiprocessing.Pipe()
                service = multiprocessing.Process(target=serve, args=(delay_s, body(items), there), daemon=True)
                service.start()
                services.append(service)
                sources.append(PluginSettings(
                    f"s{number}", "http-supplier", 10.0, 24.0, {"url": f"http://127.0.0.1:{here.recv()}"}))
            with tempfile.TemporaryDirectory() as folder:
                place = Path(folder)

                def ask(asked: list[PluginSettings], place: Path = place, request: QuoteRequest = request) -> int:
                    answers = ask_sources(Settings(place, sources=tuple(asked)), plugins, request, "EUR",
                                          cache=place / "cache")
                    wrong = [one.error for one in answers if one.state != "fresh" or one.quote is None
                             or len(one.quote.offers) != len(request.wanted)]
                    if wrong:
                        raise SystemExit(f"not measured: {wrong}")
                    return 1

                found = in_rounds({"slowest": partial(_once, ask, sources[-1:]), "all": partial(_once, ask, sources)},
                                  given.rounds)
            print(f"ten sources, {count:>4} items, against the slowest alone: {ratio(found['all'], found['slowest'])}; "
                  f"{told(found['all'])} against {told(found['slowest'])}; promised 1.20 x")
        finally:
            for service in services:
                service.terminate()
                service.join()


if __name__ == "__main__":
    main()
