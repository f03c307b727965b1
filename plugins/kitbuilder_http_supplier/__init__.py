"""A stock source that is a supplier's HTTP service.

    [sources.wholesaler]
    plugin = "http-supplier"
    url = "https://parts.example/kitbuilder"   # /quote is added to it
    token_file = "wholesaler.token"            # or token_env = "WHOLESALER_TOKEN"; neither: none is sent
    ca_file = "our-authority.pem"              # only where the certificate is of an authority of one's own
    orders = true                              # only where it takes orders too

Credentials are named in the settings, never written there: `token_file` holds the token alone, `token_env` is an
environment variable; it is sent as `Authorization: Bearer …`, and never over http:// to another machine. Paths start
from the settings' folder. `deadline_s` counts as for every source; the answer has to be whole a little sooner, so
that what went wrong can still be told.

The service answers a question. It is a POST of JSON to `url`/quote:

    {
      "format": "kitbuilder.quote-request/1",
      "now": "2026-03-10T15:00:00Z",
      "currency": "EUR",
      "wanted": [
        {"item": "TH-10140", "unit": "each", "codes": []},
        {"item": "OI-20010", "unit": "L", "codes": ["00012345600012"]},
        {"item": "TH-10110", "unit": "each", "codes": []},
        {"item": "TH-10120", "unit": "each", "codes": []}
      ]
    }

`now` is the moment that counts as now, `currency` the only one in which an answer can be used, `unit` what the
workshop counts the item in, `codes` other numbers of the item (of makers, or GTINs). The answer is status 200 with
content type application/json:

    {
      "format": "kitbuilder.quote/1",
      "as_of": "2026-03-10T14:30:00+00:00",
      "currency": "EUR",
      "slots": [
        {"name": "first van", "ready": "2026-03-11T08:00:00+00:00", "cut_off": "2026-03-10T17:00:00+00:00",
         "fee": "6.50", "minimum": "25.00"},
        {"name": "our counter", "ready": "2026-03-10T16:00:00+00:00", "cut_off": null}
      ],
      "offers": [
        {"item": "TH-10140", "unit": "each", "pool": "400", "packs": ["50", "100"], "least": "50", "returnable": true,
         "arrivals": [
           {"slot": "first van", "sureness": "confirmed", "prices": [
             {"price": "101.76", "per": "100"}, {"price": "94.00", "per": "100", "least": "200"}]},
           {"slot": "our counter", "sureness": "on the shelf", "most": "100", "prices": [
             {"price": "110.00", "per": "100"}]}]},
        {"item": "OI-20010", "unit": "mL", "pool": null, "packs": ["1000", "20000"], "returnable": false,
         "lot": "B-7", "use_by": "2027-06-30",
         "arrivals": [{"slot": "first van", "sureness": "promised", "prices": [{"price": "9.80", "per": "1000"}]}]},
        {"item": "TH-10110", "unit": "each", "pool": "2", "returnable": true, "deposit": "350.00",
         "arrivals": [{"slot": "first van", "sureness": "dispatched", "prices": []}]}
      ],
      "unreadable": {"TH-10120": "being counted, ask again after 17:00"}
    }

- Times are ISO 8601 with their zone. Amounts are decimals as text in the `unit` of the offer, with three decimal
  places at most; money is decimals as text in `currency`.
- A slot is a time at which things are to hand. `cut_off`: order before then; null where nothing needs to be ordered.
  `fee` is charged once for an order in the slot, `minimum` the least value of such an order.
- An offer is what there is of one item, `pool` over all its arrivals together; null: as much as is asked for. An
  item may have several offers (lots, stores). An item without one is an item that the supplier doesn't have;
  what it can't tell, it names in `unreadable`, with the reason.
- `packs` are the sizes it is sold in (none: any amount), `least` the least amount of an order, `returnable` whether
  it may go back unused, `deposit` what is charged for each `unit` until an old unit comes back, `lot` and `use_by`
  of which lot it is and the last day of its use.
- An arrival puts an offer into a slot: how sure it is (on the shelf, dispatched, confirmed, promised), the `most`
  that can come in it (null: all of the pool) and the prices, none where none is known. A price is for the amount
  `per`, if `least` or more is taken.
- May be left out: fee and minimum ("0"), packs (none), least and deposit ("0"), lot and use_by, most (null),
  unreadable (none). Nothing else may be, and no other key may stand there: one mistyped would read as its default.

Any other status is a failure; a JSON body {"error": "one sentence"} is shown with it. 429 and 5xx are asked again,
after their Retry-After if they have one, as long as the deadline leaves time: a question may come more than once.
One with a Retry-After beyond it isn't asked again until then (15 minutes at most), whatever command is run; nor is one
that was too slow, broke off or answered 429 or 5xx in three commands in a row, first for a minute, then for longer.

Two things more are the supplier's choice; openapi.json beside this file has them all for programs:

- **Pages** (RFC 8288): an answer with the header `Link: </quote/7?page=2>; rel="next"` goes on at that address, which
  is fetched by GET. Each page is an answer as above, with the slots that its offers use.
- **Unchanged answers** (RFC 9110): an answer with `Content-Location: /quote/7` and `ETag: "3f"` is kept (in the
  person's cache folder). The same question is then a GET of /quote/7 with `If-None-Match: "3f"`: 304 says that all of
  it is still so, 200 brings a new answer, and after 404, 405 or 410 the question is put anew. Answers with pages
  aren't kept.

Addresses in both are the service's own: others get neither a question nor the token.

With `orders = true` in the settings orders are sent to it too: `ordering` in this package has that half.
"""

