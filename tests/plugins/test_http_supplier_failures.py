"""Each way in which a supplier's service can fail, on real connections: one sentence with what to mend."""

import contextlib
import inspect
import socket
import threading
import time

import httpx
import pytest
from kitbuilder_http_supplier import web

from kitbuilder import SourceFailed
from tests.plugins.http_servers import ANSWER, answer, ask, drip, serving


def failure(url: str, deadline_s: float = 5.0, **settings: object) -> str:
    """The sentence with which the plug-in gives up; it has to be one, and within the deadline."""
    started = time.monotonic()
    with pytest.raises(SourceFailed) as failed:
        ask(url, deadline_s, **settings)
    assert time.monotonic() - started < deadline_s
    sentence = str(failed.value)
    assert "\n" not in sentence and len(sentence) < 420
    return sentence


# connecting

def test_nobody_listens():
    with socket.create_server(("127.0.0.1", 0)) as listener:
        port = listener.getsockname()[1]
    assert failure(f"http://127.0.0.1:{port}") == (
        f"127.0.0.1:{port} refused the connection: is the service running, and is the port in url right?")


def test_nobody_listening_is_told_at_once_whatever_the_deadline():
    with socket.create_server(("127.0.0.1", 0)) as listener:
        port = listener.getsockname()[1]
    ask_started = time.monotonic()
    failure(f"http://127.0.0.1:{port}", deadline_s=60)
    assert time.monotonic() - ask_started < 5


def test_the_name_is_unknown():
    # .invalid never resolves (RFC 6761)
    sentence = failure("http://wholesaler.invalid:8080/kitbuilder", deadline_s=20)
    assert sentence.startswith("the name wholesaler.invalid can't be looked up (")
    assert sentence.endswith("): check the spelling in url, and the network")


def test_no_connection_comes_about_in_time():
    # a queue that is full answers no more connection: nobody takes those that wait in it
    listener = socket.socket()
    with listener, contextlib.ExitStack() as waiting:
        listener.bind(("127.0.0.1", 0))
        listener.listen(0)
        host = f"127.0.0.1:{listener.getsockname()[1]}"
        for _ in range(4):
            one = waiting.enter_context(socket.socket())
            one.setblocking(False)
            with contextlib.suppress(BlockingIOError):
                one.connect(listener.getsockname())
        assert failure(f"http://{host}", deadline_s=1) == (
            f"no connection to {host} within 0.8 s: check url and the network, and whether a firewall lets it through")


# time

def quiet(connection: socket.socket, number: int, question: bytes) -> None:
    connection.recv(1)


def test_no_answer_comes_in_time():
    with serving(quiet) as server:
        assert failure(server.url, deadline_s=1) == (
            f"{server.host} took the connection but gave no answer within 0.8 s: raise deadline_s, or ask the "
            f"supplier why it is slow")


@pytest.mark.parametrize("dripped", [answer(), answer()[answer().index(b"{"):]], ids=["from its head on", "its body"])
def test_an_answer_that_drips_is_cut_off_at_the_deadline_of_the_whole(dripped):
    def act(connection: socket.socket, number: int, question: bytes) -> None:
        connection.sendall(answer()[:-len(dripped)])
        drip(connection, dripped)

    before = threading.active_count()
    with serving(act) as server:
        sentence = failure(server.url, deadline_s=1)
        # it would have taken several times as long
        assert len(dripped) * 0.05 > 4
        if dripped == answer():
            assert "took the connection but gave no answer within 0.8 s" in sentence
        else:
            assert f"{server.host} began to answer but had sent only " in sentence
            assert 1 <= int(sentence.partition("sent only ")[2].split()[0]) <= 16
    deadline = time.monotonic() + 3
    while threading.active_count() > before and time.monotonic() < deadline:
        time.sleep(0.02)
    assert threading.active_count() <= before, "what was cut off has ended, on both sides"


