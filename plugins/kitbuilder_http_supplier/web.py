"""The one place that speaks HTTP: a question and its answer within one deadline, each way to fail as a sentence."""

import os
import random
import socket
import ssl
import threading
import time
from collections.abc import Callable
from typing import Any
from urllib.parse import urlsplit

import httpx
import msgspec

from kitbuilder import NotSent, SourceFailed
from kitbuilder_http_supplier.words import Place, Struggles, plain, refused, retry_after

#: Bytes that an answer may have: some 40,000 offers.
LIMIT = 8 * 1024 * 1024
#: How often a question is put at most, and the seconds before the second time; they double, and vary by half.
TRIES = 4
FIRST_WAIT_S = 0.2
#: Statuses that say of an answer kept from before: it is as it was (304), or there is nothing at its address any more.
UNCHANGED = 304
GONE = (404, 405, 410)


class Reply(msgspec.Struct, frozen=True):
    """What came back: the status (200, or one of those above), the body, the address of the next page (RFC 8288), the
    address at which this answer can be had again (RFC 9110, 8.7), and what tells whether it has changed (8.8.3); each
    "" if not told."""

    status: int = 200
    body: bytes = b""
    following: str = ""
    location: str = ""
    tag: str = ""


def post(place: Place, question: bytes, until: float, within_s: float) -> Reply:
    """The answer to a question. Raises SourceFailed, saying what to mend, for each way not to get one; Struggles where
    it would be no use to ask again at once.

    `until` is when it has to be here, on the monotonic clock; `within_s` is how long that was, for messages.
    """
    return _called(_Call(place, question, until, within_s))


def get(place: Place, until: float, within_s: float, tag: str = "") -> Reply:
    """What is at an address; with the `tag` of what was there before also UNCHANGED and GONE. Raises as `post`."""
    return _called(_Call(place, None, until, within_s, tag))


def _called(call: "_Call") -> Reply:
    place, until = call.place, call.until
    trust = _trust(place)
    # a thread, because looking up a name can't be told to end, nor a server that sends a byte now and then
    thread = threading.Thread(target=call.run, args=(trust,), daemon=True)
    thread.start()
    thread.join(max(0.0, until - time.monotonic()))
    if thread.is_alive():
        raise call.cut()
    if call.failed is not None:
        raise call.failed
    return call.answer


