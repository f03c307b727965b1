"""Open questions, visits, edits by hand, lines on condition, and what changed since the run before."""

from tests.night.shop import NOW, Shop, row_of

EURO_5, EURO_6 = {"emissions": "Euro V"}, {"emissions": "Euro VI"}


def test_under_open_questions_the_least_is_ordered_and_the_rest_held_where_it_lies(shop: Shop) -> None:
    """Three litres in any case, five in some: three are ordered if need be, the other two only from the shelf."""
    shop.receive("W-1", "3")
    shop.supplier("O-1,20,L,2026-03-11T07:00:00+00:00,9.00,1")
    number = shop.book("oil-change")
    report = shop.run()
    [order] = shop.orders()
    assert [(line.item, line.quantity) for line in order.lines] == [("O-1", 3000)]
    assert row_of(report, number).state == "not ready"
    shop.receive("O-1", "4", "L")
    report = shop.run()
    assert shop.orders() == []
    assert sum(quantity for need, quantity in shop.held(number).items() if need.endswith("O-1")) == 4000
    assert (row_of(report, number).state, row_of(report, number).why) == ("ask first", ("Which emissions generation?",))


def test_reserves_come_after_what_is_certain_elsewhere(shop: Shop) -> None:
    shop.receive("W-1", "6")
    shop.receive("O-1", "6", "L")
    shop.supplier("O-1,20,L,2026-03-11T07:00:00+00:00,9.00,1")
    unsure = shop.book("oil-change", "2026-03-11T08:00")
    sure = shop.book("oil-change", "2026-03-11T14:00", facts=EURO_5)
    shop.run()
    assert shop.orders() == []
    assert sum(quantity for need, quantity in shop.held(sure).items() if "O-1" in need) == 3000
    assert sum(quantity for need, quantity in shop.held(unsure).items() if "O-1" in need) == 3000


def test_a_reserve_of_a_circuit_is_of_the_oil_that_is_in_it(shop: Shop) -> None:
    shop.receive("W-1", "3")
    shop.receive("O-1", "3", "L")
    shop.receive("O-2", "9", "L")
    number = shop.book("oil-change")
    shop.run()
    oils = {need.rpartition(" ")[2]: quantity for need, quantity in shop.held(number).items() if "O-" in need}
    assert set(oils) <= {"O-1"} or set(oils) == {"O-2"}


def test_a_visit_shares_facts_of_the_vehicle_and_counts_shared_roles_once(shop: Shop) -> None:
    shop.receive("W-1", "9")
    shop.receive("S-6", "2")
    shop.receive("O-1", "9", "L")
    seal = shop.book("seal-change", "2026-03-11T08:00", visit="v", facts=EURO_6)
    oil = shop.book("oil-change", "2026-03-11T13:00", visit="v", facts={"place": "yard"})
    report = shop.run()
    assert shop.held() == {
        f"{seal}/seal:S-6 S-6": 2000, f"{seal}/wipes:W-1 W-1": 3000, f"{oil}/oil:box-oil O-1": 5000}
    assert [row.state for row in report.bookings] == ["ready", "ready"]
    rows = shop.dump()
    shop.run()
    assert shop.dump() == rows


def test_a_visits_job_facts_stay_with_their_booking(shop: Shop) -> None:
    from kitbuilder.workshop.work import load

    shop.book("seal-change", "2026-03-11T08:00", visit="v", facts={**EURO_6, "place": "workshop"})
    other = shop.book("oil-change", "2026-03-11T13:00", visit="v")
    around = shop.around()
    shop.run()
    told = {one.fact for one in load(shop.store, around.edition, around.site, other).statements}
    assert told == {"emissions"}


def test_a_visit_of_one_registration_looks_it_up_for_all(shop: Shop) -> None:
    shop.receive("W-1", "9")
    shop.receive("S-6", "2")
    shop.receive("O-1", "9", "L")
    shop.book("seal-change", "2026-03-11T08:00", visit="v", registration="DEMO 6")
    shop.book("oil-change", "2026-03-11T13:00", visit="v")
    assert [row.state for row in shop.run().bookings] == ["ready", "ready"]


def test_different_things_for_a_shared_role_need_a_person(shop: Shop) -> None:
    shop.receive("W-1", "9")
    shop.receive("W-2", "9")
    seal = shop.book("seal-change", "2026-03-11T08:00", visit="v", facts=EURO_6)
    wipe = shop.book("yard-wipe", "2026-03-11T13:00", visit="v")
    report = shop.run()
    for number in (seal, wipe):
        row = row_of(report, number)
        assert row.state == "needs a person"
        assert row.why == (f"Wipes: booking {seal} asks for W-1, booking {wipe} for W-2, and the visit needs one",)


def test_a_visit_that_says_two_things_of_its_vehicle_needs_a_person(shop: Shop) -> None:
    first = shop.book("seal-change", "2026-03-11T08:00", visit="v", facts=EURO_6)
    second = shop.book("oil-change", "2026-03-11T13:00", visit="v", facts=EURO_5)
    third = shop.book("seal-change", "2026-03-11T08:00", visit="w", registration="DEMO 5")
    fourth = shop.book("oil-change", "2026-03-11T08:00", visit="w", registration="DEMO 6")
    report = shop.run()
    assert {row_of(report, number).state for number in (first, second, third, fourth)} == {"needs a person"}
    assert "Euro V" in row_of(report, first).why[0] and "Euro VI" in row_of(report, first).why[0]
    assert "several registrations" in row_of(report, third).why[0]


