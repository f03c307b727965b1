"""Several sites in one store: what a night takes from another site is held there, loaded there, and booked in here."""

from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from kitbuilder.errors import StoreRefuses, WrongUse
from kitbuilder.model.order import Goods, OrderRow, ReturnTerms
from kitbuilder.model.work import Gate
from kitbuilder.night.report import gate_of
from kitbuilder.store import deliveries, ledger, orders, returns, settling, shelves, transfers
from kitbuilder.store import holds as holding
from kitbuilder.workshop.work import items_of, load
from tests.night.shop import NOW, Shop, row_of

EURO_5 = {"emissions": "Euro V"}
NORTH = """\
[sources.north]
plugin = "sister-site"
site = "north"
leaves = ["07:30", "16:00"]
takes_min = 60
zone = "Europe/London"
{more}

[registers.fleet]"""
#: 16:00 on Tuesday, here at 17:00; and 07:30 on Wednesday, here at 08:30.
FIRST, SECOND = "van of 2026-03-10 16:00", "van of 2026-03-11 07:30"


def two_sites(folder: Path, more: str = "") -> Shop:
    shop = Shop(folder, {"marl": "Europe/London", "north": "Europe/London"})
    shop.settings(("[registers.fleet]", NORTH.format(more=more)))
    return shop


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    """Two sites; marl's shelf has the wipes of a seal change, but no seal."""
    made = two_sites(tmp_path / "shop")
    made.receive("W-1", "20")
    yield made
    made.store.close()


def carried(shop: Shop) -> list[tuple[str, str, str, int, str]]:
    """What is held for vans to marl: where, item, lot, how much, in which state."""
    return [(one.site, one.hold.item, one.hold.lot, one.hold.quantity, one.hold.state)
            for one in transfers.carried_to(shop.store, "marl")]


def lots(shop: Shop, site: str, item: str) -> list[tuple[str, str, int, int]]:
    """Bin, lot, what is there, what of it is promised."""
    return [(one.bin, one.lot, one.on_hand, one.held) for one in shelves.lots(shop.store, site, [item])]


def only(shop: Shop, *states: str) -> OrderRow:
    [order] = shop.orders(*states)
    return order


def gate(shop: Shop, booking: int) -> Gate:
    around = shop.around()
    work = load(shop.store, around.edition, around.site, booking)
    return gate_of(work, shop.holds(booking), orders.orders(shop.store, "marl"),
                   items_of(around.edition, [work]), shop.now)


def goods(quantity: int, item: str = "S-5", note: str = "n1", **told: object) -> Goods:
    return Goods(note=note, item=item, quantity=quantity, unit="each", bin="B-2", **told)  # type: ignore[arg-type]


def test_what_another_site_has_is_held_there_and_comes_by_the_first_van(shop: Shop) -> None:
    shop.receive("S-5", "5", site="north", bin_name="N-1", lot="L7", use_by=date(2027, 6, 30))
    number = shop.book("seal-change", facts=EURO_5)
    report = shop.run()
    order = only(shop)
    assert (order.from_site, order.site, order.source, order.slot, order.total) == ("north", "marl", "north", FIRST, 0)
    assert [(line.item, line.quantity, line.minor) for line in order.lines] == [("S-5", 2000, 0)]
    assert carried(shop) == [("north", "S-5", "L7", 2000, "planned")]
    assert lots(shop, "north", "S-5") == [("N-1", "L7", 5000, 2000)]
    # it is of no pick list here: it is not here yet
    assert shop.held(number) == {f"{number}/wipes:W-1 W-1": 2000}
    [told] = [text for text in report.attention if "Order" in text]
    assert told == (f"Order {order.id} from north, for booking {number}, is held there, and somebody has to say that "
                    f"it goes before 2026-03-10 16:00: kitbuilder order approve {order.id} --by NAME, or order sent "
                    f"{order.id} when it is on the van")
    shop.sound()


def test_a_run_again_changes_nothing(shop: Shop) -> None:
    shop.receive("S-5", "2", site="north", lot="L7")
    shop.book("seal-change", facts=EURO_5)
    shop.run()
    before = shop.dump()
    for _ in range(2):
        shop.run()
        assert shop.dump() == before
    shop.run(site="north")
    shop.run()
    assert shop.dump() == before


