"""vin.csv and plates.csv: what is read, their faults, and how an edition carries them."""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kitbuilder.catalogue.cache import open_edition, read_edition
from kitbuilder.catalogue.folder import own_files
from kitbuilder.catalogue.vin import _first, _Meeting, _Vins
from kitbuilder.errors import Fault
from kitbuilder.model.catalogue import Condition
from kitbuilder.vehicle.plates import PlatePattern
from kitbuilder.vehicle.statements import settle
from kitbuilder.vehicle.values import union
from kitbuilder.vehicle.vin import VinPattern, of_vin, vin_places
from kitbuilder.vehicle.worlds import Space
from tests.catalogue.good_files import GOOD, content_of, faults_of

VIN = """\
pattern;serial;emissions;registered;wheelbase;note
000d[A-C]*;;before Euro VI;;;Place 5: engine
000DD*;up to 499999;Euro VI;from 2013-12-31;;
000-DD-*;from 500000;;;short;
"""
PLATES = """\
component,pattern,emissions,note
engine,E6-*,Euro VI,
engine,E[3-5] *,before Euro VI,Older ones
axle,E6-*,Euro III,Another component
"""


def files(vin: str = VIN, plates: str = PLATES) -> dict[str, str]:
    return {**GOOD, "vin.csv": vin, "plates.csv": plates}


def only(**changed: str) -> Fault:
    [found] = faults_of(files(**changed))
    return found


def test_rows_are_read_in_the_order_of_the_file() -> None:
    content, anything = content_of(files()), ("",) * 12
    assert content.vins == (
        VinPattern((*"000D", "ABC", *anything), (Condition("emissions", "before Euro VI"),), 2, None,
                   "Place 5: engine"),
        VinPattern((*"000DD", *anything),
                   (Condition("emissions", "Euro VI"), Condition("registered", "from 2013-12-31")), 3, ((0, 499999),)),
        VinPattern((*"000DD", *anything), (Condition("wheelbase", "short"),), 4, ((500000, 999999),)))
    assert content.plates == (
        PlatePattern("engine", "E6*", (Condition("emissions", "Euro VI"),), 2, "E6-*"),
        PlatePattern("engine", "E[345]*", (Condition("emissions", "before Euro VI"),), 3, "E[3-5] *", "Older ones"),
        PlatePattern("axle", "E6*", (Condition("emissions", "Euro III"),), 4, "E6-*", "Another component"))


def test_a_catalogue_without_them_tells_nothing_of_vins_and_plates() -> None:
    content = content_of(GOOD)
    assert (content.vins, content.plates) == ((), ())
    assert content_of(files("pattern,emissions\n", "component,pattern,emissions\n")).vins == ()


V, P = "pattern,serial,emissions,registered,wheelbase\n", "component,pattern,emissions,registered\n"


@pytest.mark.parametrize(("row", "column", "read", "words"), [
    (",,Euro VI,,", "pattern", "", "a pattern of VINs, such as"),
    ("000D,,Euro VI,,", "pattern", "000D", "a pattern of 17 places (this has 4), or of fewer with a * at the end"),
    ("00O*,,Euro VI,,", "pattern", "00O*", "without O, which no VIN has; is it a 0?"),
    ("000D*,,,,", "", "", "a cell for one fact at least"),
    ("000D*,,Euro 6,,", "emissions", "Euro 6", "emissions is one of: Euro III, Euro V, Euro VI"),
    ("000D*,100 - 200,Euro VI,,", "serial", "100 - 200", "the last 6 places of the VIN as a number"),
    ("000D*,000100,Euro VI,,", "serial", "000100", "100, written without zeros"),
    ("000D*,1000000,Euro VI,,", "serial", "1000000", "the largest is 999999"),
    ("000D*,200 to 100,Euro VI,,", "serial", "200 to 100", "100 to 200"),
    ("000DALSN00M[3-9]*,up to 299999,Euro VI,,", "serial", "up to 299999", "a serial that VINs of the pattern can"),
    ("000DALSN00MA*,100000,Euro VI,,", "serial", "100000", "a serial that VINs of the pattern can have"),
    ("000D*,,not Euro III or Euro V or Euro VI,,", "emissions", "not Euro III or Euro V or Euro VI", "leaves a value"),
    ("000D*,,Euro III,from 2009-10-01,", "emissions, registered", "", "that a vehicle of the combinations tables can"),
    ("000D*,not 0 to 999999,Euro VI,,", "serial", "not 0 to 999999", "a serial that VINs"),
])
def test_a_wrong_row_of_vin_csv_is_told_with_its_place(row: str, column: str, read: str, words: str) -> None:
    found = only(vin=V + row + "\n")
    assert (found.file, found.row, found.column, found.read) == ("vin.csv", 2, column, read)
    assert words in found.expected