def test_edits_are_applied_again_after_a_rebuild(shop: Shop) -> None:
    shop.receive("W-1", "9")
    shop.receive("W-2", "9")
    shop.receive("S-5", "9")
    shop.receive("P-1", "1")
    number = shop.book("seal-change", registration="DEMO 5")
    shop.run()
    assert shop.held(number) == {f"{number}/seal:S-5 S-5": 2000, f"{number}/wipes:W-1 W-1": 2000}
    shop.edit(number, "swap", "wipes", filler="W-1", item="W-2", unit="each")
    shop.edit(number, "amount", "seal", filler="S-5", amount=4000, unit="each")
    shop.edit(number, "add", "pipe", item="P-1", unit="each")
    after = {f"{number}/seal:S-5 S-5": 4000, f"{number}/wipes:W-1 W-2": 2000, f"{number}/pipe:+P-1 P-1": 1000}
    shop.run()
    assert shop.held(number) == after
    # a rebuild: the catalogue says more of the seal now
    fits = shop.folder / "catalogue" / "fits" / "all.csv"
    fits.write_text(fits.read_text("utf-8").replace(",seal,S-5,,2,each,,Euro V", ",seal,S-5,,3,each,,Euro V"), "utf-8")
    report = shop.run()
    assert shop.held(number) == after
    assert f"The kit of booking {number} changed: 3 each of Seal, Euro V (S-5) instead of 2 each." in report.attention
    shop.edit(number, "strike", "seal", filler="S-5")
    shop.run()
    assert set(shop.held(number)) == {f"{number}/wipes:W-1 W-2", f"{number}/pipe:+P-1 P-1"}


def test_an_edit_that_finds_nothing_any_more_is_shown(shop: Shop) -> None:
    shop.receive("W-1", "9")
    shop.receive("S-6", "9")
    number = shop.book("seal-change", registration="DEMO 5")
    shop.run()
    shop.edit(number, "amount", "seal", filler="S-5", amount=4000, unit="each")
    fleet = shop.folder / "fleet.csv"
    fleet.write_text(fleet.read_text("utf-8").replace("DEMO 5,Euro V\n", "DEMO 5,Euro VI\n"), "utf-8")
    report = shop.run()
    row = row_of(report, number)
    assert row.state == "needs a person"
    assert "amount of S-5 in seal; A. Person: said so): the kit has no such line any more" in row.why[0]
    assert (f"The kit of booking {number} changed: now also 2 each of Seal, Euro VI (S-6); no longer 2 each of Seal, "
            "Euro V (S-5).") in report.attention
    assert not any("changed" in text for text in shop.run().attention)


def test_lines_on_condition_are_listed_and_held_only_once_a_person_adds_them(shop: Shop) -> None:
    shop.receive("W-1", "2")
    shop.receive("S-5", "2")
    shop.receive("P-1", "1", bin_name="C-7")
    number = shop.book("seal-change", facts=EURO_5)
    assert row_of(shop.run(), number).state == "ready"
    assert not any("P-1" in need for need in shop.held())
    paper = shop.documents()[f"2026-03-11/marl/pick-{number}.txt"].decode()
    assert "Pipe (P-1), if: The pipe is corroded" in " ".join(paper.split()) and "C-7" in paper
    shop.edit(number, "add", "pipe", item="P-1", unit="each")
    shop.run()
    assert shop.held(number)[f"{number}/pipe:+P-1 P-1"] == 1000


def test_the_report_first_says_what_needs_a_person(shop: Shop) -> None:
    from kitbuilder.show.paper import Paper
    from kitbuilder.show.workshop import report_text

    shop.receive("W-1", "19")
    shop.receive("S-5", "2")
    shop.receive("O-1", "5", "L")
    shop.supplier("U-1,2,each,2026-03-11T07:00:00+00:00,900,1")
    shop.book("unit-change", "2026-03-11T08:00")
    shop.run()
    shop.decide(shop.orders()[0].id, "ordered")
    shop.book("seal-change", "2026-03-11T08:00", facts=EURO_6)
    shop.book("oil-change", "2026-03-11T08:00")
    shop.book("seal-change", "2026-03-11T08:00", facts=EURO_5)
    shop.book("seal-change", "2026-03-11T08:00", registration="DEMO 99")
    shop.book("seal-change", "2026-03-11T08:00", facts=EURO_5, state="enquiry")
    report = shop.run()
    states = ["needs a person", "ready", "ready by stage", "ask first", "not ready", "enquiry"]
    assert [row.state for row in report.bookings] == states
    text = report_text(report, Paper())
    places = [text.index(f"{state.upper()}: 1 booking") for state in states]
    assert places == sorted(places)
    assert (shop.folder / "documents" / "2026-03-11" / "marl" / "report.txt").read_text("utf-8") == text


def test_pick_lists_of_bookings_that_went_away_go_too(shop: Shop) -> None:
    from datetime import timedelta

    from kitbuilder.store import bookings

    shop.receive("W-1", "9")
    first, second = shop.book("yard-wipe"), shop.book("yard-wipe", "2026-03-11T10:00")
    shop.run()
    assert f"2026-03-11/marl/pick-{first}.txt" in shop.documents()
    bookings.change(shop.store, first, NOW, state="cancelled")
    bookings.change(shop.store, second, NOW, start=NOW + timedelta(days=2), start_wall="2026-03-12T15:00:00")
    shop.run()
    assert not any("pick-" in name for name in shop.documents())