def test_what_lies_here_is_taken_first_and_only_the_rest_is_brought(shop: Shop) -> None:
    shop.receive("S-5", "1", lot="Z", use_by=date(2028, 1, 1))
    shop.receive("S-5", "5", site="north", lot="A", use_by=date(2026, 6, 1))
    number = shop.book("seal-change", facts=EURO_5)
    shop.run()
    assert shop.held(number)[f"{number}/seal:S-5 S-5"] == 1000
    assert carried(shop) == [("north", "S-5", "A", 1000, "planned")]


def test_what_lies_here_by_now_is_not_brought(shop: Shop) -> None:
    shop.receive("S-5", "5", site="north")
    number = shop.book("seal-change", facts=EURO_5)
    shop.run()
    assert [one[3] for one in carried(shop)] == [2000]
    shop.receive("S-5", "1")
    shop.run()
    assert [one[3] for one in carried(shop)] == [1000]
    shop.receive("S-5", "1")
    shop.run()
    assert (carried(shop), shop.orders()) == ([], [])
    assert shop.held(number)[f"{number}/seal:S-5 S-5"] == 2000
    shop.sound()


def test_the_night_of_the_other_site_leaves_it_alone(shop: Shop) -> None:
    shop.receive("S-5", "3", site="north", lot="L7")
    shop.receive("W-1", "2", site="north")
    here = shop.book("seal-change", facts=EURO_5)
    there = shop.book("seal-change", facts=EURO_5, site="north")
    shop.run()
    report = shop.run(site="north")
    # of three only one is left for its own booking, which needs two
    assert shop.held(there)[f"{there}/seal:S-5 S-5"] == 1000
    assert row_of(report, there).state == "not ready"
    assert carried(shop) == [("north", "S-5", "L7", 2000, "planned")]
    order = only(shop)
    assert (f"To load before 2026-03-10 16:00, north, {FIRST}: order {order.id} for marl (kitbuilder order list). When "
            f"it is on the van: kitbuilder order sent {order.id} --by NAME") in report.attention
    paper = (shop.folder / "documents" / "2026-03-11" / "north" / "to-load.txt").read_text()
    assert "TO LOAD for marl: north, van of 2026-03-10 16:00" in paper
    assert "A-1          2 each    S-5          Seal, Euro V" in paper
    assert shop.held(here) == {f"{here}/wipes:W-1 W-1": 2000}
    shop.sound()


def test_the_gate_waits_for_somebody_there_then_for_the_van(shop: Shop) -> None:
    shop.receive("S-5", "2", site="north")
    number = shop.book("seal-change", facts=EURO_5)
    shop.run()
    assert gate(shop, number).answer == "don't start"
    shop.decide(only(shop).id, "approved")
    assert carried(shop) == [("north", "S-5", "", 2000, "picking")]
    answer = gate(shop, number)
    assert answer.answer == "start, but"
    assert [(one.source, one.sureness) for stage in answer.stages for one in stage.evidence if one.item == "S-5"] == [
        ("north", "promised")]
    assert row_of(shop.run(), number).state == "ready by stage"
    shop.decide(only(shop, "approved").id, "ordered")
    assert carried(shop) == [("north", "S-5", "", 2000, "picked")]
    assert row_of(shop.run(), number).state == "ready by stage"
    shop.sound()