@pytest.mark.parametrize(("row", "column", "read", "words"), [
    (",E6,Euro VI,", "component", "", "the component that has the plate"),
    ("a=b,E6,Euro VI,", "component", "a=b", "a name without an equals sign"),
    ("engine,,Euro VI,", "pattern", "", "a pattern of the numbers on its plates"),
    ("engine,-,Euro VI,", "pattern", "-", "something in it that a plate has"),
    ("engine,**,Euro VI,", "pattern", "**", "something in it that a plate has"),
    ("engine,E[6-3],Euro VI,", "pattern", "E[6-3]", "the earlier end first: 3-6"),
    ("engine,E6,,", "", "", "a cell for one fact at least"),
    ("engine,E6,Euro III,from 2009-10-01", "emissions, registered", "", "combinations tables"),
])
def test_a_wrong_row_of_plates_csv_is_told_with_its_place(row: str, column: str, read: str, words: str) -> None:
    found = only(plates=P + row + "\n")
    assert (found.file, found.row, found.column, found.read) == ("plates.csv", 2, column, read)
    assert words in found.expected


def test_facts_of_the_job_are_told_by_no_vehicle() -> None:
    found = only(vin="pattern,emissions,place\n000D*,Euro VI,workshop\n")
    assert (found.file, found.row, found.column) == ("vin.csv", 1, "place")
    assert "facts of the vehicle only" in found.expected
    assert only(plates="component,pattern,place\nengine,E6,workshop\n").file == "plates.csv"


def test_missing_and_mistyped_columns_are_told_once() -> None:
    assert only(vin="emissions,note\nEuro VI,\n").expected == "a column 'pattern'"
    assert only(vin="patern,emissions\n000D*,Euro VI\n").column == "patern"
    assert only(plates="pattern,emissions\nE6,Euro VI\n").expected == "a column 'component'"


def test_faults_of_both_files_and_others_come_together() -> None:
    broken = files(V + "000D*,x,Euro 9,,\n", P + "engine,],Euro VI,\n") | {
        "cautions.toml": GOOD["cautions.toml"] + "[cautions.x]\n"}
    assert {one.file for one in faults_of(broken)} == {"vin.csv", "plates.csv", "cautions.toml"}
    assert {one.column for one in faults_of(broken) if one.file == "vin.csv"} == {"serial", "emissions"}


# rows that contradict each other


@pytest.mark.parametrize(("one", "other", "witness"), [
    ("000D*,,Euro VI,,", "000DA*,,Euro V,,", "000DA000000000000"),
    ("000D?L*,,Euro VI,,", "000DA[K-M]*,,before Euro VI,,", "000DAL00000000000"),
    ("000D*,up to 500,Euro VI,,", "000D*,500 to 900,Euro V,,", "000D0000000000500"),
    ("000D*,up to 500,Euro VI,,", "000D*,,Euro V,,", "000D0000000000000"),
    ("000D???????[2-9]*,,Euro VI,,", "000D*,199999 to 200000,Euro V,,", "000D0000000200000"),
])
def test_two_rows_that_contradict_each_other_are_a_fault_with_a_vin(one: str, other: str, witness: str) -> None:
    for first, second in ((one, other), (other, one)):
        found = only(vin=V + first + "\n" + second + "\n")
        assert (found.row, found.column) == (3, "emissions")
        assert found.expected == (
            f"no contradiction to line 2, which says {first.split(',')[2]} of the same (such as {witness})")
    content_of(files(V + one + "\n"))
    content_of(files(V + other + "\n"))