def test_a_refusal_that_drips_its_reasons_is_a_refusal():
    def act(connection: socket.socket, number: int, question: bytes) -> None:
        connection.sendall(b"HTTP/1.1 403 Forbidden\r\nContent-Type: application/json\r\nContent-Length: 500\r\n\r\n")
        drip(connection, b'{"error": "' + b"a" * 488 + b'"')

    with serving(act) as server:
        assert "doesn't allow quotes to this workshop (status 403)" in failure(server.url, deadline_s=1)


def test_a_connection_that_comes_about_too_late_is_ended_at_once():
    # as after a long look-up of a name: by then nobody waits any more
    class Stream:
        def get_extra_info(self, name: str) -> socket.socket:
            return {"socket": ours}[name]

    call = web._Call(web.Place("http://parts.example/quote", "parts.example"), b"", 0.0, 1.0)
    ours, theirs = socket.socketpair()
    with ours, theirs:
        theirs.settimeout(5)
        assert str(call.cut()).startswith("no connection to parts.example within 1 s")
        call._watch("connection.connect_tcp.complete", {"return_value": Stream()})
        assert theirs.recv(1) == b""


# statuses

@pytest.mark.parametrize("status,said", [
    ("401 Unauthorized", "asks for a token (status 401): check token_file or token_env"),
    ("403 Forbidden",
     "doesn't allow quotes to this workshop (status 403): ask the supplier to allow them, and for a token"),
    ("404 Not Found", "has no /parts/quote (status 404): check url, to which /quote is added"),
    ("400 Bad Request", "doesn't take the question (status 400): does it know kitbuilder.quote-request/1?"),
    ("418 Teapot", "doesn't take the question (status 418): does it know kitbuilder.quote-request/1?"),
    ("204 No Content", "answered status 204, expected 200 with a quote"),
    ("304 Not Modified", "answered status 304, expected 200 with a quote"),
    ("600 What", "has a fault of its own (status 600), asked 4 times: try again later"),
])
def test_a_status_is_told_with_what_to_do(status, said):
    with serving(answer(status, b"")) as server:
        assert failure(f"{server.url}/parts/") == f"{server.host} {said}"


def test_a_token_that_isnt_taken_is_never_shown(tmp_path):
    (tmp_path / "token").write_text("tok-5f1e\n")
    for status, said in (
        ("401 No", "doesn't accept the token (status 401): check token_file or token_env"),
        ("403 No", "doesn't allow quotes to this workshop (status 403): ask the supplier to allow them"),
    ):
        with serving(answer(status, b"{}")) as server:
            assert failure(server.url, folder=tmp_path, token_file="token") == f"{server.host} {said}"
            assert "Authorization: Bearer tok-5f1e" in server.heads[0].split("\r\n")


def test_what_the_service_says_of_its_refusal_is_shown_and_harmless():
    body = b'{"error": "customer\\n unknown \\u001b[31m since ' + b"long " * 100 + b'"}'
    with serving(answer("403 Forbidden", body)) as server:
        sentence = failure(server.url)
    assert "; it says: customer unknown [31m since long" in sentence
    assert sentence.isprintable() and sentence.endswith("…")


@pytest.mark.parametrize("status", ["301 Moved", "302 Found", "303 See Other", "307 Temporary", "308 Permanent"])
def test_a_redirect_is_told_and_not_followed(status):
    with serving(answer()) as elsewhere, serving(
            answer(status, b"", Location=f"{elsewhere.url}/quote?secret=1")) as server:
        assert failure(server.url) == (
            f"{server.host} sends on to {elsewhere.url}/quote (status {status[:3]}), where a question isn't taken "
            f"unseen: put the new address into url")
        assert (len(server.heads), elsewhere.heads) == (1, [])


# asking again

def test_a_passing_fault_is_asked_again_with_growing_pauses():
    asked: list[float] = []

    def act(connection: socket.socket, number: int, question: bytes) -> None:
        asked.append(time.monotonic())
        connection.sendall(answer("503 Busy", b"") if number < 3 else answer())

    with serving(act) as server:
        assert ask(server.url).offers == ()
        assert len(set(server.bodies)) == 1, "the same question each time"
    first, second = asked[1] - asked[0], asked[2] - asked[1]
    assert len(asked) == 3 and first >= web.FIRST_WAIT_S and second >= 2 * web.FIRST_WAIT_S


