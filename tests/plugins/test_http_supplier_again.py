"""Answers in pages, answers that are as before, and a service that is left alone: across questions and commands."""

import json
import os
import socket
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from kitbuilder_http_supplier import make
from kitbuilder_http_supplier.resting import ENOUGH, FIRST_REST_S, LONGEST_REST_S, Rest
from kitbuilder_http_supplier.words import Struggles

from kitbuilder import Context, Quote, QuoteRequest, SourceFailed, SourceRests, Wanted
from kitbuilder.demo.supplier import DemoSupplier
from tests.plugins.http_servers import ANSWER, NOW, REQUEST, answer, ask, serving

WASHERS = QuoteRequest(tuple(Wanted(f"W-{number}", "each") for number in range(1, 8)), NOW)


def asked(url: str, cache: Path, request: QuoteRequest = REQUEST, deadline_s: float = 5.0) -> Quote:
    return make(Context("wholesaler", {"url": url}, cache, "EUR", deadline_s, cache=cache)).quote(request)


def quote_of(number: int, **more: object) -> bytes:
    """An answer with one offer of W-number."""
    told = {
        "format": "kitbuilder.quote/1", "as_of": f"2026-03-10T14:3{number}:00+00:00", "currency": "EUR",
        "slots": [{"name": "van", "ready": "2026-03-11T08:00:00+00:00", "cut_off": None}], "unreadable": {},
        "offers": [{"item": f"W-{number}", "unit": "each", "pool": "1", "returnable": True,
                    "arrivals": [{"slot": "van", "sureness": "confirmed", "prices": []}]}]}
    return json.dumps({**told, **more}).encode()


def paths(heads: list[str]) -> list[str]:
    return [" ".join(head.split()[:2]) for head in heads]


def replies(*acts: bytes) -> Callable[[socket.socket, int, bytes], None]:
    """What answers the first question so, the second so …, and all that follow as the last."""
    return lambda connection, number, question: connection.sendall(acts[min(number, len(acts)) - 1])


# pages

def test_the_pages_of_an_answer_are_one_quote_as_old_as_the_oldest():
    pages = [answer(body=quote_of(3), Link='</quote/7?page=2>; rel="next"'),
             answer(body=quote_of(1, unreadable={"W-5": "being counted"}), Link='<7?page=3>; rel=next'),
             answer(body=quote_of(2), Link='</quote/7>; rel="first"')]
    with serving(replies(*pages)) as server:
        quote = ask(server.url, request=WASHERS)
        assert paths(server.heads) == ["POST /quote", "GET /quote/7?page=2", "GET /quote/7?page=3"]
    assert [offer.item for offer in quote.offers] == ["W-3", "W-1", "W-2"]
    assert [slot.name for slot in quote.slots] == ["van"]
    assert quote.as_of == NOW - timedelta(minutes=29)
    assert quote.unreadable == {"W-5": "being counted"}


@pytest.mark.parametrize(("second", "said"), [
    (answer(body=quote_of(1, currency="SEK")), "answered pages in several currencies"),
    (answer(body=quote_of(1, slots=[{"name": "van", "ready": "2026-03-12T08:00:00+00:00", "cut_off": None}])),
     "answered pages that don't agree on the slot 'van'"),
    (answer(body=quote_of(1), Link='</quote>; rel="next"'), "answers in a ring"),
    (answer("404 Not Found", b'{"error": "no such page"}'), "status 404"),
    (answer("500 Oh", b"{}"), "has a fault of its own (status 500)"),
])
def test_a_page_that_is_wrong_fails_the_whole_answer(second, said):
    pages = replies(answer(body=quote_of(2), Link='</quote/7?page=2>; rel="next"'), second)
    with serving(pages) as server, pytest.raises(SourceFailed) as failed:
        ask(server.url, request=WASHERS)
    assert said in str(failed.value)


@pytest.mark.parametrize("elsewhere", ["http://parts.invalid/quote/2", "//parts.invalid/2", "https://{host}/quote/2",
                                       "http://127.0.0.1:1/quote/2"])
def test_a_page_elsewhere_is_not_fetched(elsewhere):
    def act(connection: socket.socket, number: int, question: bytes) -> None:
        place = elsewhere.format(host=f"127.0.0.1:{connection.getsockname()[1]}")
        connection.sendall(answer(body=quote_of(2), Link=f'<{place}>; rel="next"'))
    with serving(act) as server:
        with pytest.raises(SourceFailed, match="which is another service; expected an address of its own"):
            ask(server.url, request=WASHERS)
        assert len(server.heads) == 1


def test_pages_without_end_are_cut_off():
    def act(connection: socket.socket, number: int, question: bytes) -> None:
        connection.sendall(answer(body=quote_of(1, offers=[]), Link=f'</quote/7?page={number + 1}>; rel="next"'))
    with serving(act) as server:
        with pytest.raises(SourceFailed, match="answered more than 100 pages and was cut off"):
            ask(server.url, request=WASHERS, deadline_s=30)
        assert len(server.heads) == 100


