"""The ways to one goal, added up by hand.

Labour at 90.00 an hour is 1.50 a minute; tax is 20 %. Oil: 1.5 L at 12.33 is 18.495, so 18.50 half up; the least,
1.2 L, is 14.796, so 14.80. Three clips at 10.00 a hundred are 0.30. In three worlds of four the gearbox is light.
"""

from fractions import Fraction
from pathlib import Path

import pytest

from kitbuilder.catalogue.edition import Edition
from kitbuilder.errors import BadData, LoadError, WrongUse
from kitbuilder.model.options import Choice, Options, Span, Way
from kitbuilder.vehicle.statements import TOLD, Statement
from kitbuilder.workshop.charges import Charges, half_up, priced, read_charges
from kitbuilder.workshop.options import choice_sheet, compare, wanted_of, ways_to
from tests.workshop.options_files import CHARGES, START, WHEN, edition_in

LIGHT = Statement("gearbox", "light", TOLD)
HEAVY = Statement("gearbox", "heavy", TOLD)
HERE = Statement("place", "workshop", TOLD)
YARD = Statement("place", "yard", TOLD)


@pytest.fixture(scope="module")
def edition(tmp_path_factory: pytest.TempPathFactory) -> Edition:
    return edition_in(tmp_path_factory.mktemp("ways"))


def ways(found: Options) -> dict[str, Way]:
    return {way.choice.job: way for way in found.ways}


def choice(edition: Edition, job: str, *told: Statement, charges: Charges = CHARGES) -> Choice:
    return ways(compare(edition, job, told, charges, WHEN))[job].choice


def test_jobs_that_share_a_goal_are_its_ways(edition: Edition) -> None:
    every = ("a working unit", ("repair", "exchange", "new"))
    assert ways_to(edition, "exchange") == ways_to(edition, "a working unit") == every
    assert ways_to(edition, "lift") == ("", ("lift",))
    with pytest.raises(WrongUse, match=r"neither a job nor a goal 'exchnge'\. Did you mean 'exchange'"):
        ways_to(edition, "exchnge")


def test_a_settled_exchange_adds_up(edition: Edition) -> None:
    sums = choice(edition, "exchange", LIGHT, HERE).sums
    # unit 1000.00, one shim of 2.00 or 3.50, oil 14.80 to 18.50; 135 minutes
    assert sums.parts == Span("1016.80", "1022.00")
    assert sums.small == Span("14.80", "18.50")
    assert sums.labour == Span("202.50", "202.50")
    assert sums.net == Span("1219.30", "1224.50")
    assert sums.tax == Span("243.86", "244.90")
    assert sums.total == Span("1463.16", "1469.40")
    assert sums.deposits == Span("250.00", "250.00")
    assert (sums.expected_extra, sums.expected_total) == ("0.00", sums.total)


def test_what_is_open_makes_the_least_and_the_most_of_the_sum(edition: Edition) -> None:
    sums = choice(edition, "exchange").sums
    # light in the workshop against heavy in the yard, where 20 minutes (30.00) and clips (0.30) come on top
    assert sums.parts == Span("1016.80", "1422.30")
    assert sums.labour == Span("202.50", "232.50")
    assert sums.net == Span("1219.30", "1654.80")
    assert sums.deposits == Span("250.00", "400.00")
    assert choice(edition, "exchange").hangs_on == ("gearbox", "place")


def test_sums_are_of_one_world_and_not_of_leasts_and_mosts(tmp_path: Path) -> None:
    # the dear unit goes with the short job: the extremes of parts and labour lie in different worlds
    edition = edition_in(
        tmp_path, ("jobs/unit.toml", 'change", clip = "change"', 'change"'),
        ("fits/unit.csv", "new,unit,U-9,,1,each,,,", "new,unit,U-1,,1,each,,,heavy\nnew,unit,S-1,,1,set,,,light"),
        ("jobs/unit.toml", 'roles = { jack = "open", unit = "change", oil = "close" }',
         'roles = { jack = "open", unit = "change", oil = "close" }\n'
         'includes = [{ job = "lift", stages = { "lift" = "open" }, when = { gearbox = "light" } }]'))
    sums = choice(edition, "new").sums
    assert sums.parts == Span("95.10", "1018.50")
    assert sums.labour == Span("202.50", "232.50")
    assert sums.net == Span("327.60", "1221.00")


