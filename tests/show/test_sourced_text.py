"""What sourcing weighed, in words."""

import pytest

from kitbuilder.model.plan import Allocation, Fares, Gap, Lost, Otherwise, Value
from kitbuilder.show.sourced import Terms, cost_words, gap_words, lost_words, span_words

NOTHING = Value(*[0] * len(Value.__struct_fields__))
LATE = Value(0, 0, 0, 1, 0, 7200, 0, 0, 9000, 0, 0, 0, 0)


def terms(value: Value, *vor: int) -> Terms:
    return Terms(value, "EUR", vor, {"1/seal": "2 each Seal (S-5)"}, {"1/seal": 1, "2/seal": 2, "3/seal": 3})


def other(value: Value, worse_in: str, by: int, *fares: Fares) -> Otherwise:
    return Otherwise((), value, worse_in, by, fares)


def changed(value: Value, **fields: int) -> Value:
    return Value(**{**{name: getattr(value, name) for name in value.__struct_fields__}, **fields})


@pytest.mark.parametrize("seconds, told", [
    (1, "1 min"), (60, "1 min"), (61, "2 min"), (7140, "119 min"), (7200, "2 h"), (7260, "2 h 1 min"),
    (172_740, "47 h 59 min"), (172_800, "2 days"), (180_000, "2 days 2 h"), (172_800 + 23 * 3600 + 1800, "3 days")])
def test_time_is_told_in_minutes_begun_and_from_two_days_on_in_days(seconds: int, told: str) -> None:
    assert span_words(seconds) == told


@pytest.mark.parametrize("gap, told", [
    (Gap("short_vor", 1, 0), "up to 1 of 1 VOR booking may not have to be short"),
    (Gap("not_on_time", 5, 3), "up to 2 of 5 bookings may not have to be late or short"),
    (Gap("delay_s", 9000, 6600), "the total delay may be up to 40 min less than planned"),
    (Gap("delay_vor_s", 9000, 0), "the total delay of VOR bookings may be up to 2 h 30 min less than planned"),
    (Gap("missing", 3, 2), "up to 1 of 3 lines may not have to stay unfilled"),
    (Gap("money", 9000, 7760), "it may cost up to 12.40 EUR less than planned"),
    (Gap("changes", 2, 0), "up to 2 of 2 holds may not have to be moved")])
def test_a_gap_says_which_level_and_by_how_much_at_most(gap: Gap, told: str) -> None:
    assert gap_words(gap, "EUR") == told


def test_every_level_has_words() -> None:
    for field in Value.__struct_fields__:
        worse = changed(LATE, **{field: getattr(LATE, field) + 1})
        assert gap_words(Gap(field, 2, 1), "EUR")
        assert cost_words(other(worse, field, 1), terms(LATE))
        lost = Lost(1, 60, ("1/seal",), "on time", other(worse, field, 1))
        assert lost_words(lost, terms(LATE))[-1].startswith("Were it on time, ")


@pytest.mark.parametrize("otherwise, told", [
    (other(changed(LATE, money=10_240), "money", 1240), "12.40 EUR more"),
    (other(changed(LATE, delay_s=18_000), "delay_s", 10_800, Fares(17, 7200, 18_000)), "booking 17 would be 3 h later"),
    (other(changed(LATE, not_on_time=2, delay_s=18_000, money=8000), "not_on_time", 1, Fares(17, 0, 10_800)),
     "booking 17 would be 3 h late, for 10.00 EUR less"),
    (other(changed(LATE, short=1), "short", 1, Fares(17, 7200, None), Fares(18, 7200, 0)), "booking 17 would be short"),
    (other(changed(LATE, lots=1), "lots", 1), "no dearer, but a later lot would be used up first"),
    (other(LATE, "", 0), "as good")])
def test_what_another_way_costs_is_told_by_the_first_level_that_is_worse(otherwise: Otherwise, told: str) -> None:
    assert cost_words(otherwise, terms(LATE)) == told


def taken(*bookings: int) -> tuple[Allocation, ...]:
    return tuple(Allocation(f"{one}/seal", "shelf", "S-5", "", "now", 1000) for one in bookings)


