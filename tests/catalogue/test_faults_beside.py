"""What is wrong with the files that say more of items and of what comes off, and with the columns for amounts."""

import pytest

from kitbuilder.catalogue.folder import own_files
from tests.catalogue.good_files import GOOD, changed, content_of, faults_of

MORE = {
    "exchange.csv": """\
item,deposit,days,state,arrives,circuit,note
U-1,450.00,30,drained and plugged,dry,unit,Keep the crate
""",
    "hazards.csv": """\
item,sheet,revised,signal,pictograms,statements,note
O-1,Oil sheet 3,2025-03-01,Warning,GHS07 and ghs 2,h315 and H302+H312,
""",
    "waste.csv": """\
job,role,what,code,amount,unit,emissions,registered,note
unit-replace,,Old pipe,16 01 17,,,,,
unit-replace,wipes,Oily wipes,15 02 02*,0.5,kg,Euro VI,,
,oil,Old oil,130205,1,L,,from 2013-12-31,drained
""",
    "selling.csv": """\
item,price,per,note
U-1,1450,,
O-1,12.40,0.5,
""",
}
ROLE = '[roles.oil]\ntitle = "Oil of the unit"\n'
WIPES = '[roles.wipes]\ntitle = "Wipes"\n'
FITS = """\
job,role,item,requirement,amount,least,unit,finding,otherwise,emissions,registered
unit-replace,unit,U-1,,1,,each,,,before Euro VI,
unit-replace,unit,P-1,,250,,mm,worn,,Euro VI,from 2013-12-31
,oil,,unit-oil,1,0.4,L,,,Euro VI,
,oil,nothing,,,,,,yes,,
,wipes,P-1,,1,,m,,,,
"""


def good() -> dict[str, str]:
    """A good catalogue with all of it: ports and weights, a fill to level, advised and select-fit roles."""
    files = changed(
        ("roles.toml", ROLE, f'{ROLE}fill = "top-up"\n'),
        ("roles.toml", WIPES, f"{WIPES}advised = true\nselect = 2\n"),
        ("items.csv", "codes;note", "codes;note;weight;ports"),
        ("items.csv", "Comes dry", "Comes dry;38.5;M14x1.5 and 2 m22 x 1.5"),
    )
    return {**files, "fits/unit.csv": FITS, **MORE}


def fault_in(file: str, old: str, new: str) -> list[tuple[str, int, str, str, str]]:
    """The faults once a text that stands there once is another."""
    files = good()
    assert files[file].count(old) == 1, f"{old!r} isn't once in {file}"
    files[file] = files[file].replace(old, new)
    return [(one.file, one.row, one.column, one.read, one.expected) for one in faults_of(files)]


def test_all_of_it_is_read():
    content = content_of(good())
    unit = content.items["U-1"]
    assert (unit.weight, [(one.thread, one.count) for one in unit.ports]) == (38500, [("M14x1.5", 1), ("M22x1.5", 2)])
    assert (content.roles["oil"].fill, content.roles["wipes"].advised, content.roles["wipes"].select) == (
        "top-up", True, 2)
    assert [(fit.amount, fit.least) for _, fit in content.fits if fit.requirement == "unit-oil"] == [(1000, 400)]
    one = content.exchanges["U-1"]
    assert (one.deposit, one.days, one.state, one.arrives, one.circuit, one.note, one.row) == (
        45000, 30, ("drained", "plugged"), "dry", "unit", "Keep the crate", 2)
    sheet = content.hazards["O-1"]
    assert (sheet.sheet, sheet.revised.isoformat(), sheet.signal) == ("Oil sheet 3", "2025-03-01", "warning")
    assert (sheet.pictograms, sheet.statements) == (("GHS02", "GHS07"), ("H302+H312", "H315"))
    assert [(price.price, price.per) for price in content.selling.values()] == [(145000, 1000), (1240, 500)]
    assert [(row.job, row.role, row.code, row.amount, row.unit) for row in content.wastes] == [
        ("unit-replace", "", "16 01 17", 0, ""), ("unit-replace", "wipes", "15 02 02*", 500, "kg"),
        ("", "oil", "13 02 05*", 1000, "L")]
    assert [one.cell for one in content.wastes[2].conditions] == ["from 2013-12-31"]
    assert content.wastes[2].note == "drained"


def test_a_change_of_any_of_them_is_a_change_of_the_catalogue(tmp_path):
    for path in (*MORE, "vin.csv", "plates.csv", "wastes.csv"):
        (tmp_path / path).write_text("x", encoding="utf-8")
    assert own_files(tmp_path) == sorted([*MORE, "vin.csv", "plates.csv"])