import os
import time
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import SplitResult, quote, urlsplit

from kitbuilder import (
    Context,
    NotSent,
    OrderAnswer,
    OrderRequest,
    Quote,
    QuoteRequest,
    SourceFailed,
    SourceKind,
    StockSource,
    hookimpl,
)

if TYPE_CHECKING:
    from kitbuilder_http_supplier.words import Place

KEYS = ("url", "token_file", "token_env", "ca_file", "orders")
#: The only machines to which a token may go without encryption.
LOOPBACK = ("127.0.0.1", "::1", "localhost")


class HttpSupplier:
    """One supplier's service."""

    does = frozenset({"quote"})

    def __init__(self, context: Context) -> None:
        """Raises ValueError, saying what was expected, for settings it can't use."""
        _check_keys(context)
        takes_orders = context.settings.get("orders", False)
        if not isinstance(takes_orders, bool):
            raise ValueError("orders = true or false")
        if takes_orders:
            self.does = frozenset({"quote", "order", "order status"})
        url = _url(context.settings.get("url"))
        self._folder = context.folder
        self._token_file = _text(context, "token_file")
        self._token_env = _text(context, "token_env")
        self._ca_file = _text(context, "ca_file")
        if self._token_file and self._token_env:
            raise ValueError("token_file or token_env, not both")
        self._own_machine = url.hostname in LOOPBACK
        if (self._token_file or self._token_env) and url.scheme == "http" and not self._own_machine:
            raise ValueError("url = \"https://…\": a token isn't sent where others can read it")
        if self._ca_file and url.scheme == "http":
            raise ValueError("ca_file only with url = \"https://…\"")
        self._base = url.geturl().rstrip("/")
        self._url = self._base + "/quote"
        self._host = url.netloc
        self._currency = context.currency
        self._cache = context.cache
        # sooner than kitbuilder's own deadline, which can't say where it hung
        self._within_s = context.deadline_s - min(0.5, context.deadline_s / 5)

    def quote(self, request: QuoteRequest) -> Quote:
        """The supplier's answer. Raises SourceFailed, saying what to mend, for each way not to get one."""
        started = time.monotonic()
        # here, so that only a source that is asked loads a web client
        from kitbuilder_http_supplier.conversation import Conversation
        from kitbuilder_http_supplier.protocol import read_answer

        place = self._place("/quote")
        conversation = Conversation(place, started + self._within_s, self._within_s, self._cache)
        pages = conversation.ask(request, self._currency, time.time)
        return read_answer(pages, request, self._currency, self._host)

    def order(self, request: OrderRequest) -> OrderAnswer:
        """Order, once. Raises NotSent where nothing was ordered for certain, SourceFailed where nobody knows."""
        started = time.monotonic()
        from kitbuilder_http_supplier.ordering import send

        try:
            place = self._place("/orders")
        except SourceFailed as failed:
            raise NotSent(str(failed)) from failed
        return send(place, request, started + self._within_s, self._within_s)

    def order_status(self, key: str) -> OrderAnswer:
        """What the supplier has under a key. Raises SourceFailed, saying why, if it can't be told."""
        started = time.monotonic()
        from kitbuilder_http_supplier.ordering import status

        place = self._place(f"/orders/{quote(key, safe='')}")
        return status(place, key, self._currency, started + self._within_s, self._within_s)

    def _place(self, path: str) -> "Place":
        from kitbuilder_http_supplier.words import Place

        return Place(
            url=self._base + path, host=self._host, token=self._token(), own_machine=self._own_machine,
            ca_file=self._folder / self._ca_file if self._ca_file else None)

    def _token(self) -> str:
        if self._token_env:
            token, where = os.environ.get(self._token_env, "").strip(), f"the environment variable {self._token_env}"
        elif self._token_file:
            token, where = _read_token(self._folder / self._token_file), f"token_file {self._token_file}"
        else:
            return ""
        if not token:
            raise SourceFailed(f"{where} is empty or not there; expected the token for {self._host}")
        # the token itself is never shown
        if not (token.isascii() and token.isprintable() and " " not in token):
            raise SourceFailed(f"{where} holds more than a token; expected one word of plain letters, digits and signs")
        return token