def test_findings_are_counted_by_their_chance(edition: Edition) -> None:
    found = choice(edition, "repair", LIGHT, HERE)
    # beyond repair: unit 1000.00, a shim 2.00 to 3.50, and the 45 minutes that the repair hasn't: 67.50
    # the motor is used in half of the four in five in which the unit can be repaired
    assert [(one.finding, one.chance, one.adds, one.expected) for one in found.may_turn_out] == [
        ("beyond-repair", "0.2", Span("1069.50", "1071.00"), "214.20"),
        ("motor-worn", "0.4", Span("300.00", "300.00"), "120.00")]
    assert found.may_turn_out[0].turns_into == "Exchange the unit"
    assert found.may_turn_out[0].adds_total == Span("1283.40", "1285.20")
    assert found.sums.parts == Span("94.80", "98.50")
    assert found.sums.expected_extra == "334.20"
    # 94.80 + 270.00 + 334.20 = 699.00
    assert found.sums.expected_total == Span("838.80", "843.24")


def test_the_average_weighs_the_worlds(edition: Edition) -> None:
    # 3 in 4 light: 0.2 × 1071.00 + 0.4 × 300.00 = 334.20; 1 in 4 heavy: 0.2 × 1471.00 = 294.20, and no motor
    found = choice(edition, "repair", HERE)
    assert found.sums.expected_extra == "324.20"
    assert {one.finding: one.chance for one in found.may_turn_out} == {"beyond-repair": "0.2", "motor-worn": "0.3"}


def test_a_finding_that_turns_into_nothing_adds_its_own_lines_only(tmp_path: Path) -> None:
    edition = edition_in(tmp_path, ("roles.toml", 'turns_into = "exchange"\n', ""))
    found = choice(edition, "repair", LIGHT, HERE)
    assert found.may_turn_out[0].adds == Span("1000.00", "1000.00")
    assert found.may_turn_out[0].turns_into is None


def test_a_finding_can_t_turn_into_a_job_that_there_isn_t(tmp_path: Path) -> None:
    with pytest.raises(LoadError) as raised:
        edition_in(tmp_path, ("roles.toml", '"exchange"', '"exchang"'))
    (fault,) = raised.value.faults
    assert (fault.file, fault.column, fault.read) == (
        "roles.toml", "findings.beyond-repair.turns_into", "exchang")
    assert "did you mean 'exchange'" in fault.expected


def test_what_has_no_price_is_named_and_not_counted_as_nothing(edition: Edition) -> None:
    found = choice(edition, "new")
    assert found.unpriced == ("Unit, new",)
    assert [one.price for one in found.parts if one.name == "Unit, new"] == [None]
    # three clips and the oil
    assert found.sums.parts == Span("15.10", "18.80")


def test_a_finding_names_its_lines_without_a_price(tmp_path: Path) -> None:
    edition = edition_in(tmp_path, ("selling.csv", "M-1,300.00,\n", ""))
    assert {one.finding: one.unpriced for one in choice(edition, "repair", LIGHT).may_turn_out} == {
        "beyond-repair": (), "motor-worn": ("Pump motor",)}


def test_a_requirement_takes_the_first_acceptable_item_that_has_a_price(edition: Edition) -> None:
    (oil,) = [one for one in choice(edition, "new").parts if one.role == "oil"]
    assert (oil.item, oil.name, oil.amount, oil.unit, oil.price) == (
        "O-2", "Cheap oil", "1500", "mL", Span("14.80", "18.50"))


def test_tools_are_not_charged_and_advised_parts_stand_apart(edition: Edition) -> None:
    found = choice(edition, "exchange", LIGHT, HERE)
    assert {one.role for one in found.parts} == {"unit", "shims", "oil"}
    assert [(one.title, one.price, one.total) for one in found.advised] == [
        ("Filter", Span("25.00", "25.00"), Span("30.00", "30.00"))]


def test_deposits_say_by_when_the_old_unit_must_be_back(edition: Edition) -> None:
    (due,) = choice(edition, "exchange", LIGHT, HERE).deposits
    # 30 days from Tuesday 13 January, the day the work starts
    assert (due.deposit, due.tax, due.back_by, due.state, due.certainty, due.finding) == (
        "250.00", "0.00", "2026-02-12", ("drained", "boxed"), "certain", None)
    assert [(one.item, one.back_by, one.certainty) for one in choice(edition, "exchange").deposits] == [
        ("U-1", "2026-02-12", "possible"), ("U-2", None, "possible")]
    (due,) = choice(edition, "repair", LIGHT).deposits
    assert (due.item, due.certainty, due.finding) == ("U-1", "possible", "beyond-repair")


def test_the_house_may_tax_deposits_at_once(edition: Edition) -> None:
    found = choice(edition, "exchange", LIGHT, HERE, charges=Charges(9000, "20", "at once"))
    assert (found.deposits[0].deposit, found.deposits[0].tax) == ("250.00", "50.00")
    assert found.sums.deposits == Span("300.00", "300.00")