def test_ports_of_one_thread_are_counted_together():
    files = good()
    files["items.csv"] = files["items.csv"].replace("M14x1.5 and 2 m22 x 1.5", "M14x1.5 and 2 M14x1.5")
    assert [(one.thread, one.count) for one in content_of(files).items["U-1"].ports] == [("M14x1.5", 3)]


def test_least_is_shown_in_the_unit_of_its_amount():
    files = good()
    files["fits/unit.csv"] = files["fits/unit.csv"].replace(
        ",oil,,unit-oil,1,0.4,L,", ",oil,O-1,,1000,400,mL,")
    (fit,) = (fit for _, fit in content_of(files).fits if fit.role == "oil" and not fit.nothing)
    assert (fit.amount, fit.least, fit.unit) == (1000, 400, "L")


def test_a_catalogue_without_these_files_says_nothing_of_them():
    content = content_of(GOOD)
    assert (content.exchanges, content.hazards, content.selling, content.wastes) == ({}, {}, {}, ())


@pytest.mark.parametrize(
    ("file", "old", "new", "place", "words"),
    [
        ("exchange.csv", "U-1,450", "U-2,450", (2, "item", "U-2"), "did you mean 'U-1'?"),
        ("exchange.csv", "U-1,450", ",450", (2, "item", ""), "an item number"),
        ("exchange.csv", "crate\n", "crate\nU-1,,,,,,\n", (3, "item", "U-1"), "each item once (line 2 has it)"),
        ("exchange.csv", "450.00", "-450", (2, "deposit", "-450"), "a price as a decimal"),
        ("exchange.csv", "450.00", "4.505", (2, "deposit", "4.505"), "at most 2 decimal places in EUR"),
        ("exchange.csv", "30,", "a month,", (2, "days", "a month"), "whole days, 1 or more"),
        ("exchange.csv", ",30,", ",0,", (2, "days", "0"), "whole days, 1 or more"),
        ("exchange.csv", "drained and plugged", "drained and and plugged", (2, "state", "drained and and plugged"),
         "names with 'and' between them"),
        ("exchange.csv", ",dry,", ",fill,", (2, "arrives", "fill"), "did you mean 'filled'?"),
        ("exchange.csv", ",dry,", ",,", (2, "arrives", ""), "dry or filled, where a circuit is named"),
        ("exchange.csv", "dry,unit", "dry,box", (2, "circuit", "box"), "a circuit that a role names: one of unit"),
        ("exchange.csv", "dry,unit", "dry,", (2, "circuit", ""), "the circuit that the unit arrives dry or filled in"),
        ("exchange.csv", "arrives,", "arivves,", (1, "arivves", "arivves"), "did you mean 'arrives'?"),
        ("hazards.csv", "O-1,", "O-2,", (2, "item", "O-2"), "did you mean 'O-1'?"),
        ("hazards.csv", "Oil sheet 3", "", (2, "sheet", ""), "the name of the safety data sheet"),
        ("hazards.csv", "2025-03-01", "2025-02-30", (2, "revised", "2025-02-30"), "the day of"),
        ("hazards.csv", "2025-03-01", "1 March 2025", (2, "revised", "1 March 2025"), "the day of"),
        ("hazards.csv", ",Warning,", ",Danger!,", (2, "signal", "Danger!"), "a signal word"),
        ("hazards.csv", "GHS07 and ghs 2", "GHS07 and GHS10", (2, "pictograms", "GHS10"), "GHS01 to GHS09"),
        ("hazards.csv", "h315", "H999", (2, "statements", "H999"), "a hazard statement of CLP"),
        ("hazards.csv", "item,sheet", "item,shet", (1, "shet", "shet"), "did you mean 'sheet'?"),
        ("waste.csv", "unit-replace,,Old", "unit-repalce,,Old", (2, "job", "unit-repalce"),
         "did you mean 'unit-replace'?"),
        ("waste.csv", "unit-replace,,Old", ",,Old", (2, "role", ""), "a job, or a role with whose lines it comes off"),
        ("waste.csv", "unit-replace,wipes", "unit-replace,wips", (3, "role", "wips"), "did you mean 'wipes'?"),
        ("waste.csv", "unit-replace,wipes", "drain,wipes", (3, "role", "wipes"), "a role that drain lists, or none"),
        ("waste.csv", "Old pipe", "", (2, "what", ""), "what comes off, in words"),
        ("waste.csv", "16 01 17", "", (2, "code", ""), "a code of the European List of Waste"),
        ("waste.csv", "16 01 17", "16 01 17*", (2, "code", "16 01 17*"), "isn't hazardous"),
        ("waste.csv", "130205", "130299", (4, "code", "130299"), "European List of Waste"),
        ("waste.csv", "0.5,kg", "0,kg", (3, "amount", "0"), "a decimal more than zero"),
        ("waste.csv", "0.5,kg", "0.5,kilo", (3, "unit", "kilo"), "a unit"),
        ("waste.csv", "0.5,kg", "0.5,", (3, "unit", ""), "a unit"),
        ("waste.csv", "0.5,kg", ",kg", (3, "amount", ""), "a decimal more than zero"),
        ("waste.csv", "kg,Euro VI", "kg,Euro 6", (3, "emissions", "Euro 6"), "'Euro V'?"),
        ("waste.csv", "what,code", "what,coed", (1, "coed", "coed"), "did you mean 'code'?"),
        ("selling.csv", "U-1,", "U-7,", (2, "item", "U-7"), "U-1"),
        ("selling.csv", "1450", "", (2, "price", ""), "a price as a decimal"),
        ("selling.csv", "1450", "free", (2, "price", "free"), "a price as a decimal"),
        ("selling.csv", "12.40", "12.405", (3, "price", "12.405"), "at most 2 decimal places in EUR"),
        ("selling.csv", "0.5", "0", (3, "per", "0"), "a decimal more than zero"),
        ("selling.csv", "1450,", "1450,0.5", (2, "per", "0.5"), "a whole number of each"),
        ("selling.csv", "per,", "pre,", (1, "pre", "pre"), "did you mean 'per'?"),
        ("items.csv", "38.5", "38,5", (2, "weight", "38,5"), "kilograms: a decimal point: 38.5"),
        ("items.csv", "38.5", "0", (2, "weight", "0"), "kilograms: a decimal more than zero"),
        ("items.csv", "M14x1.5 and", "M14x1.6 and", (2, "ports", "M14x1.6"), "a pitch that ISO 261 has for M14"),
        ("items.csv", "2 m22 x 1.5", "0 M22x1.5", (2, "ports", "0 M22x1.5"), "at least one port of a thread"),
        ("items.csv", "2 m22 x 1.5", "two M22x1.5", (2, "ports", "two M22x1.5"), "or so many of them: 2 M14x1.5"),
        ("roles.toml", '"top-up"', '"topup"', (8, "roles.oil.fill", "topup"), "did you mean 'top-up'?"),
        ("roles.toml", "advised = true", 'advised = "yes"', (15, "roles.wipes.advised", "yes"), "true or false"),
        ("roles.toml", "select = 2", "select = 0", (16, "roles.wipes.select", "0"), "a whole number, 1 or more"),
        ("roles.toml", "select = 2", "select = true", (16, "roles.wipes.select", "true"), "a whole number, 1 or more"),
        ("roles.toml", 'fill = "top-up"', "select = 1", None,
         "of a role that takes at most one there is nothing to select from"),
        ("fits/unit.csv", "1,0.4,L", "1,1,L", (4, "least", "1"), "less than the amount, 1 L"),
        ("fits/unit.csv", "1,0.4,L", "1,0,L", (4, "least", "0"), "a decimal more than zero"),
        ("fits/unit.csv", "1,0.4,L", "1,some,L", (4, "least", "some"), "a decimal more than zero"),
        ("fits/unit.csv", "1,,each", "1,1,each", (2, "least", "1"), "unit is no fill (its role has no key fill)"),
        ("fits/unit.csv", "nothing,,,,", "nothing,,,0.4,", (5, "least", "0.4"), "nothing here beside 'nothing'"),
        ("fits/unit.csv", ",oil,,unit-oil,1,0.4,L", ",oil,U-1,,2,1,each", (4, "least", "1"),
         "each is counted, not filled to a level"),
        ("facts.toml", "[facts.place]", "[facts.what]", None, "column"),
        ("facts.toml", "[facts.place]", "[facts.least]", None, "column"),
    ],
)
def test_one_thing_wrong_is_one_fault_where_it_is(file, old, new, place, words):
    found = fault_in(file, old, new)
    if place is None:
        assert any(words in expected for *_, expected in found), found
        return
    assert [one[:4] for one in found] == [(file, *place)], found
    assert words in found[0][4]


def test_every_fault_of_a_load_is_told_together():
    files = good()
    wrong = (("exchange.csv", "450.00", "x"), ("hazards.csv", "h315", "H999"), ("waste.csv", "16 01 17", "99"),
             ("selling.csv", "12.40", "x"), ("items.csv", "38.5", "x"))
    for file, old, new in wrong:
        files[file] = files[file].replace(old, new)
    assert {one.file for one in faults_of(files)} == {
        "exchange.csv", "hazards.csv", "waste.csv", "selling.csv", "items.csv"}


def test_a_fact_may_be_named_like_a_column_that_no_fact_shares_a_sheet_with():
    files = {path: text.replace("place", "weight") for path, text in GOOD.items()}
    assert faults_of(files) == []