def test_all_pages_share_one_deadline():
    def act(connection: socket.socket, number: int, question: bytes) -> None:
        time.sleep(0.3)
        connection.sendall(answer(body=quote_of(1, offers=[]), Link=f'</quote/7?page={number + 1}>; rel="next"'))
    with serving(act) as server:
        started = time.monotonic()
        with pytest.raises(SourceFailed, match=r"gave no answer within 0\.8 s"):
            ask(server.url, request=WASHERS, deadline_s=1)
        assert time.monotonic() - started < 1


# answers that are as before

TAGGED = answer(body=quote_of(2), Content_Location="/quote/7", ETag='"3f"')


def test_an_answer_that_has_not_changed_is_not_sent_again(tmp_path):
    with serving(replies(TAGGED, answer("304 Not Modified", b""))) as server:
        first = asked(server.url, tmp_path, WASHERS)
        later = QuoteRequest(WASHERS.wanted, NOW + timedelta(hours=3))
        assert asked(server.url, tmp_path, later) == first
        assert paths(server.heads) == ["POST /quote", "GET /quote/7"]
        assert 'If-None-Match: "3f"' in server.heads[1].split("\r\n")
        assert "Content-Type" not in server.heads[1]
    assert first.offers[0].item == "W-2"
    # as old as it was told to be: that it hasn't changed makes it no newer
    assert first.as_of == NOW - timedelta(minutes=28)


def test_a_new_answer_takes_the_place_of_the_old(tmp_path):
    newer = answer(body=quote_of(3), ETag='W/"40"')
    with serving(replies(TAGGED, newer, answer("304 Not Modified", b""))) as server:
        items = [asked(server.url, tmp_path, WASHERS).offers[0].item for _ in range(3)]
        assert 'If-None-Match: W/"40"' in server.heads[2].split("\r\n")
    assert items == ["W-2", "W-3", "W-3"]


@pytest.mark.parametrize("status", ["404 Not Found", "405 No", "410 Gone"])
def test_where_the_answer_is_gone_the_question_is_put_anew(tmp_path, status):
    with serving(replies(TAGGED, answer(status, b"{}"), answer(body=quote_of(1)))) as server:
        asked(server.url, tmp_path, WASHERS)
        assert asked(server.url, tmp_path, WASHERS).offers[0].item == "W-1"
        # this one can't be had again, so it isn't asked for so
        asked(server.url, tmp_path, WASHERS)
        assert paths(server.heads) == ["POST /quote", "GET /quote/7", "POST /quote", "POST /quote"]


@pytest.mark.parametrize("told", [
    answer(body=quote_of(2), ETag='"3f"'),
    answer(body=quote_of(2), Content_Location="/quote/7"),
    answer(body=quote_of(2), Content_Location="http://parts.invalid/quote/7", ETag='"3f"'),
])
def test_what_cannot_be_had_again_here_is_not_kept(tmp_path, told):
    with serving(replies(told)) as server:
        asked(server.url, tmp_path, WASHERS)
        asked(server.url, tmp_path, WASHERS)
        assert paths(server.heads) == ["POST /quote"] * 2


def test_another_question_and_a_damaged_file_are_asked_anew(tmp_path):
    with serving(replies(TAGGED)) as server:
        asked(server.url, tmp_path, WASHERS)
        asked(server.url, tmp_path, QuoteRequest(WASHERS.wanted[:2], NOW))
        for file in (tmp_path / "answers").iterdir():
            file.write_bytes(file.read_bytes()[:-5])
        asked(server.url, tmp_path, WASHERS)
        assert paths(server.heads) == ["POST /quote"] * 3


def test_a_service_that_says_unchanged_unasked_has_answered_nothing(tmp_path):
    with serving(answer("304 Not Modified", b"")) as server, pytest.raises(SourceFailed, match="answered status 304"):
        asked(server.url, tmp_path, WASHERS)


def test_only_so_many_answers_are_kept(tmp_path):
    from kitbuilder_http_supplier.keeping import MOST, Answers, Kept

    answers = Answers(tmp_path)
    for number in range(MOST + 5):
        answers.put(str(number).encode(), Kept("/x", '"1"', b""))
        os.utime(max((tmp_path / "answers").iterdir(), key=lambda file: file.stat().st_mtime_ns), (number, number))
    assert len(list((tmp_path / "answers").iterdir())) == MOST
    assert answers.find(b"0") is None
    assert answers.find(str(MOST + 4).encode()) is not None


def test_where_nothing_can_be_written_it_answers_all_the_same(tmp_path):
    (tmp_path / "file").write_text("")
    with serving(replies(TAGGED)) as server:
        assert asked(server.url, tmp_path / "file", WASHERS).offers