class _Call:
    """One question with all its tries. It knows how far it has come, for whoever gives up waiting."""

    def __init__(self, place: Place, question: bytes | None, until: float, within_s: float, tag: str = "") -> None:
        self.place, self._question, self.until, self._within_s, self._tag = place, question, until, within_s, tag
        self.answer = Reply()
        self.failed: Exception | None = None
        self._lock = threading.Lock()
        self._given_up = False
        self._stream: Any = None
        self._stage = self._refusal = ""
        self._received = 0
        self._announced: int | None = None

    def run(self, trust: ssl.SSLContext) -> None:
        """Ask until there is an answer or a reason why there will be none."""
        try:
            self.answer = self._ask(trust)
        except Exception as error:  # carried over to the thread that waits
            self.failed = error

    def cut(self) -> SourceFailed:
        """End what is going on, and say what it hung on."""
        with self._lock:
            self._given_up = True
            # one that refused and then dawdled over its reasons has still refused
            sentence = self._refusal or self.too_slow()
            self._shut()
        return Struggles(sentence)

    def _shut(self) -> None:
        if self._stream is None:
            return
        try:
            # of the plain socket: what waits on it in the other thread wakes up, and closes it
            socket.socket.shutdown(self._stream.get_extra_info("socket"), socket.SHUT_RDWR)
        except OSError:
            pass  # it is closed already

    def _watch(self, event: str, info: dict[str, Any]) -> None:
        """Called by httpx at each step of a try."""
        stage, _, end = event.rpartition(".")
        with self._lock:
            if end == "started":
                self._stage = stage
            elif end == "complete" and stage in ("connection.connect_tcp", "connection.start_tls"):
                self._stream = info["return_value"]
                if self._given_up:
                    self._shut()

    def _ask(self, trust: ssl.SSLContext) -> Reply:
        headers = {"Accept": "application/json", "Accept-Encoding": "identity", "User-Agent": "kitbuilder",
                   # a connection kept for the next try may be gone by then
                   "Connection": "close"}
        if self._question is not None:
            headers["Content-Type"] = "application/json"
        if self._tag:
            headers["If-None-Match"] = self._tag
        if self.place.token:
            headers["Authorization"] = f"Bearer {self.place.token}"
        # what the environment says of proxies isn't meant for a service on this machine
        with httpx.Client(verify=trust, follow_redirects=False, trust_env=not self.place.own_machine) as client:
            for tried in range(1, TRIES + 1):
                try:
                    answer, wait_s = self._try(client, headers, tried)
                except (httpx.HTTPError, httpx.InvalidURL, httpx.CookieConflict, httpx.StreamError) as error:
                    sentence = sentence_of(type(error))
                    if sentence is None:  # a kind that this httpx doesn't have yet is shown as it is
                        raise
                    raise (Struggles if isinstance(error, _SLOW) else SourceFailed)(sentence(self, error)) from error
                if answer is not None:
                    return answer
                time.sleep(wait_s)
        raise AssertionError("the last try answers or raises")

    def _try(self, client: httpx.Client, headers: dict[str, str], tried: int) -> tuple[Reply | None, float]:
        """The answer, or None and the seconds to wait before the next try. Raises SourceFailed where none is left."""
        self._received, self._announced, self._refusal = 0, None, ""
        left = max(0.001, self.until - time.monotonic())
        method = "GET" if self._question is None else "POST"
        with client.stream(method, self.place.url, content=self._question, headers=headers, timeout=left,
                           extensions={"trace": self._watch}) as response:
            if response.status_code == 200:
                self._check_kind(response)
                told = response.headers
                return Reply(
                    200, self._body(response), response.links.get("next", {}).get("url", ""),
                    told.get("content-location", ""), told.get("etag", "")), 0.0
            if self._tag and response.status_code in (UNCHANGED, *GONE):
                return Reply(response.status_code), 0.0
            self._refusal = sentence = refused(self.place, response.status_code, response.headers, tried)
            if response.status_code != 429 and response.status_code < 500:
                raise SourceFailed(sentence + self._says(response))
            asked_s = retry_after(response.headers)
            wait_s = FIRST_WAIT_S * 2 ** (tried - 1) * random.uniform(1, 1.5) if asked_s is None else asked_s  # noqa: S311 - no secret
            if tried == TRIES or time.monotonic() + wait_s >= self.until:
                raise Struggles(sentence + self._says(response), asked_s)
            return None, wait_s

    def _check_kind(self, response: httpx.Response) -> None:
        kind = response.headers.get("content-type", "").partition(";")[0].strip().casefold()
        if kind != "application/json":
            raise SourceFailed(
                f"{self.place.host} answered {plain(kind) or 'no content type'}, expected application/json: is url "
                f"the address of a quote service, or of a page for people?")
        encoding = response.headers.get("content-encoding", "identity").casefold()
        if encoding != "identity":
            raise SourceFailed(
                f"{self.place.host} packed its answer as {plain(encoding)}, which it wasn't asked to: have the "
                f"supplier send it as it is (Accept-Encoding: identity)")

    def _body(self, response: httpx.Response) -> bytes:
        announced = response.headers.get("content-length", "")
        self._announced = int(announced) if announced.isdecimal() else None
        parts = []
        for part in response.iter_raw():
            parts.append(part)
            self._received += len(part)
            if self._received > LIMIT:
                raise SourceFailed(
                    f"{self.place.host} sent more than {LIMIT // 1024**2} MiB and was cut off: it should answer only "
                    f"for the items that were asked for")
        return b"".join(parts)

    def _says(self, response: httpx.Response) -> str:
        """What the service itself says of a failure, if it does so in JSON."""
        try:
            self._check_kind(response)
            told = msgspec.json.decode(self._body(response), type=_Error)
        except (SourceFailed, httpx.HTTPError, msgspec.DecodeError, UnicodeDecodeError):
            return ""  # the status says enough
        return f"; it says: {plain(told.error)}"

    def too_slow(self) -> str:
        """The sentence for an answer that doesn't come in time: it depends on how far it got."""
        host, within = self.place.host, f"within {self._within_s:.2g} s"
        if self._stage in ("", "connection.connect_tcp", "connection.retry"):
            return (f"no connection to {host} {within}: check url and the network, and whether a firewall lets it "
                    f"through")
        if self._stage.endswith("start_tls"):
            return (f"{host} took the connection but didn't agree on encryption {within}: check that url leads to an "
                    f"https service")
        if self._received:
            return (f"{host} began to answer but had sent only {self._received} bytes {within}: raise deadline_s, or "
                    f"ask the supplier why it is slow")
        return (f"{host} took the connection but gave no answer {within}: raise deadline_s, or ask the supplier why "
                f"it is slow")

    def not_connected(self, error: Exception) -> str:
        """The sentence for a connection that didn't come about: it depends on what lies behind the error."""
        host = self.place.host
        for cause in _causes(error):
            if isinstance(cause, ssl.SSLCertVerificationError):
                return (f"the certificate of {host} can't be trusted ({plain(cause.verify_message)}): check the name "
                        f"in url; for an authority of one's own, name its certificate as ca_file")
            if isinstance(cause, ssl.SSLError):
                return (f"{host} doesn't agree on encryption ({plain(cause.reason or str(cause))}): does it speak "
                        f"https at this port?")
            if isinstance(cause, socket.gaierror):
                return (f"the name {urlsplit(self.place.url).hostname} can't be looked up ({cause.strerror}): check "
                        f"the spelling in url, and the network")
            if isinstance(cause, ConnectionRefusedError):
                return f"{host} refused the connection: is the service running, and is the port in url right?"
        return f"no connection to {host} ({plain(str(error))}): check url, and the network"

    def broken_off(self, error: Exception) -> str:
        """The sentence for a connection that ended too soon, or carried what isn't HTTP."""
        host = self.place.host
        if self._announced is not None:
            return (f"{host} broke off its answer after {self._received} of {self._announced} bytes: ask again, and "
                    f"tell the supplier if it stays so")
        if self._received:
            return (f"{host} broke off its answer after {self._received} bytes: ask again, and tell the supplier if "
                    f"it stays so")
        if self._stage.endswith("start_tls"):
            return f"{host} ended the connection instead of agreeing on encryption: does it speak https at this port?"
        return (f"{host} gave no answer in HTTP ({plain(str(error))}): is it a web service, and is https:// or "
                f"http:// in url right?")

    def proxy_failed(self, error: Exception) -> str:
        """The sentence for a proxy that doesn't let the question through."""
        return (f"the proxy on the way to {self.place.host} failed ({plain(str(error))}): check HTTPS_PROXY and "
                f"NO_PROXY in the environment")

    def not_an_address(self, error: Exception) -> str:
        """The sentence for an address that httpx can't use."""
        return f"url leads to {self.place.host}, which is no address for HTTP ({plain(str(error))}): correct it"

    def own_fault(self, error: Exception) -> str:
        """The sentence for what can only go wrong by a mistake of this plug-in."""
        return (f"the question to {self.place.host} went wrong on this side ({type(error).__name__}: "
                f"{plain(str(error))}); this is a fault of the plug-in, please report it")