def test_from_the_other_sites_bin_to_the_vehicle_with_its_lot(shop: Shop) -> None:
    shop.receive("S-5", "5", site="north", bin_name="N-1", lot="L7", use_by=date(2027, 6, 30))
    number = shop.book("seal-change", facts=EURO_5)
    shop.run()
    order = only(shop)
    shop.decide(order.id, "ordered", "B. Person")
    [came] = deliveries.receive_all(shop.store, order.id, "B-2", "C. Person", NOW)
    assert (came.held, came.state) == ({number: 2000}, "received")
    [here] = shelves.lots(shop.store, "marl", ["S-5"])
    assert (here.bin, here.lot, here.use_by, here.on_hand, here.held) == ("B-2", "L7", date(2027, 6, 30), 2000, 2000)
    assert lots(shop, "north", "S-5") == [("N-1", "L7", 3000, 0)]
    assert shop.held(number)[f"{number}/seal:S-5 S-5"] == 2000
    moves = [(row.action, row.bin, row.on_hand, row.held, row.who, row.why) for row in ledger.ledger(shop.store, "S-5")]
    assert moves[-4:] == [
        ("release", "N-1", 0, -2000, "C. Person", "was picked"),
        ("move out", "N-1", -2000, 0, "C. Person", f"to marl, B-2, order {order.id}"),
        ("move in", "B-2", 2000, 0, "C. Person", f"from north, N-1, order {order.id}"),
        ("hold", "B-2", 0, 2000, "C. Person", f"{number}/seal:S-5")]
    shop.sound()
    before = shop.dump()
    report = shop.run()
    assert row_of(report, number).state == "ready"
    assert shop.dump() == before
    for state in ("picking", "picked", "issued"):
        holding.step(shop.store, [row.id for row in shop.holds(number)], state, "D. Person", NOW)  # type: ignore[arg-type]
    assert [(row.item, row.lot, row.state) for row in shop.holds(number)] == [
        ("S-5", "L7", "issued"), ("W-1", "", "issued")]
    shop.sound()


def test_a_part_of_what_was_sent_can_be_booked_in_and_the_rest_later(shop: Shop) -> None:
    shop.receive("S-5", "4", site="north", lot="L7")
    one, two = shop.book("seal-change", facts=EURO_5), shop.book("seal-change", facts=EURO_5)
    shop.run()
    number = only(shop).id
    shop.decide(number, "ordered")
    first = deliveries.receive(shop.store, number, goods(3000), "C. Person", NOW)
    assert (first.held, first.state) == ({one: 2000, two: 1000}, "ordered")
    assert deliveries.receive(shop.store, number, goods(3000), "C. Person", NOW).again
    assert carried(shop) == [("north", "S-5", "L7", 1000, "picked")]
    before = shop.held()
    shop.run()
    assert shop.held() == before
    assert shop.orders() == []
    second = deliveries.receive(shop.store, number, goods(1000, note="n2"), "C. Person", NOW)
    assert (second.held, second.state) == ({two: 1000}, "received")
    shop.sound()


def test_of_several_lots_it_has_to_be_said_which_came(shop: Shop) -> None:
    shop.receive("S-5", "1", site="north", lot="L7", use_by=date(2027, 1, 1))
    shop.receive("S-5", "5", site="north", lot="L8", use_by=date(2027, 2, 1))
    shop.book("seal-change", facts=EURO_5)
    shop.run()
    number = only(shop).id
    shop.decide(number, "ordered")
    assert [one[2:4] for one in carried(shop)] == [("L7", 1000), ("L8", 1000)]
    with pytest.raises(StoreRefuses, match=r"of several lots: L7, L8\. Say which came"):
        deliveries.receive(shop.store, number, goods(1000), "C. Person", NOW)
    deliveries.receive(shop.store, number, goods(1000, lot="L8"), "C. Person", NOW)
    with pytest.raises(StoreRefuses, match="brings 0 each of S-5 of lot L8 from north, not 1"):
        deliveries.receive(shop.store, number, goods(1000, lot="L8", note="n2"), "C. Person", NOW)
    deliveries.receive(shop.store, number, goods(1000, note="n3"), "C. Person", NOW)
    assert [one.lot for one in shelves.lots(shop.store, "marl", ["S-5"])] == ["L7", "L8"]
    shop.sound()


@pytest.mark.parametrize(("brought", "words"), [
    (goods(3000), "brings 2 each of S-5 from north, not 3"),
    (goods(1000, "W-1"), "brings no W-1 from north"),
    (goods(2000, "W-1", instead_of="S-5"), "brings no W-1 from north"),
])
def test_what_the_van_was_not_to_bring_is_not_booked_in_with_it(shop: Shop, brought: Goods, words: str) -> None:
    shop.receive("S-5", "5", site="north")
    shop.book("seal-change", facts=EURO_5)
    shop.run()
    number = only(shop).id
    shop.decide(number, "ordered")
    before = shop.dump()
    with pytest.raises(StoreRefuses, match=words):
        deliveries.receive(shop.store, number, brought, "C. Person", NOW)
    assert shop.dump() == before