def test_the_demo_supplier_answers_again_and_in_pages(tmp_path):
    rows = "".join(
        f"W-{number},{number},each,2026-03-11T08:00:00Z,EUR,2026-03-10T14:30:00Z\n" for number in range(1, 8))
    file = tmp_path / "prices.csv"
    file.write_text("item,quantity,unit,ready,currency,as_of\n" + rows)
    told: list[str] = []
    with DemoSupplier(file, told=told.append) as whole, DemoSupplier(file, page=3) as paged:
        first = asked(whole.url, tmp_path / "a", WASHERS)
        assert asked(whole.url, tmp_path / "a", WASHERS) == first
        assert told == ["asked for 7 items, answered 7 offers", "asked again for 7 items, nothing has changed"]
        file.write_text(file.read_text().replace("W-4,4,", "W-4,44,"))
        assert [one.pool for one in asked(whole.url, tmp_path / "a", WASHERS).offers][3] == 44000
        assert told[-1] == "asked again for 7 items, answered 7 offers"
        assert asked(paged.url, tmp_path / "b", WASHERS) == asked(whole.url, tmp_path / "c", WASHERS)


# a service that struggles

BUSY = answer("503 Busy", b"{}", Retry_After="400")
CLOCK = 1_773_000_000.0


def test_one_that_wants_to_be_left_alone_for_long_is(tmp_path):
    with serving(BUSY) as server:
        with pytest.raises(SourceFailed, match="to be asked again in 400 s"):
            asked(server.url, tmp_path)
        with pytest.raises(SourceRests) as rests:
            asked(server.url, tmp_path)
        assert len(server.heads) == 1
    left = rests.value.until - datetime.now(UTC)
    assert timedelta(seconds=300) < left <= timedelta(seconds=400)
    assert str(rests.value) == (
        f"{server.host} isn't asked before {rests.value.until:%H:%M:%S} UTC, because it failed so: {server.host} has a "
        f"fault of its own (status 503, to be asked again in 400 s): try again later")


def test_after_three_failures_in_a_row_it_rests_and_longer_after_each_more(tmp_path):
    rest = Rest(tmp_path, "parts.example")
    for number in range(ENOUGH):
        rest.check(CLOCK + number)
        rest.failed(Struggles("too slow"), CLOCK + number)
    last = CLOCK + ENOUGH - 1
    with pytest.raises(SourceRests, match="because it failed 3 times in a row, at last so: too slow"):
        rest.check(last + FIRST_REST_S - 1)
    rest.check(last + FIRST_REST_S)
    rest.failed(Struggles("too slow"), last + FIRST_REST_S)
    with pytest.raises(SourceRests, match="4 times"):
        rest.check(last + FIRST_REST_S + 2 * FIRST_REST_S - 1)
    for _ in range(40):
        rest.failed(Struggles("too slow"), CLOCK)
    rest.check(CLOCK + LONGEST_REST_S)
    with pytest.raises(SourceRests):
        rest.check(CLOCK + LONGEST_REST_S - 1)


def test_an_answer_ends_the_row(tmp_path):
    rest = Rest(tmp_path, "parts.example")
    for _ in range(5):
        rest.failed(Struggles("too slow"), CLOCK)
        rest.failed(Struggles("too slow"), CLOCK)
        rest.answered()
    rest.check(CLOCK)


def test_what_costs_no_time_is_no_reason_to_rest(tmp_path):
    rest = Rest(tmp_path, "parts.example")
    for _ in range(10):
        rest.failed(SourceFailed("refused the connection"), CLOCK)
    rest.check(CLOCK)
    assert list(tmp_path.iterdir()) == []


def test_a_clock_that_was_set_back_and_a_damaged_file_silence_nobody(tmp_path):
    rest = Rest(tmp_path, "parts.example")
    rest.failed(Struggles("busy", 600.0), CLOCK)
    rest.check(CLOCK - 10_000)
    with pytest.raises(SourceRests):
        rest.check(CLOCK + 1)
    (tmp_path / "rest.json").write_text("{")
    rest.check(CLOCK + 1)


def test_no_folder_no_memory():
    rest = Rest(None, "parts.example")
    rest.failed(Struggles("busy", 600.0), CLOCK)
    rest.answered()
    rest.check(CLOCK)


def test_a_service_that_hangs_is_left_alone_after_three_commands(tmp_path):
    with serving(lambda connection, number, question: connection.recv(1) and None) as server:
        for _ in range(ENOUGH):
            with pytest.raises(SourceFailed, match="gave no answer within"):
                asked(server.url, tmp_path, deadline_s=0.3)
        started = time.monotonic()
        with pytest.raises(SourceRests):
            asked(server.url, tmp_path, deadline_s=5)
        assert time.monotonic() - started < 1
        assert len(server.heads) == ENOUGH


def test_within_the_deadline_its_wish_is_heeded_and_nothing_remembered(tmp_path):
    with serving(replies(answer("429 Slow", b"{}", Retry_After="0"), answer(body=ANSWER))) as server:
        asked(server.url, tmp_path)
        asked(server.url, tmp_path)
        assert len(server.heads) == 3