class Answered(SourceFailed):
    """The service answered something that was sent once, with a status other than 200."""

    def __init__(self, status: int, sentence: str) -> None:
        super().__init__(sentence)
        self.status = status


class _Once(_Call):
    """Something that is sent once. `went_out` is whether any of it may have reached the service: it may from the first
    byte of the request on."""

    went_out = False

    def __init__(self, place: Place, body: bytes | None, headers: dict[str, str], until: float,
                 within_s: float) -> None:
        super().__init__(place, body, until, within_s)
        self._more = headers

    def _watch(self, event: str, info: dict[str, Any]) -> None:
        if event.endswith("send_request_headers.started"):
            self.went_out = True
        super()._watch(event, info)

    def _try(self, client: httpx.Client, headers: dict[str, str], tried: int) -> tuple[Reply | None, float]:
        left = max(0.001, self.until - time.monotonic())
        method = "GET" if self._question is None else "POST"
        with client.stream(method, self.place.url, content=self._question, headers=headers | self._more, timeout=left,
                           extensions={"trace": self._watch}) as response:
            status = response.status_code
            if status != 200:
                self._refusal = sentence = refused(self.place, status, response.headers, 1)
                raise Answered(status, sentence + self._says(response))
            self._check_kind(response)
            return Reply(200, self._body(response)), 0.0