@pytest.mark.parametrize("status", ["500 No", "502 No", "503 No", "504 No"])
def test_a_fault_that_stays_is_told_after_four_times(status):
    with serving(answer(status, b'{"error": "no disk"}')) as server:
        assert failure(server.url) == (
            f"{server.host} has a fault of its own (status {status[:3]}), asked 4 times: try again later; "
            f"it says: no disk")
        assert len(server.heads) == web.TRIES == 4


def test_a_deadline_that_leaves_no_time_to_ask_again_ends_it():
    with serving(answer("500 No", b"")) as server:
        sentence = failure(server.url, deadline_s=1)
        # the pauses before a fourth time are 1.4 s at least
        assert 1 <= len(server.heads) < web.TRIES
        assert f"(status 500){'' if len(server.heads) == 1 else f', asked {len(server.heads)} times'}: try" in sentence


@pytest.mark.parametrize("headers", [
    {"Retry_After": "1"},
    {"Retry_After": "Tue, 10 Mar 2026 15:00:01 GMT", "Date": "Tue, 10 Mar 2026 15:00:00 GMT"},
], ids=["seconds", "date"])
@pytest.mark.parametrize("status", ["429 Too Many", "503 Busy"])
def test_a_service_that_asks_for_patience_gets_it(status, headers):
    asked: list[float] = []

    def act(connection: socket.socket, number: int, question: bytes) -> None:
        asked.append(time.monotonic())
        connection.sendall(answer(status, b"", **headers) if number == 1 else answer())

    with serving(act) as server:
        ask(server.url)
    assert len(asked) == 2 and 1 <= asked[1] - asked[0] < 3


def test_patience_beyond_the_deadline_is_told_at_once():
    with serving(answer("429 Too Many", b"", Retry_After="120")) as server:
        started = time.monotonic()
        assert failure(server.url) == (
            f"{server.host} has been asked too often (status 429, to be asked again in 120 s): ask less often")
        assert time.monotonic() - started < 2 and len(server.heads) == 1


@pytest.mark.parametrize("text", [
    "soon", "-2", "2.5", "²", "Tue, 10 Mar 2026 15:00:02", "Tue, 99 Mar 2026 15:00:02 GMT"])
def test_a_retry_after_that_says_nothing_doesnt_count(text):
    asked: list[float] = []

    def act(connection: socket.socket, number: int, question: bytes) -> None:
        asked.append(time.monotonic())
        reply = answer("429 No", b"", Retry_After=text, Date="Tue, 10 Mar 2026 15:00:00 GMT")
        connection.sendall(reply if number == 1 else answer())

    with serving(act) as server:
        ask(server.url)
    assert len(asked) == 2 and web.FIRST_WAIT_S <= asked[1] - asked[0] < 1.5


@pytest.mark.parametrize("status", ["401 No", "403 No", "404 No", "301 No"])
def test_a_refusal_isnt_asked_again(status):
    with serving(answer(status, b"")) as server:
        failure(server.url)
        assert len(server.heads) == 1


# what comes back

@pytest.mark.parametrize("kind,told", [("text/html; charset=utf-8", "text/html"), ("", "no content type"),
                                       ("application/jsonx", "application/jsonx")])
def test_a_page_for_people_is_no_quote(kind, told):
    with serving(answer(kind=kind)) as server:
        assert failure(server.url) == (
            f"{server.host} answered {told}, expected application/json: is url the address of a quote service, or of "
            f"a page for people?")


def test_a_packed_answer_is_refused():
    with serving(answer(Content_Encoding="gzip")) as server:
        assert f"{server.host} packed its answer as gzip, which it wasn't asked to" in failure(server.url)
        assert "Accept-Encoding: identity" in server.heads[0].split("\r\n")


