"""Looking a vehicle up: registers that fail are named, the others and the kit go on."""

import json
import re
import shutil
from pathlib import Path

import pytest

from kitbuilder import Context, Entry, RegisterKind, WrongUse
from kitbuilder.plugins import Plugin, Plugins
from kitbuilder.settings import PluginSettings, Settings
from kitbuilder.vehicle.register import look_up
from kitbuilder.vehicle.statements import Statement
from tests.plugins.installed import HOLD, ROOT, install, kitbuilder

ENTRY = Entry("DEMO 001", "", (("emissions", "Euro V", "book 1"),))


class Says:
    """A register with fixed answers; a function is called for its answer."""

    def __init__(self, found, names=("DEMO 001",)):
        self.found, self.names = found, names

    def find(self, registration):
        return self.found() if callable(self.found) else self.found

    def registrations(self):
        return self.names() if callable(self.names) else self.names


def looked(*registers, registration="DEMO 001", deadline_s=5.0, brought=None):
    kinds = {str(at): (RegisterKind(str(at), "", lambda context, one=one: one), "a-stranger")
             for at, one in enumerate(registers)}
    settings = Settings(Path("/"), registers=tuple(
        PluginSettings(f"book-{at}", str(at), deadline_s, 24.0, {}) for at in range(len(registers))))
    return look_up(registration, settings, brought or Plugins((), {}, kinds), "EUR")


def raises(error):
    def call():
        raise error
    return call


REGISTER = "register"
FACTS = (Statement("emissions", "Euro V", REGISTER, "book 1"),)


def test_what_all_registers_know_is_put_together_in_their_order():
    other = Entry("demo001", "", (("gearbox", "light", "card 7"), ("emissions", "Euro VI", "card 7")))
    found = looked(Says([ENTRY]), Says((other, ENTRY)))
    assert found.statements == (
        *FACTS,
        Statement("gearbox", "light", REGISTER, "card 7"), Statement("emissions", "Euro VI", REGISTER, "card 7"),
        *FACTS)
    assert (found.warnings, found.failed) == ((), False)


@pytest.mark.parametrize(("found", "words"), [
    (raises(RuntimeError("no book")), "RuntimeError: no book"),
    (raises(SystemExit(1)), "SystemExit: 1"),
    (None, "it answered NoneType, expected a list of Entry"),
    ({}, "it answered dict, expected a list of Entry"),
    ("DEMO 001", "it answered str, expected a list of Entry"),
    (ENTRY, "it answered Entry, expected a list of Entry"),
    ([{"registration": "DEMO 001", "vin": "", "cells": []}], "expected a list of Entry"),
    ([Entry("DEMO 001", None, ())], "an Entry that is not one"),
    ([Entry("DEMO 001", "", (("emissions", "Euro V"),))], "an Entry that is not one"),
    ([Entry("DEMO 001", "", (("wheelbase", 3600, "book 1"),))], "an Entry that is not one"),
    ([Entry("DEMO 001", "", None)], "an Entry that is not one"),
])
def test_a_register_that_raises_or_answers_rubbish_is_named_and_the_next_is_asked(found, words):
    result = looked(Says(found), Says([ENTRY]))
    assert result.failed
    assert result.statements == FACTS
    [warning] = result.warnings
    assert warning.startswith("The register book-0 failed: 0 of a-stranger: ")
    assert words in warning
    assert warning.endswith("; what it knows is missing.")


def test_a_register_that_hangs_is_left_at_its_deadline():
    HOLD.clear()
    try:
        result = looked(Says(lambda: HOLD.wait(60)), Says([ENTRY]), deadline_s=0.3)
    finally:
        HOLD.set()
    assert result.statements == FACTS
    assert result.warnings == (
        "The register book-0 failed: 0 of a-stranger: no answer within 0.3 s; what it knows is missing.",)


def test_a_list_of_registrations_that_hangs_or_raises_is_a_failure_too():
    assert "no list" in looked(Says([], raises(OSError("no list")))).warnings[0]


def test_a_register_that_nobody_brings_is_named_with_what_failed_to_load():
    brought = Plugins((Plugin("cards", "card-box", "2", (), "OSError: no box"),), {}, {})
    result = looked(Says([ENTRY]), brought=brought)
    assert result.failed
    assert "The register book-0 failed: no plug-in brings '0'" in result.warnings[0]
    assert "cards of card-box failed: OSError: no box" in result.warnings[0]


def test_settings_that_the_kind_refuses_are_told_with_their_table():
    def make(context: Context):
        raise ValueError("file = \"…\"")

    brought = Plugins((), {}, {"0": (RegisterKind("0", "", make), "a-stranger")})
    assert looked(Says([]), brought=brought).warnings == (
        "The register book-0 failed: 0 of a-stranger: in [registers.book-0] it expected file = \"…\"; "
        "what it knows is missing.",)


@pytest.mark.parametrize(("asked", "words"), [
    ("demo-002", "Did you mean 'DEMO 001'?"), ("DEM0 001", "Did you mean 'DEMO 001'?"),
    ("xyz", "Expected one of DEMO 001, QRS 9."),
])
def test_a_registration_that_nobody_knows_is_wrong_use_and_the_nearest_is_named(asked, words):
    with pytest.raises(WrongUse) as told:
        looked(Says([], ["DEMO 001"]), Says([], ["QRS 9"]), registration=asked)
    assert str(told.value) == f"No register knows the registration {asked!r}. {words}"


