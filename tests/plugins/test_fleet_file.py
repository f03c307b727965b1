"""The fleet file as a vehicle register."""

import kitbuilder_fleet_file
import pytest

from kitbuilder import BadData, Context, Entry

FLEET = """\
registration,vin,emissions,note,gearbox
DEMO 001,000DEMTRK00000001,Euro V,kept at the yard,light
Ödeby-7 ß,,Euro VI,,
,000DEMTRK00000003,Euro III,no plates yet,
demo-001,,,,heavy
"""


def register(folder, text=FLEET, **settings):
    (folder / "fleet.csv").write_text(text, "utf-8")
    return kitbuilder_fleet_file.make(Context("fleet", {"file": "fleet.csv", **settings}, folder, "EUR"))


FIRST = Entry("DEMO 001", "000DEMTRK00000001",
              (("emissions", "Euro V", "fleet.csv line 2"), ("gearbox", "light", "fleet.csv line 2")))
SECOND = Entry("demo-001", "", (("gearbox", "heavy", "fleet.csv line 5"),))


@pytest.mark.parametrize("spelled", ["DEMO 001", "demo001", "Demo-001", " d e m o - 0 0 1 ", "DEMO.001"])
def test_a_registration_is_found_however_it_is_spelled_with_all_its_rows(tmp_path, spelled):
    assert register(tmp_path).find(spelled) == [FIRST, SECOND]


@pytest.mark.parametrize("spelled", ["000DEMTRK00000001", "000demtrk00000001", "000-DEMTRK-0000 0001"])
def test_a_vin_in_its_place_finds_the_rows_that_have_it(tmp_path, spelled):
    assert register(tmp_path).find(spelled) == [FIRST]


def test_letters_beyond_ascii_are_folded(tmp_path):
    [entry] = register(tmp_path).find("öDEBY7SS")
    assert entry == Entry("Ödeby-7 ß", "", (("emissions", "Euro VI", "fleet.csv line 3"),))


@pytest.mark.parametrize("nobody", ["DEMO 002", "DEMO 0001", "", " ", "-", "000DEMTRK00000003"])
def test_what_is_no_registration_of_the_file_finds_nothing(tmp_path, nobody):
    assert register(tmp_path).find(nobody) == []


def test_its_registrations_are_as_written_without_the_rows_that_have_none(tmp_path):
    assert list(register(tmp_path).registrations()) == ["DEMO 001", "Ödeby-7 ß", "demo-001"]


def test_it_is_read_anew_at_each_look(tmp_path):
    fleet = register(tmp_path)
    assert fleet.find("NEW 1") == []
    (tmp_path / "fleet.csv").write_text("registration\nNEW 1\n", "utf-8")
    assert fleet.find("new1") == [Entry("NEW 1", "", ())]


def test_a_file_that_cannot_be_read_says_so(tmp_path):
    with pytest.raises(BadData, match="a column 'registration'"):
        register(tmp_path, "reg,vin\nDEMO 001,\n").find("DEMO 001")
    fleet = register(tmp_path)
    (tmp_path / "fleet.csv").unlink()
    with pytest.raises(BadData, match=r"fleet\.csv can't be read: No such file"):
        fleet.find("DEMO 001")


@pytest.mark.parametrize(("settings", "words"), [
    ({"file": None}, 'file = "…"'), ({"path": "x"}, "only file, not path"),
])
def test_settings_it_cannot_use_are_refused(tmp_path, settings, words):
    with pytest.raises(ValueError, match=words):
        register(tmp_path, **settings)