@pytest.mark.parametrize("body,said", [
    (b"", "Input data was truncated"),
    (b"hello", "JSON is malformed"),
    (ANSWER[:-1], "Input data was truncated"),
    (ANSWER + b"{", "JSON is malformed"),
    (b'{"format": "\xff"}', "'utf-8' codec can't decode byte 0xff"),
], ids=["nothing", "a word", "half", "too much", "no UTF-8"])
def test_what_is_no_json_is_told(body, said):
    with serving(answer(body=body)) as server:
        assert failure(server.url).startswith(f"{server.host} answered what is no JSON, whatever it calls it: {said}")


def test_an_answer_that_is_too_large_is_cut_off():
    body = ANSWER + b" " * (web.LIMIT + 1 - len(ANSWER))
    with serving(answer(body=body)) as server:
        assert failure(server.url, deadline_s=20) == (
            f"{server.host} sent more than 8 MiB and was cut off: it should answer only for the items that were asked "
            f"for")
    with serving(answer(body=body[:-1])) as server:
        assert ask(server.url, 20).offers == (), "exactly the limit is taken"


def test_an_answer_without_end_is_cut_off():
    def act(connection: socket.socket, number: int, question: bytes) -> None:
        connection.sendall(b"HTTP/1.1 200 OK\r\nContent-Type: application/json\r\n\r\n")
        with contextlib.suppress(OSError):
            while True:
                connection.sendall(b" " * 65536)

    with serving(act) as server:
        assert "sent more than 8 MiB and was cut off" in failure(server.url, deadline_s=20)


def test_an_answer_that_breaks_off_is_told_with_how_much_came():
    with serving(answer()[:-20]) as server:
        assert failure(server.url) == (
            f"{server.host} broke off its answer after {len(ANSWER) - 20} of {len(ANSWER)} bytes: ask again, and tell "
            f"the supplier if it stays so")
    head = b"HTTP/1.1 200 OK\r\nContent-Type: application/json\r\nTransfer-Encoding: chunked\r\n\r\n"
    with serving(head + b"5\r\n{\"for\r\n") as server:
        assert f"{server.host} broke off its answer after 5 bytes" in failure(server.url)


def test_a_connection_that_is_reset_is_told():
    def act(connection: socket.socket, number: int, question: bytes) -> None:
        connection.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, b"\1\0\0\0\0\0\0\0")
        connection.close()

    with serving(act) as server:
        assert failure(server.url).startswith(f"{server.host} gave no answer in HTTP (")


@pytest.mark.parametrize("reply", [b"", b"220 mail.example ready\r\n", b"HTTP/1.1 200 OK\r\nbroken header\r\n\r\n"],
                         ids=["nothing", "another protocol", "a broken head"])
def test_what_is_no_http_is_told(reply):
    with serving(reply) as server:
        sentence = failure(server.url)
    assert sentence.startswith(f"{server.host} gave no answer in HTTP (")
    assert sentence.endswith("): is it a web service, and is https:// or http:// in url right?")


# the map

def error_kinds() -> list[type[Exception]]:
    kinds = [one for one in vars(httpx).values() if inspect.isclass(one) and issubclass(one, Exception)]
    return [one for one in kinds if not any(other is not one and issubclass(other, one) for other in kinds)]


def test_httpx_has_the_errors_that_this_is_about():
    assert {httpx.ConnectTimeout, httpx.ReadError, httpx.InvalidURL, httpx.StreamClosed} <= set(error_kinds())


@pytest.mark.parametrize("kind", error_kinds(), ids=lambda kind: kind.__name__)
def test_every_error_of_httpx_has_a_sentence_that_names_the_host(kind):
    sentence = web.sentence_of(kind)
    assert sentence is not None
    call = web._Call(web.Place("http://parts.example/quote", "parts.example"), b"", 0.0, 1.0)
    assert "parts.example" in sentence(call, kind.__new__(kind))


def test_an_error_that_isnt_in_the_map_has_no_sentence():
    class Newer(httpx.TransportError):
        """What a later httpx might bring."""

    assert web.sentence_of(Newer) is None