def test_without_a_rate_labour_is_not_counted_as_nothing_unsaid(edition: Edition) -> None:
    found = choice(edition, "exchange", LIGHT, HERE, charges=Charges())
    assert (found.sums.labour, found.sums.tax) == (None, None)
    assert {one.price for one in found.stages} == {None}
    assert [(one.name, one.least, one.most) for one in found.stages] == [
        ("open", 60, 60), ("change", 45, 45), ("close", 30, 30)]


def test_a_way_whose_kit_has_a_problem_says_so(tmp_path: Path) -> None:
    edition = edition_in(tmp_path, ("fits/unit.csv", "exchange,unit,U-2,,1,each,,,heavy\n", ""))
    found = ways(compare(edition, "new", (), CHARGES))
    assert [bool(found[job].problems) for job in ("repair", "exchange", "new")] == [False, True, False]
    assert "Unit" in found["exchange"].problems[0]


def test_sources_are_asked_for_what_a_way_turns_into_as_well(edition: Edition, tmp_path: Path) -> None:
    every = {one.item for one in wanted_of(edition, "exchange", (LIGHT,), WHEN, START)}
    assert every == {"J-1", "S-1", "M-1", "U-1", "U-9", "O-1", "O-2", "F-1", "H-1", "H-2", "C-1"}
    alone = edition_in(tmp_path, ("jobs/unit.toml", 'title = "Repair the unit"\ngoal = "a working unit"',
                                  'title = "Repair the unit"\ngoal = "a mended unit"'))
    # the shims are the exchange's
    assert {"H-1", "H-2"} <= {one.item for one in wanted_of(alone, "repair", (LIGHT,), WHEN, START)}


def test_the_choice_sheet_holds_the_choices_and_nothing_else(edition: Edition) -> None:
    found = compare(edition, "new", (LIGHT, HERE), CHARGES, WHEN)
    sheet = choice_sheet(found, CHARGES, "DEMO 001", START, WHEN)
    assert sheet.choices == tuple(way.choice for way in found.ways)
    assert (sheet.goal, sheet.vehicle, sheet.day, sheet.tax, sheet.all_there) == (
        "a working unit", "DEMO 001", "2026-01-13", "20", True)


@pytest.mark.parametrize("over, under, whole", [(0, 7, 0), (1, 2, 1), (3, 2, 2), (5, 2, 3), (4, 3, 1), (5, 3, 2)])
def test_money_is_rounded_half_up(over: int, under: int, whole: int) -> None:
    assert half_up(over, under) == whole


def test_prices_of_measured_units_are_exact() -> None:
    # 4.20 a hundred: one is 0.042, so 0.04; 12 are 0.504, so 0.50
    assert [priced(420, 100_000, "each", milli, "each") for milli in (1000, 12_000)] == [4, 50]
    assert priced(1980, 1000, "L", 250_000, "mL") == 495
    assert priced(1980, 1000, "L", 250, "L") == 495


def test_labour_and_tax_are_rounded_once_each() -> None:
    # 35 minutes at 92.35 an hour: 53.8708…; 5.5 % of 53.87: 2.96285
    charges = Charges(9235, "5.5")
    assert charges.labour(35) == 5387
    assert charges.tax_on(5387) == 296
    assert charges.with_tax(5387) == half_up(5387 * Fraction(1055, 1000).numerator, 200) == 5683


def test_charges_are_read_from_texts() -> None:
    assert read_charges("kitbuilder.toml", {"rate": "92.00", "tax": "20"}, "EUR") == Charges(9200, "20", "when kept")
    assert read_charges("kitbuilder.toml", {}, "EUR") == Charges()
    assert read_charges("k", {"rate": "92", "deposit_tax": "at once"}, "JPY") == Charges(92, "", "at once")


@pytest.mark.parametrize("table, said", [
    ({"rate": 92.0}, "rate = 92.0; expected what an hour costs in EUR as a text"),
    ({"rate": "92,00"}, "rate = '92,00'"), ({"rate": "92.001"}, "rate = '92.001'"),
    ({"rates": "92.00"}, "no key 'rates'. Did you mean 'rate'"),
    ({"tax": 20}, "tax = 20; expected per cent as a text"), ({"tax": "20 %"}, "tax = '20 %'"),
    ({"tax": ""}, "tax = ''"), ({"deposit_tax": "never"}, 'expected "when kept" or "at once"'),
    ("92.00", "expected a table [labour]"),
])
def test_charges_that_can_t_be_are_refused(table: object, said: str) -> None:
    with pytest.raises(BadData) as raised:
        read_charges("kitbuilder.toml", table, "EUR")
    assert said in str(raised.value)