def test_a_booking_that_lost_says_to_whom_and_by_which_level() -> None:
    value = changed(LATE, not_on_time_vor=1, not_on_time=0)
    worse = other(value, "not_on_time_vor", 1, Fares(1, 7200, 0), Fares(2, 0, 7200))
    assert lost_words(Lost(1, 7200, ("1/seal",), "on time", worse, taken(2)), terms(LATE, 2)) == [
        "It is 2 h late for want of 2 each Seal (S-5), which went to booking 2 (VOR).",
        "Were it on time, 1 VOR booking would be late or short instead of none: booking 2 (VOR) would be 2 h late."]


def test_two_late_instead_of_one_are_counted() -> None:
    lost = Lost(1, 7200, ("1/seal",), "on time", other(
        changed(LATE, not_on_time=2), "not_on_time", 1, Fares(1, 7200, 0), Fares(2, 0, 7200), Fares(3, 0, 7200)),
        taken(2, 3))
    assert lost_words(lost, terms(LATE))[-1] == (
        "Were it on time, 2 bookings would be late or short instead of 1: booking 2 would be 2 h late and booking 3 "
        "would be 2 h late.")


def test_what_cant_be_on_time_says_what_it_would_take_to_be_sooner_or_whole() -> None:
    worse = other(changed(LATE, delay_s=9000), "delay_s", 1800, Fares(1, 7200, 3600), Fares(2, 0, 5400))
    assert lost_words(Lost(1, 7200, ("1/seal",), "sooner", worse, taken(2)), terms(LATE))[-1] == (
        "It can't be on time, whatever other bookings go without. Were it sooner, all bookings together would be 30 "
        "min later: booking 2 would be 90 min late.")
    whole = Lost(1, None, ("1/seal",), "whole", other(LATE, "", 0, Fares(1, None, 0), Fares(2, 0, None)), taken(2))
    assert lost_words(whole, terms(LATE))[-1].endswith(
        "Were it not short, the plan would be as good: booking 2 would be short.")


def test_where_bookings_are_served_as_well_it_says_that_something_finer_decided() -> None:
    other_is_short = other(LATE, "", 0, Fares(1, None, 0), Fares(2, 0, None))
    lost = Lost(1, None, ("1/seal",), "on time", other_is_short, taken(2), tied=True)
    assert lost_words(lost, terms(LATE))[-1] == (
        "Were it on time, bookings would be served as well: booking 2 would be short. Cost, or something finer, "
        "decided.")


def test_of_several_that_fare_worse_those_are_named_that_have_what_it_wants() -> None:
    worse = other(changed(LATE, short=1), "short", 1, Fares(1, 7200, 0), Fares(2, 0, None), Fares(9, 0, None))
    assert lost_words(Lost(1, 7200, ("1/seal",), "on time", worse, taken(2)), terms(LATE))[-1] == (
        "Were it on time, 1 booking would be short instead of none: booking 2 would be short.")


def test_what_nothing_brings_and_what_was_not_worked_out_say_so() -> None:
    assert lost_words(Lost(1, None, ("1/seal",), "none", None), terms(NOTHING)) == [
        "Nothing that was offered brings 2 each Seal (S-5), whatever other bookings go without."]
    assert lost_words(Lost(1, 3600, ("1/seal",), "none", None), terms(LATE)) == [
        "Nothing that was offered brings 2 each Seal (S-5) any sooner, whatever other bookings go without: it is 60 "
        "min late."]
    assert lost_words(Lost(1, 3600, ("1/seal",), "on time", None, worked_out=False), terms(LATE)) == [
        "Why it is 60 min late was not worked out in time."]


def test_of_many_bookings_the_first_are_named_and_the_rest_counted() -> None:
    many = Terms(LATE, "EUR", (), {}, {})
    worse = other(changed(LATE, short=6), "short", 6, *(Fares(number, 0, None) for number in range(1, 8)))
    assert cost_words(worse, many).endswith("booking 4 would be short and 3 other bookings would fare worse")