def test_it_is_not_received_before_it_is_booked_in(shop: Shop) -> None:
    shop.receive("S-5", "5", site="north")
    shop.book("seal-change", facts=EURO_5)
    shop.run()
    number = only(shop).id
    with pytest.raises(StoreRefuses, match="only proposed"):
        deliveries.receive_all(shop.store, number, "B-2", "C. Person", NOW)
    shop.decide(number, "ordered")
    with pytest.raises(StoreRefuses, match=f"kitbuilder order received {number} --bin BIN"):
        shop.decide(number, "received")


@pytest.mark.parametrize("state", ["proposed", "approved", "ordered"])
def test_cancelled_it_is_free_there_again_and_another_way_is_looked_for(shop: Shop, state: str) -> None:
    shop.receive("S-5", "5", site="north")
    shop.supplier("S-5,4,each,2026-03-11T07:00:00+00:00,3.10,1")
    shop.book("seal-change", facts=EURO_5)
    shop.run()
    number = only(shop).id
    if state != "proposed":
        shop.decide(number, state)
    shop.decide(number, "cancelled")
    assert carried(shop) == []
    assert lots(shop, "north", "S-5") == [("A-1", "", 5000, 0)]
    shop.run()
    # the next van has another number, and is own stock
    assert only(shop).slot == SECOND
    shop.decide(only(shop).id, "cancelled")
    shop.run()
    assert {order.source for order in shop.orders()} & {"supplier"}
    with pytest.raises(StoreRefuses, match="is cancelled, so nothing is held for it at north"):
        deliveries.receive(shop.store, number, goods(2000), "C. Person", NOW)
    shop.sound()


def test_what_is_not_needed_any_more_is_let_go_there(shop: Shop) -> None:
    shop.receive("S-5", "5", site="north")
    row = "a,,{},,2026-03-11T08:00,marl,seal-change,DEMO 5,{},normal,"
    shop.diary(row.format(0, "authorised"))
    shop.run()
    assert len(carried(shop)) == 1
    shop.diary(row.format(1, "cancelled"))
    shop.run()
    assert (carried(shop), shop.orders()) == ([], [])
    shop.sound()


def test_a_booking_that_moves_to_the_other_site_has_it_there(shop: Shop) -> None:
    shop.receive("S-5", "2", site="north")
    shop.receive("W-1", "2", site="north")
    row = "a,,{},,2026-03-11T08:00,{},seal-change,DEMO 5,authorised,normal,"
    shop.diary(row.format(0, "marl"))
    shop.run()
    assert len(carried(shop)) == 1
    shop.diary(row.format(1, "north"))
    shop.run()
    assert (carried(shop), shop.orders()) == ([], [])
    shop.run(site="north")
    assert shop.held()["1/seal:S-5 S-5"] == 2000
    shop.sound()


def test_nothing_is_brought_for_an_enquiry_or_for_what_is_still_open(shop: Shop) -> None:
    shop.receive("S-5", "5", site="north")
    shop.receive("S-6", "5", site="north")
    shop.book("seal-change", facts=EURO_5, state="enquiry")
    shop.book("seal-change")
    shop.run()
    assert (carried(shop), shop.orders()) == ([], [])


def test_a_van_that_has_left_is_not_waited_for_and_the_next_one_is_taken(shop: Shop) -> None:
    shop.receive("S-5", "2", site="north")
    number = shop.book("seal-change", "2026-03-11T10:00", facts=EURO_5)
    shop.run()
    assert only(shop).slot == FIRST
    shop.now = NOW + timedelta(hours=1)
    with pytest.raises(StoreRefuses, match="cut-off of order 1 is past"):
        shop.decide(1, "approved")
    report = shop.run()
    assert only(shop).slot == SECOND
    assert carried(shop) == [("north", "S-5", "", 2000, "planned")]
    assert row_of(report, number).state == "not ready"
    shop.now = NOW + timedelta(hours=17)
    # who loaded it may say so when it has left
    shop.decide(only(shop).id, "ordered")
    assert row_of(shop.run(), number).state == "ready by stage"


