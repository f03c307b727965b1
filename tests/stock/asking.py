"""Sources for tests, asked as the settings would have them asked."""

from collections.abc import Callable, Mapping
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import msgspec

from kitbuilder import Arrival, Offer, Quote, QuoteRequest, Slot, SourceKind, Wanted
from kitbuilder.plugins import Plugins
from kitbuilder.settings import PluginSettings, Settings
from kitbuilder.stock.quoting import Answer, ask_sources

NOW = datetime(2026, 3, 10, 15, 0, tzinfo=UTC)
WANTED = (Wanted("P-1", "each"), Wanted("O-1", "L"))
REQUEST = QuoteRequest(WANTED, NOW)

OFFER = Offer(item="P-1", unit="each", pool=4000, arrivals=(Arrival(slot="now", sureness="on the shelf"),))
QUOTE = Quote(as_of=NOW, currency="EUR", slots=(Slot(name="now", ready=NOW),), offers=(OFFER,))

change = msgspec.structs.replace


class Says:
    """A source that calls a function for its answer."""

    does = frozenset({"quote"})

    def __init__(self, answer: Callable[[QuoteRequest], Any]) -> None:
        self.quote = answer


def brought(makers: Mapping[str, Callable[..., Any]]) -> Plugins:
    """Plug-ins that bring a kind for each maker."""
    return Plugins((), {name: (SourceKind(name, "", make), "a-stranger") for name, make in makers.items()}, {})


def asked(*makers: Callable[..., Any], deadline_s: float = 5.0, stale_after_h: float = 24.0,
          request: QuoteRequest = REQUEST, plugins: Plugins | None = None, **keys: object) -> list[Answer]:
    """The answers of sources, the n-th named `source-n` and of the kind `kind-n`."""
    settings = Settings(Path("/"), sources=tuple(
        PluginSettings(f"source-{at}", f"kind-{at}", deadline_s, stale_after_h, dict(keys))
        for at in range(len(makers))))
    kinds = brought({f"kind-{at}": make for at, make in enumerate(makers)})
    return ask_sources(settings, plugins or kinds, request, "EUR")


def saying(answer: Any) -> Callable[..., Says]:
    """What makes a source with a fixed answer."""
    return lambda context: Says(lambda request: answer)
