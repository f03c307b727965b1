"""`kitbuilder why` as a process: of a job, and of a booking's line with where it comes from."""

from __future__ import annotations

import json
from collections.abc import Iterator

import jsonschema
import msgspec
import pytest

from kitbuilder.kit.why import Why
from tests.cli.running import run
from tests.night.shop import Shop


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shop]:
    """Booking 1 lost its unit to booking 2, which is VOR; booking 3, of the same window, needs no unit; 4 is new."""
    made = Shop(tmp_path_factory.mktemp("why") / "shop")
    made.receive("U-1", "1")
    made.supplier("U-1,9,each,2026-03-11T14:00:00+00:00,900,1", "S-5,9,each,2026-03-11T07:00:00+00:00,3.10,1")
    made.book("unit-change", registration="DEMO 5")
    made.book("unit-change", priority="VOR", registration="DEMO 6")
    made.book("seal-change", registration="DEMO 5")
    made.run()
    made.book("unit-change", "2026-03-11T12:00", registration="DEMO 0")
    yield made
    made.store.close()


def test_a_job_and_an_item_or_role_are_asked_for_as_before(shop: Shop) -> None:
    done = run(shop.folder, "why", "seal-change", "seal", "--vehicle", "DEMO 5")
    assert (done.code, done.err) == (0, "")
    assert "WHERE IT COMES FROM" not in done.out and "ROWS THAT COUNT" in done.out


def test_a_bookings_line_says_where_it_comes_from_and_why_it_lost(shop: Shop) -> None:
    done = run(shop.folder, "why", "--booking", "1", "unit")
    assert (done.code, done.err) == (0, "")
    assert max(map(len, done.out.splitlines())) <= 80
    text = " ".join(done.out.split())
    assert "1 each U-1 from supplier, here 2026-03-11 14:00 (order 2, proposed)" in text
    assert "next best: 1 each U-1 from shelf: booking 2 (VOR) would be 4 h late" in text
    assert "It is 4 h late for want of 1 each Unit (U-1), which went to booking 2 (VOR)." in text
    assert "by what the sources said at 2026-03-10 15:00, in the run for 2026-03-11" in text
    assert "ROWS THAT COUNT" in text


def test_json_has_it_as_a_field(shop: Shop) -> None:
    answer = json.loads(run(shop.folder, "why", "--booking", "2", "U-1", "--json").out)
    jsonschema.validate(answer, msgspec.json.schema(Why))
    assert (answer["format"], answer["job"], answer["asked"]) == ("kitbuilder.why/1", "unit-change", "U-1")
    sourcing = answer["sourcing"]
    assert (sourcing["run"], sourcing["as_of"], sourcing["state"]) == ("2026-03-11", "2026-03-10T15:00", "as planned")
    [line] = sourcing["lines"]
    assert [take["where"] for take in line["takes"]] == ["A-1"]
    assert (line["next_best"]["worse_in"], line["next_best"]["by"]) == ("not_on_time_vor", 1)
    without = json.loads(run(shop.folder, "why", "unit-change", "unit", "--json").out)
    assert "sourcing" not in without


def test_the_facts_are_the_bookings_own(shop: Shop) -> None:
    """Its vehicle is a Euro V, by the register: of the two seals only that one counts."""
    answer = json.loads(run(shop.folder, "why", "--booking", "3", "seal", "--json").out)
    assert [line["item"] for line in answer["lines"]] == ["S-5"]


@pytest.mark.parametrize("words, said", [
    (("--booking", "4", "unit"), "Booking 4 has no kit yet. Run `kitbuilder night run`"),
    (("--booking", "9", "unit"), "There is no booking 9"),
    (("--booking", "1", "unti"), "no item or role 'unti'. Did you mean 'unit'?"),
    (("--booking", "1", "unit-change", "unit"), "takes one ITEM or ROLE, and no job type"),
    (("--booking", "1", "unit", "--fact", "place=yard"), "leave out --fact"),
    (("unit-change",), "Name a job type and an item or a role of it")])
def test_wrong_words_say_what_was_expected(shop: Shop, words: tuple[str, ...], said: str) -> None:
    done = run(shop.folder, "why", *words)
    assert done.code in (2, 3) and done.out == ""
    assert said in done.said


def test_a_line_added_by_hand_is_explained_though_no_row_speaks_of_it(shop: Shop) -> None:
    run(shop.folder, "edit", "3", "--add", "unit", "--item", "U-1", "--why", "asked for", "--by", "A. Person")
    done = run(shop.folder, "why", "--booking", "3", "unit")
    assert done.code == 0
    assert "1 each Unit (U-1)" in done.out and "WHERE IT COMES FROM" in done.out