@pytest.mark.parametrize(("one", "other"), [
    ("000D*,,Euro VI,,", "000E*,,Euro V,,"), ("000D[A-C]*,,Euro VI,,", "000D[!A-C]*,,Euro V,,"),
    ("000D*,up to 499,Euro VI,,", "000D*,from 500,Euro V,,"),
    ("000D???????[2-9]*,,Euro VI,,", "000D*,199998 to 199999,Euro V,,"),
    ("000D*,,Euro VI,,", "000D*,,,,from 4000"), ("000D*,,not Euro III,,", "000D*,,before Euro VI,,"),
])
def test_rows_of_which_no_vin_is_in_both_or_that_agree_are_none(one: str, other: str) -> None:
    assert faults_of(files(V + one + "\n" + other + "\n")) == []


def test_plates_of_one_component_contradict_each_other_and_those_of_two_do_not() -> None:
    found = only(plates=P + "engine,E*6,Euro VI,\nengine,*X6*,Euro V,\n")
    assert (found.row, found.column, found.read) == (3, "emissions", "Euro V")
    assert found.expected == "no contradiction to line 2, which says Euro VI of the same"
    assert faults_of(files(plates=P + "engine,E*6,Euro VI,\ngearbox,*X6*,Euro V,\n")) == []
    assert faults_of(files(plates=P + "engine,E5*,Euro VI,\nengine,E[!5]*,Euro V,\n")) == []


@given(st.lists(st.sets(st.sampled_from("0123456789AX"), min_size=1).map(frozenset), min_size=6, max_size=6),
       st.lists(st.tuples(st.integers(0, 999_999), st.integers(0, 3000)), max_size=3))
def test_the_first_serial_is_that_of_a_look_at_all(places: list[frozenset[str]], runs: list[tuple[int, int]]) -> None:
    serials = union((low, min(low + more, 999_999)) for low, more in runs)
    texts = (f"{number:06d}" for low, high in serials for number in range(low, high + 1))
    fitting = (text for text in texts if all(char in chars for char, chars in zip(text, places, strict=True)))
    assert _first(places, serials) == next(fitting, None)


@given(st.lists(st.lists(st.sampled_from(["A", "B", "?", "[AB]", "[!A]"]), min_size=2, max_size=2).map(
    lambda pieces: vin_places("".join(pieces) + "*")), max_size=6))
def test_rows_may_meet_that_share_a_character_at_every_place(rows: list[tuple[frozenset[str], ...]]) -> None:
    meeting = _Meeting([_Vins(places, None) for places in rows])
    for at, places in enumerate(rows):
        assert list(meeting.before(at)) == [
            other for other in range(at) if all(a & b for a, b in zip(places, rows[other], strict=True))]


def test_of_three_rows_of_which_only_all_together_leave_nothing_the_last_is_set_aside() -> None:
    cells = ("Euro III or Euro V", "Euro V or Euro VI", "Euro III or Euro VI")
    content = content_of(files(V + "".join(f"000D*,,{cell},,\n" for cell in cells)))
    space = Space(content.facts, content.joints)
    standing = settle(space, content.tables, of_vin(content.vins, "000DA000000000000"))
    assert [one.cell for one in standing.stands] == list(cells[:2])
    [warning] = standing.warnings
    assert warning == (
        "emissions = Euro III or Euro VI (vin.csv line 4) disagrees with emissions = Euro III or Euro V "
        "(vin.csv line 2) and emissions = Euro V or Euro VI (vin.csv line 3). Set aside.")


# editions


def write(folder: Path) -> Path:
    for path, text in files().items():
        (folder / path).parent.mkdir(parents=True, exist_ok=True)
        (folder / path).write_text(text, encoding="utf-8")
    return folder


def test_an_edition_carries_them_and_is_another_one_with_them(tmp_path: Path) -> None:
    folder = write(tmp_path / "catalogue")
    assert {"vin.csv", "plates.csv"} <= set(own_files(folder))
    content = content_of(files())
    first = open_edition(folder, tmp_path / "cache")
    again = open_edition(folder, tmp_path / "cache")
    for one in (first, again, read_edition(folder)):
        assert (one.vins, one.plates) == (content.vins, content.plates)
    assert [one.cell for one in of_vin(again.vins, "000DD000000000001")] == ["Euro VI", "from 2013-12-31"]
    (folder / "vin.csv").unlink()
    (folder / "plates.csv").unlink()
    without = open_edition(folder, tmp_path / "cache")
    assert (without.vins, without.plates) == ((), ())
    assert without.name != first.name