def _read_token(file: Path) -> str:
    try:
        return file.read_text("utf-8-sig").strip()
    except OSError as error:
        raise SourceFailed(f"token_file {file.name} can't be read: {error.strerror}") from None
    except UnicodeDecodeError:
        raise SourceFailed(f"token_file {file.name} is not text; expected the token alone") from None


def _check_keys(context: Context) -> None:
    unknown = [key for key in context.settings if key not in KEYS]
    for key in unknown:
        if key.casefold() in ("token", "password", "key", "secret", "api_key"):
            raise ValueError(f"token_file or token_env instead of {key}: credentials don't belong in the settings")
    if unknown:
        raise ValueError(f"only {', '.join(KEYS)}, not {', '.join(unknown)}")


def _text(context: Context, key: str) -> str:
    value = context.settings.get(key, "")
    if not isinstance(value, str) or (key in context.settings and not value):
        raise ValueError(f"{key} as a text that isn't empty")
    return value


def _url(text: object) -> SplitResult:
    expected = 'url = "https://…", the address of the supplier\'s service, to which /quote is added'
    if not isinstance(text, str) or not text.isprintable() or " " in text:
        raise ValueError(expected)
    # first of all, so that no message repeats a password
    if "@" in text:
        raise ValueError("url without a name or password; credentials come from token_file or token_env")
    try:
        url = urlsplit(text)
        known = url.scheme in ("https", "http") and url.hostname and (url.port is None or url.port > 0)
    except ValueError:
        known = False
    if not known:
        raise ValueError(f"{expected}, not {text!r}")
    if "?" in text or "#" in text:
        raise ValueError("url without ? and #")
    return url


def make(context: Context) -> StockSource:
    """A supplier's HTTP service as a stock source."""
    return HttpSupplier(context)


@hookimpl
def stock_sources() -> list[SourceKind]:
    """Registers the kind `http-supplier`."""
    return [SourceKind("http-supplier", "a supplier's HTTP service", make)]