def test_said_to_go_and_not_said_to_have_left_is_asked_after_at_both_sites(shop: Shop) -> None:
    shop.receive("S-5", "2", site="north")
    shop.book("seal-change", facts=EURO_5)
    shop.run()
    shop.decide(1, "approved")
    shop.now = NOW + timedelta(hours=2)
    assert "Order 1 from north was to leave at 2026-03-10 16:00, and nobody said that it did: ask there." in (
        shop.run().attention)
    assert any("was to leave at 2026-03-10 16:00, and nobody said that it did. If it is on its way" in text
               for text in shop.run(site="north").attention)
    shop.decide(1, "ordered")
    shop.now = NOW + timedelta(hours=6)
    assert ("Order 1 from north was expected at 2026-03-10 17:00. Book it in (kitbuilder order received 1 --bin BIN), "
            "or ask after it.") in shop.run().attention


def test_a_trip_is_worth_its_fee_only_where_buying_is_dearer(tmp_path: Path) -> None:
    shop = two_sites(tmp_path / "shop", 'fee = "7.00"')
    shop.receive("W-1", "20")
    shop.receive("S-5", "9", site="north")
    shop.supplier("S-5,9,each,2026-03-11T07:00:00+00:00,3.00,1")
    shop.book("seal-change", facts=EURO_5)
    shop.run()
    assert [order.source for order in shop.orders()] == ["supplier"]
    shop.book("seal-change", "2026-03-11T09:00", facts=EURO_5)
    shop.run()
    order = only(shop)
    assert (order.from_site, order.fee, order.total) == ("north", 700, 700)
    shop.store.close()


def test_what_other_sites_cannot_be_asked_for_now_stays_as_it_was(shop: Shop) -> None:
    shop.receive("S-5", "2", site="north")
    shop.book("seal-change", facts=EURO_5)
    shop.run()
    before = shop.dump()
    shop.settings(("takes_min = 60", "takes_min = -1"))
    report = shop.run()
    assert "The source north failed" in report.warnings[0]
    assert shop.dump() == before


def test_without_the_source_it_is_let_go(shop: Shop) -> None:
    shop.receive("S-5", "2", site="north")
    shop.book("seal-change", facts=EURO_5)
    shop.run()
    shop.settings((NORTH.format(more=""), "[registers.fleet]"))
    shop.run()
    assert (carried(shop), shop.orders()) == ([], [])


def test_two_sources_of_one_site_are_not_both_counted(shop: Shop) -> None:
    shop.receive("S-5", "2", site="north")
    shop.settings(("[registers.fleet]", NORTH.format(more="").replace("sources.north", "sources.more")))
    shop.book("seal-change", facts=EURO_5)
    shop.book("seal-change", facts=EURO_5)
    report = shop.run()
    assert ("The source more failed: it brings from north, as north does, so that what lies there would count twice; "
            "give all its vans to one of them. What it has is not known.") in report.warnings
    assert [one[3] for one in carried(shop)] == [2000]


def test_what_is_in_quarantine_by_now_is_not_sent(shop: Shop) -> None:
    shop.receive("S-5", "2", site="north", lot="L7")
    shop.book("seal-change", facts=EURO_5)
    shop.run()
    shelves.quarantine(shop.store, "north", "S-5", "L7", "bent", "B. Person", NOW)
    with pytest.raises(StoreRefuses, match="is to bring 2 each of S-5, but north has only 0 held for it now"):
        shop.decide(1, "approved")
    shelves.quarantine(shop.store, "north", "S-5", "L7", "", "B. Person", NOW)
    shop.run()
    number = only(shop).id
    shop.decide(number, "approved")
    shelves.quarantine(shop.store, "north", "S-5", "L7", "bent", "B. Person", NOW)
    with pytest.raises(StoreRefuses, match="quarantine"):
        shop.decide(number, "ordered")


def test_what_went_into_quarantine_on_its_way_arrives_in_quarantine_and_is_held_for_nobody(shop: Shop) -> None:
    shop.receive("S-5", "2", site="north", lot="L7")
    number = shop.book("seal-change", facts=EURO_5)
    shop.run()
    shop.decide(1, "ordered")
    shelves.quarantine(shop.store, "north", "S-5", "L7", "recalled", "B. Person", NOW)
    [came] = deliveries.receive_all(shop.store, 1, "B-2", "C. Person", NOW)
    assert came.held == {}
    [here] = shelves.lots(shop.store, "marl", ["S-5"])
    assert (here.quarantine, here.on_hand, here.held) == ("recalled", 2000, 0)
    assert row_of(shop.run(), number).state == "not ready"
    shop.sound()


