"""One question with its answer: kept from before and still so, or sent anew, page by page."""

from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from urllib.parse import urljoin, urlsplit

import msgspec

from kitbuilder import QuoteRequest, SourceFailed
from kitbuilder_http_supplier.keeping import Answers, Kept
from kitbuilder_http_supplier.protocol import question
from kitbuilder_http_supplier.resting import Rest
from kitbuilder_http_supplier.web import GONE, UNCHANGED, Reply, get, post
from kitbuilder_http_supplier.words import Place, plain

_NEVER = datetime(1970, 1, 1, tzinfo=UTC)
#: Pages that an answer may have.
PAGES = 100


class Conversation(msgspec.Struct, frozen=True):
    """With whom, until when (on the monotonic clock) and how long that was, and the folder for what is kept."""

    place: Place
    until: float
    within_s: float
    folder: Path | None

    def ask(self, request: QuoteRequest, currency: str, now: Callable[[], float]) -> list[bytes]:
        """The bodies of the answer's pages. `now` is the machine's clock, by which a service that struggles rests.
        Raises SourceFailed, SourceRests while it does."""
        rest = Rest(self.folder, self.place.host)
        rest.check(now())
        try:
            bodies = self._bodies(request, currency)
        except SourceFailed as failed:
            rest.failed(failed, now())
            raise
        rest.answered()
        return bodies

    def _bodies(self, request: QuoteRequest, currency: str) -> list[bytes]:
        answers = Answers(self.folder)
        # a question is the same whenever it is put
        same = self.place.url.encode() + b" " + question(QuoteRequest(request.wanted, _NEVER), currency)
        kept = answers.find(same)
        reply: Reply | None = None
        if kept is not None and self._ours(kept.location):
            reply = get(self._at(kept.location), self.until, self.within_s, kept.tag)
            if reply.status == UNCHANGED:
                return [kept.body]
            reply = None if reply.status in GONE else msgspec.structs.replace(
                reply, location=reply.location or kept.location)
        if reply is None:
            reply = post(self.place, question(request, currency), self.until, self.within_s)
        location = urljoin(self.place.url, reply.location)
        if reply.location and reply.tag and not reply.following and self._ours(location) and _sendable(reply.tag):
            answers.put(same, Kept(location, reply.tag, reply.body))
        elif kept is not None:
            answers.drop(same)
        return self._pages(reply)

    def _pages(self, reply: Reply) -> list[bytes]:
        bodies, url, seen = [reply.body], self.place.url, {self.place.url}
        while reply.following:
            url = urljoin(url, reply.following)
            host = self.place.host
            if not self._ours(url):
                raise SourceFailed(f"{host} says that its answer goes on at {plain(url)}, which is another service; "
                                   f"expected an address of its own")
            if url in seen:
                raise SourceFailed(f"{host} answers in a ring: {plain(url)} is the page after another twice")
            if len(bodies) == PAGES:
                raise SourceFailed(f"{host} answered more than {PAGES} pages and was cut off: it should answer only "
                                   f"for the items that were asked for")
            seen.add(url)
            reply = get(self._at(url), self.until, self.within_s)
            bodies.append(reply.body)
        return bodies

    def _at(self, url: str) -> Place:
        return msgspec.structs.replace(self.place, url=url)

    def _ours(self, url: str) -> bool:
        """Whether an address is the service's own: the token goes nowhere else."""
        try:
            there, here = urlsplit(url), urlsplit(self.place.url)
            return (there.scheme, there.netloc) == (here.scheme, here.netloc)
        except ValueError:
            return False


def _sendable(tag: str) -> bool:
    return len(tag) < 1000 and tag.isascii() and tag.isprintable()