def once(place: Place, body: bytes | None, headers: dict[str, str], until: float, within_s: float) -> bytes:
    """The body of the answer to something that is sent once (a POST; without a body a GET), and never again by itself.

    Raises Answered for a status other than 200, NotSent where nothing went out for certain, SourceFailed where that
    isn't known; times as for `post`.
    """
    call = _Once(place, body, headers, until, within_s)
    try:
        return _called(call).body
    except Answered:
        raise
    except SourceFailed as failed:
        if call.went_out:
            raise
        raise NotSent(str(failed)) from failed


class _Error(msgspec.Struct):
    error: str


#: Errors of a service that takes questions, and doesn't get to answer them.
_SLOW = (httpx.TimeoutException, httpx.ReadError, httpx.WriteError, httpx.RemoteProtocolError)

#: A sentence for each kind of error that httpx has; the nearest ancestor of an error counts.
SENTENCES: dict[type[Exception], Callable[[_Call, Exception], str]] = {
    httpx.TimeoutException: lambda call, error: call.too_slow(),
    httpx.ConnectError: _Call.not_connected,
    httpx.ReadError: _Call.broken_off,
    httpx.WriteError: _Call.broken_off,
    httpx.CloseError: _Call.broken_off,
    httpx.RemoteProtocolError: _Call.broken_off,
    httpx.ProxyError: _Call.proxy_failed,
    httpx.UnsupportedProtocol: _Call.not_an_address,
    httpx.InvalidURL: _Call.not_an_address,
    httpx.LocalProtocolError: _Call.own_fault,
    # not met: nothing is unpacked, redirected, kept or read twice, and statuses are judged here
    httpx.DecodingError: _Call.own_fault,
    httpx.TooManyRedirects: _Call.own_fault,
    httpx.HTTPStatusError: _Call.own_fault,
    httpx.CookieConflict: _Call.own_fault,
    httpx.StreamError: _Call.own_fault,
}


def sentence_of(kind: type[Exception]) -> Callable[[_Call, Exception], str] | None:
    """What words an error of a kind, None for a kind that has no sentence."""
    return next((SENTENCES[one] for one in kind.__mro__ if one in SENTENCES), None)


def _causes(error: BaseException | None) -> list[BaseException]:
    found = []
    while error is not None and error not in found:
        found.append(error)
        error = error.__cause__ or error.__context__
    return found


#: What stands for trust where nothing is encrypted: it is never used, and takes longer to make than to send a question.
_NONE = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
_known: dict[tuple[str, ...], ssl.SSLContext] = {}
_reading = threading.Lock()


def _usual() -> ssl.SSLContext:
    """The usual authorities, read once: it takes longer than many an answer, and ten sources may want them at once."""
    where = tuple(os.environ.get(name, "") for name in ("SSL_CERT_FILE", "SSL_CERT_DIR"))
    with _reading:
        if where not in _known:
            _known[where] = httpx.create_ssl_context()
        return _known[where]


def _trust(place: Place) -> ssl.SSLContext:
    """Which certificates are trusted."""
    if not place.url.startswith("https:"):
        return _NONE
    if place.ca_file is None:
        return _usual()
    try:
        return ssl.create_default_context(cafile=place.ca_file)
    except ssl.SSLError:
        raise SourceFailed(f"ca_file {place.ca_file.name} holds no certificate in PEM for {place.host}") from None
    except OSError as error:
        raise SourceFailed(f"ca_file {place.ca_file.name} can't be read: {error.strerror}") from None