def test_what_is_counted_short_there_says_that_a_van_is_to_take_it(shop: Shop) -> None:
    shop.receive("S-5", "2", site="north")
    shop.book("seal-change", facts=EURO_5)
    shop.run()
    with pytest.raises(StoreRefuses, match="What is held for a van is sent or cancelled with kitbuilder order"):
        shelves.count(shop.store, "north", "S-5", "", "A-1", 1000, "B. Person", "", NOW)
    shop.decide(1, "cancelled")
    assert shelves.count(shop.store, "north", "S-5", "", "A-1", 1000, "B. Person", "", NOW) == -1000
    shop.run()
    assert [one[3] for one in carried(shop)] == [1000]
    shop.sound()


def test_what_came_from_another_site_goes_back_to_no_supplier(shop: Shop) -> None:
    shop.receive("S-5", "2", site="north")
    shop.book("seal-change", facts=EURO_5)
    shop.run()
    shop.decide(1, "ordered")
    deliveries.receive_all(shop.store, 1, "B-2", "C. Person", NOW)
    with pytest.raises(WrongUse, match="came from north, which is no supplier"):
        returns.propose(shop.store, only(shop, "received"), "S-5", "", "B-2", 1000, "each", "not used", ReturnTerms(),
                        "C. Person", NOW)


def test_the_rest_that_is_not_coming_is_free_there_again(shop: Shop) -> None:
    shop.receive("S-5", "4", site="north")
    shop.book("seal-change", facts=EURO_5)
    shop.run()
    shop.decide(1, "ordered")
    deliveries.receive(shop.store, 1, goods(1000), "C. Person", NOW)
    settling.drop_rest(shop.store, 1, "C. Person", NOW)
    assert lots(shop, "north", "S-5") == [("A-1", "", 3000, 0)]
    shop.run()
    assert [one[3] for one in carried(shop)] == [1000]
    shop.sound()


def test_more_is_needed_after_some_is_on_its_way(shop: Shop) -> None:
    shop.receive("S-5", "9", site="north")
    number = shop.book("seal-change", facts=EURO_5)
    shop.run()
    shop.decide(1, "approved")
    shop.edit(number, "amount", "seal", filler="S-5", amount=5000, unit="each")
    shop.run()
    more = only(shop)
    assert [(line.item, line.quantity) for line in more.lines] == [("S-5", 3000)]
    # both are of one van, and one key; each is sent, cancelled and booked in by itself
    assert [one[3:] for one in carried(shop)] == [(2000, "picking"), (3000, "planned")]
    shop.decide(more.id, "ordered")
    [came] = deliveries.receive_all(shop.store, 1, "B-2", "C. Person", NOW)
    assert came.held == {number: 2000}
    [came] = deliveries.receive_all(shop.store, more.id, "B-2", "C. Person", NOW)
    assert came.held == {number: 3000}
    assert shop.held(number)[f"{number}/seal:S-5 S-5"] == 5000
    assert carried(shop) == []
    shop.sound()


def test_it_waits_for_a_person_there_also_where_orders_go_by_themselves(shop: Shop) -> None:
    shop.receive("S-5", "2", site="north")
    shop.settings(("[registers.fleet]", '[orders]\napprove_over = "10.00"\notherwise = "send"\n\n[registers.fleet]'))
    shop.book("seal-change", facts=EURO_5)
    shop.run()
    assert (only(shop).from_site, only(shop).said) == ("north", "")
    assert carried(shop) == [("north", "S-5", "", 2000, "planned")]


