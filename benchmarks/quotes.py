"""A round of quotes from ten sources, against the slowest of them alone.

    .venv-test/bin/python benchmarks/quotes.py [--rounds N] [--items N …] [--slowest MS]

Ten suppliers' services run on loopback, each a process of its own that takes its time for an answer (from a tenth of
the slowest's to the slowest's, which is 500 milliseconds without --slowest) and answers all items. Asked are all ten
at once through the bundled plug-in, and the slowest alone, in turn, in one process; told is how many times the second
is the first, round by round. 1.2 is promised. With a quick slowest and many items it is the reading of ten answers
that counts, one after the other, so the processor's time for an answer is told too, and how busy the machine was: where
others want the processors as well, ten answers wait for them more often than one does.
"""

import argparse
import json
import multiprocessing
import os
import statistics
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
    """An answer with an offer of each item, each at another price."""
    slot = {"name": "van", "ready": "2026-03-11T08:00:00Z", "cut_off": None}
    offers = [{"item": item, "unit": "each", "pool": f"{1 + number % 37}", "returnable": True, "arrivals": [
        {"slot": "van", "sureness": "confirmed", "prices": [
            {"price": f"{number * 7 // 100 + 3}.{number * 7 % 100:02d}", "per": "1"}]}]}
        for number, item in enumerate(items)]
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


def _load() -> str:
    return f"{os.getloadavg()[0]:.1f} on {len(os.sched_getaffinity(0))} processors"


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
                spent: list[float] = []

                def ask(asked: list[PluginSettings], place: Path = place, request: QuoteRequest = request,
                        spent: list[float] = spent) -> int:
                    before = time.process_time()
                    answers = ask_sources(Settings(place, sources=tuple(asked)), plugins, request, "EUR",
                                          cache=place / "cache")
                    spent.append((time.process_time() - before) / len(asked))
                    wrong = [one.error for one in answers if one.state != "fresh" or one.quote is None
                             or len(one.quote.offers) != len(request.wanted)]
                    if wrong:
                        raise SystemExit(f"not measured: {wrong}")
                    return 1

                found = in_rounds({"slowest": partial(_once, ask, sources[-1:]), "all": partial(_once, ask, sources)},
                                  given.rounds)
            print(f"ten sources, {count:>4} items, against the slowest alone: {ratio(found['all'], found['slowest'])}; "
                  f"{told(found['all'])} against {told(found['slowest'])}; promised 1.20 x; "
                  f"{statistics.median(spent) * 1e3:.1f} ms of a processor for an answer; load {_load()}")
        finally:
            for service in services:
                service.terminate()
                service.join()


if __name__ == "__main__":
    main()
