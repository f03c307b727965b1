"""`kitbuilder stock scan` as a process: what is read, what is booked in, and that a doubtful delivery isn't."""

import json

from kitbuilder.model.delivery_note import Scanned
from tests.cli.running import run
from tests.cli.test_stock import folder  # noqa: F401 - a fixture

UNIT = "02077000401371"
GOOD = f"]d201{UNIT}\x1d\n(01){UNIT}(10)L7(17)270630(37)3\n"


def scanned(folder, text, *words):  # noqa: F811
    (folder / "scans.txt").write_text(text)
    return run(folder, "stock", "scan", "scans.txt", *words)


def there(folder):  # noqa: F811
    return [(lot["item"], lot["lot"], lot["bin"], lot["on_hand"], lot["use_by"])
            for lot in json.loads(run(folder, "stock", "list", "--json").out)["lots"]]


def test_without_a_bin_it_is_only_read(folder):  # noqa: F811
    answer = scanned(folder, GOOD)
    assert (answer.code, answer.err, answer.out) == (0, "", (
        "Read, and not booked in: 2 rows\n"
        "  - 1 each of TH-10110 (Actuator unit, Tarnholt light 6 early, exchange)\n"
        "  - 3 each of TH-10110 (Actuator unit, Tarnholt light 6 early, exchange), lot\n    L7, use by 2027-06-30\n"))
    assert there(folder) == []


def test_with_a_bin_it_is_booked_in(folder):  # noqa: F811
    answer = scanned(folder, GOOD, "--bin", "A-01", "--json")
    assert (answer.code, answer.err) == (0, "")
    told = json.loads(answer.out)
    assert (told["format"], told["bin"], len(told["note"]["rows"])) == ("kitbuilder.scanned/1", "A-01", 2)
    assert set(told) == set(Scanned.__struct_fields__) - {"note_number", "against"}, "it came for no order"
    assert sorted(there(folder)) == [
        ("TH-10110", "", "A-01", "1", None), ("TH-10110", "L7", "A-01", "3", "2027-06-30")]


def test_while_a_line_cannot_be_taken_nothing_is_booked_in(folder):  # noqa: F811
    answer = scanned(folder, GOOD + "9780471117094\n", "--bin", "A-01")
    assert answer.code == 1
    assert "line 3, 9780471117094: no item of the catalogue has the code" in " ".join(answer.out.split())
    assert there(folder) == []


def test_what_is_past_its_day_is_warned_of(folder):  # noqa: F811
    answer = scanned(folder, f"(01){UNIT}(17)260309\n")
    assert "The use-by 2026-03-09 of TH-10110 has passed" in " ".join(answer.err.split())


def test_a_file_that_is_not_there_and_an_empty_bin_are_told(folder):  # noqa: F811
    assert run(folder, "stock", "scan", "gone.txt").code == 3
    assert scanned(folder, GOOD, "--bin", " ").code == 2
    empty = scanned(folder, "\n", "--order", "999", "--bin", "F-01")
    assert (empty.code, "has no scan in it; expected one on each line." in empty.said) == (3, True)
    assert there(folder) == []