def test_in_another_store_nothing_is_held_so_it_is_a_proposal_that_its_people_decide(tmp_path: Path) -> None:
    other = Shop(tmp_path / "other", {"north": "Europe/London"})
    other.receive("S-5", "5", site="north")
    shop = two_sites(tmp_path / "shop", 'store = "../other/workshop.db"')
    shop.receive("W-1", "20")
    number = shop.book("seal-change", facts=EURO_5)
    before = other.dump()
    report = shop.run()
    assert (only(shop).from_site, only(shop).source, only(shop).total) == ("", "north", 0)
    assert carried(shop) == []
    assert other.dump() == before
    assert (f"Order 1 at north, for booking {number}, waits for a decision before 2026-03-10 16:00: "
            "kitbuilder order approve 1 --by NAME") in report.attention
    shop.decide(1, "ordered")
    assert row_of(shop.run(), number).state == "ready by stage"
    came = deliveries.receive(shop.store, 1, goods(2000), "C. Person", NOW)
    assert (came.held, came.state) == ({number: 2000}, "received")
    for one in (shop, other):
        one.sound()
        one.store.close()


class TestAVan:
    """A technician's van is a site: its shelf, its bookings, and what is brought to it or from it."""

    @pytest.fixture
    def shop(self, tmp_path: Path) -> Iterator[Shop]:
        shop = Shop(tmp_path / "shop", {"marl": "Europe/London", "van-1": "Europe/London"})
        shop.settings(("[registers.fleet]", """\
[sources.morning]
plugin = "sister-site"
site = "marl"
to = ["van-1"]
leaves = "06:30"
takes_min = 5
zone = "Europe/London"

[sources.evening]
plugin = "sister-site"
site = "van-1"
to = ["marl"]
leaves = "17:00"
takes_min = 5
zone = "Europe/London"

[registers.fleet]"""))
        shop.receive("W-1", "20")
        yield shop
        shop.store.close()

    def test_a_job_in_the_yard_is_planned_from_the_vans_own_shelf_then_loaded_from_the_workshop(
            self, shop: Shop) -> None:
        shop.receive("S-5", "1", site="van-1", bin_name="left drawer")
        shop.receive("S-5", "4")
        number = shop.book("seal-change", site="van-1", facts={**EURO_5, "place": "yard"})
        shop.run(site="van-1")
        assert shop.held(number) == {f"{number}/seal:S-5 S-5": 1000}
        order = only(shop)
        assert (order.from_site, order.site, order.slot) == ("marl", "van-1", "van of 2026-03-11 06:30")
        assert [(line.item, line.quantity) for line in order.lines] == [("S-5", 1000), ("W-1", 2000)]
        shop.decide(order.id, "ordered")
        deliveries.receive_all(shop.store, order.id, "left drawer", "A. Technician", NOW)
        assert row_of(shop.run(site="van-1"), number).state == "ready"
        assert [(row.bin, row.item) for row in shop.holds(number)] == [
            ("left drawer", "S-5"), ("left drawer", "S-5"), ("left drawer", "W-1")]
        shop.sound()

    def test_what_a_van_carries_comes_back_in_the_evening(self, shop: Shop) -> None:
        shop.receive("S-5", "2", site="van-1")
        number = shop.book("seal-change", "2026-03-12T08:00", facts=EURO_5)
        shop.run(date(2026, 3, 12))
        assert (only(shop).from_site, only(shop).ready) == ("van-1", datetime(2026, 3, 10, 17, 5, tzinfo=UTC))
        assert shop.held(number) == {f"{number}/wipes:W-1 W-1": 2000}

    def test_what_is_taken_along_moves_to_the_vans_shelf(self, shop: Shop) -> None:
        shop.receive("S-5", "4", bin_name="A-1", lot="L7", use_by=date(2027, 6, 30))
        transfers.move(shop.store, "marl", "van-1", "S-5", "L7", "A-1", "left drawer", 3000, "A. Technician", NOW)
        [there] = shelves.lots(shop.store, "van-1", ["S-5"])
        assert (there.bin, there.lot, there.on_hand, there.use_by) == ("left drawer", "L7", 3000, date(2027, 6, 30))
        assert lots(shop, "marl", "S-5") == [("A-1", "L7", 1000, 0)]
        with pytest.raises(StoreRefuses, match="A-1 has 1 each of S-5 that isn't promised, not 2"):
            transfers.move(shop.store, "marl", "van-1", "S-5", "L7", "A-1", "x", 2000, "A. Technician", NOW)
        with pytest.raises(WrongUse, match="It is at marl already"):
            transfers.move(shop.store, "marl", "marl", "S-5", "L7", "A-1", "x", 1000, "A. Technician", NOW)
        shop.sound()