def test_a_vehicle_of_which_only_the_registration_is_known_is_known():
    result = looked(Says([Entry("DEMO 001", "", ())]))
    assert (result.statements, result.warnings, result.failed) == ((), (), False)


def test_without_a_register_it_is_told_how_to_have_one():
    with pytest.raises(WrongUse, match=r"\[registers.NAME\]"):
        looked()


# the same through the command line


@pytest.fixture
def shop(tmp_path):
    """A workshop with the demo catalogue and a fleet file of its own."""
    shutil.copytree(ROOT / "demo_catalog", tmp_path / "catalogue")
    (tmp_path / "kitbuilder.toml").write_text(
        'catalogue = "catalogue"\n[registers.fleet]\nplugin = "fleet-file"\nfile = "fleet.csv"\n', "utf-8")
    (tmp_path / "fleet.csv").write_text(
        "registration,vin,emissions,gearbox,colour,axles,registered\n"
        "DEMO 201,000DEMTRK00000201,Euro V,Osmerby manual 9,red,4x2,2010-03-17\n"
        "DEMO 202,,Euro 9,Osmerby manual 9,,4x2,2010-02-30\n"
        "DEMO 203,,Euro V,,,,\n"
        "demo203,,Euro VI,Osmerby manual 6,,,\n", "utf-8")
    return tmp_path


def kit(shop, registration, *words, path=None):
    answer = kitbuilder(shop, "kit", "gearbox-oil-change", "--vehicle", registration, "--json", *words, path=path)
    built = json.loads(answer.stdout) if answer.stdout else None
    facts = {one["fact"]: (one["values"], one["source"]) for one in built["facts"]} if built else {}
    return answer, built, facts


def test_the_register_tells_facts_and_an_unknown_column_is_set_aside_with_file_and_row(shop):
    answer, built, facts = kit(shop, "demo201")
    assert answer.returncode == 0, answer.stderr
    assert facts["gearbox"] == (["Osmerby manual 9"], "register")
    assert facts["registered"] == (["2010-03-17"], "register")
    [warning] = built["warnings"]
    assert "colour" in warning
    assert "fleet.csv line 2" in warning
    assert "fleet.csv line 2" in " ".join(answer.stderr.split())


def test_cells_that_cannot_be_read_are_set_aside_and_the_others_stand(shop):
    answer, built, facts = kit(shop, "DEMO 202")
    assert answer.returncode == 0, answer.stderr
    assert facts["gearbox"] == (["Osmerby manual 9"], "register")
    assert facts["axles"] == (["4x2"], "register")
    assert facts["emissions"][1] != "register"
    assert facts["registered"][1] != "register"
    assert sorted(fact for fact in ("emissions", "registered") for warning in built["warnings"]
                  if fact in warning and "fleet.csv line 3" in warning) == ["emissions", "registered"]


def test_of_two_rows_that_disagree_the_first_stands_and_the_second_is_told(shop):
    answer, built, facts = kit(shop, "DEMO 203")
    assert answer.returncode == 0, answer.stderr
    assert facts["emissions"] == (["Euro V"], "register")
    assert facts["gearbox"] == (["Osmerby manual 6"], "register")
    [warning] = built["warnings"]
    assert "emissions = Euro VI (fleet.csv line 5) disagrees with" in warning
    assert "fleet.csv line 4" in warning


def test_an_unknown_registration_ends_with_2_and_the_nearest(shop):
    answer, built, _ = kit(shop, "DEMO 204")
    assert (answer.returncode, built, answer.stdout) == (2, None, "")
    assert re.fullmatch("No register knows the registration 'DEMO 204'. Did you mean 'DEMO 20[1-3]'[?]",
                        " ".join(answer.stderr.split()))
    assert kit(shop, "")[0].returncode == 2


def test_a_register_that_fails_leaves_a_kit_with_a_warning_and_ends_with_4(shop):
    (shop / "fleet.csv").unlink()
    answer, built, facts = kit(shop, "DEMO 201")
    assert answer.returncode == 4
    assert built["lines"]
    assert facts["gearbox"][1] == "open"
    [warning] = built["warnings"]
    assert "The register fleet failed: fleet-file of kitbuilder: fleet.csv can't be read" in warning


def test_one_that_hangs_leaves_a_kit_too_and_what_others_know(shop):
    site = shop / "site"
    site.mkdir()
    install(site, "card_box", """
import time
from kitbuilder import RegisterKind, hookimpl

class Cards:
    def find(self, registration):
        print("looking through the cards")
        time.sleep(600)

@hookimpl
def vehicle_registers():
    return [RegisterKind("cards", "hangs", lambda context: Cards())]
""")
    with (shop / "kitbuilder.toml").open("a", encoding="utf-8") as file:
        file.write('[registers.box]\nplugin = "cards"\ndeadline_s = 0.3\n')
    answer, built, facts = kit(shop, "DEMO 201", path=site)
    assert answer.returncode == 4
    assert facts["gearbox"] == (["Osmerby manual 9"], "register")
    assert any("The register box failed: cards of card-box: no answer within 0.3 s" in one for one in built["warnings"])
    assert "looking through the cards" in answer.stderr
