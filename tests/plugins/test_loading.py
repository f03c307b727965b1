"""Plug-ins that misbehave while they load: each is one named row, and the rest goes on."""

import json
import threading

import pytest

from kitbuilder.errors import SourceFailed
from kitbuilder.plugins import load_plugins
from tests.plugins.installed import GOOD, HOLD, install, kitbuilder, points

HOOK = "from kitbuilder import RegisterKind, SourceKind, hookimpl\n@hookimpl\ndef stock_sources():\n    "

#: What a plug-in's module says, and what its row must say.
BROKEN = {
    "raises": ("raise RuntimeError('the chalk\\n  is gone')", "RuntimeError: the chalk is gone"),
    "leaves": ("raise SystemExit(3)", "SystemExit: 3"),
    "is interrupted": ("raise KeyboardInterrupt", "KeyboardInterrupt"),
    "raises a base exception": ("class Odd(BaseException): pass\nraise Odd('so odd')", "Odd: so odd"),
    "raises an error that can't be told": (
        "class Mute(Exception):\n    def __str__(self): raise SystemExit\nraise Mute", "Mute"),
    "raises an error of ours": ("from kitbuilder import BadData\nraise BadData('No chalk.')", "No chalk"),
    "imports what isn't there": ("import chalk_that_is_not_there", "No module named 'chalk_that_is_not_there'"),
    "isn't Python": ("def (", "SyntaxError"),
    "has a hook that raises": (HOOK + "raise OSError('wet board')", "OSError: wet board"),
    "has a hook that leaves": (HOOK + "raise SystemExit", "SystemExit"),
    "returns nothing": (HOOK + "pass", "stock_sources returned NoneType, expected a list of SourceKind"),
    "returns a dict": (HOOK + "return {}", "stock_sources returned dict, expected a list of SourceKind"),
    "returns text": (HOOK + "return 'chalk'", "stock_sources returned str, expected a list of SourceKind"),
    "yields": (HOOK + "yield SourceKind('chalk', '', print)", "returned generator, expected a list of SourceKind"),
    "returns one alone": (HOOK + "return SourceKind('chalk', '', print)", "returned SourceKind, expected a list"),
    "returns names": (HOOK + "return ['chalk']", "returned a list with str, expected SourceKind only"),
    "returns the other kind": (
        HOOK + "return [RegisterKind('chalk', '', print)]", "a list with RegisterKind, expected SourceKind only"),
    "returns the class": (HOOK + "return [SourceKind]", "returned a list with StructMeta, expected SourceKind only"),
    "has a number for a name": (HOOK + "return [SourceKind(7, '', print)]", "SourceKind with wrong types inside"),
    "has a list for a name": (HOOK + "return [SourceKind([], '', print)]", "SourceKind with wrong types inside"),
    "has no name": (HOOK + "return [SourceKind('', '', print)]", "SourceKind with wrong types inside"),
    "has no maker": (HOOK + "return [SourceKind('chalk', '', None)]", "SourceKind with wrong types inside"),
    "has a hook that there isn't": (
        "from kitbuilder import hookimpl\n@hookimpl\ndef stock_source():\n    return []",
        "there is no hook 'stock_source'; expected a known name; did you mean 'stock_sources'?"),
    "has a hook that wants something": (
        "from kitbuilder import hookimpl\n@hookimpl\ndef stock_sources(context):\n    return []",
        "Argument(s) {'context'} are declared in the hookimpl but can not be found in the hookspec"),
    "forgot the mark": ("def vehicle_registers():\n    return []", "vehicle_registers is not marked with @hookimpl"),
}


@pytest.mark.parametrize("how", BROKEN)
def test_a_plugin_that_fails_is_a_named_row_and_the_next_one_loads(how, site):
    source, words = BROKEN[how]
    install(site, "a_stranger", source, version="0.7")
    install(site, "b_good", GOOD.format(kind="slate"))
    found = load_plugins(points(site))
    bad, good = found.rows
    assert (bad.name, bad.distribution, bad.version, bad.registers) == ("a-stranger", "a-stranger", "0.7", ())
    assert words in bad.error
    assert "\n" not in bad.error
    assert (good.name, good.distribution, good.version, good.registers, good.error) == (
        "b-good", "b-good", "1.2.3", ("slate",), "")
    assert list(found.sources) == ["slate"]
    assert found.registers == {}


@pytest.mark.parametrize("source", [
    "from tests.plugins.installed import HOLD\nHOLD.wait(60)\n" + GOOD.format(kind="late"),
    "from tests.plugins.installed import HOLD\n" + HOOK + "HOLD.wait(60)\n    return []",
    "from tests.plugins.installed import HOLD\n"
    "class Slow(Exception):\n    def __str__(self): HOLD.wait(60); return ''\nraise Slow",
], ids=["import", "hook", "its error's text"])
def test_one_that_hangs_is_left_behind_at_the_deadline(source, site):
    install(site, "a_hangs", source)
    install(site, "b_good", GOOD.format(kind="slate"))
    before = threading.active_count()
    found = load_plugins(points(site), deadline_s=0.3)
    assert not HOLD.is_set()
    assert threading.active_count() == before + 1
    assert [(row.name, row.error) for row in found.rows] == [("a-hangs", "no answer within 0.3 s"), ("b-good", "")]
    assert list(found.sources) == ["slate"]


def test_an_entry_point_to_nothing_is_a_named_row(site):
    install(site, "a_points", GOOD.format(kind="slate"), value="a_points:board")
    [row] = load_plugins(points(site)).rows
    assert (row.name, row.distribution) == ("a-points", "a-points")
    assert row.error == "AttributeError: module 'a_points' has no attribute 'board'"


def test_a_plugin_may_be_an_object_behind_the_entry_point(site):
    source = """
from kitbuilder import SourceKind, hookimpl

class Board:
    @hookimpl
    def stock_sources(self):
        return [SourceKind("slate", "", print)]

board = Board()
"""
    install(site, "a_points", source, value="a_points:board")
    found = load_plugins(points(site))
    assert [row.error for row in found.rows] == [""]
    assert list(found.sources) == ["slate"]


def test_of_kinds_with_one_name_the_first_stands_and_the_other_kinds_of_the_second_too(site):
    install(site, "a_first", GOOD.format(kind="slate"), version="1")
    two = HOOK + "return [SourceKind('slate', '', print), SourceKind('chalk', '', print)]"
    install(site, "b_second", two, version="2")
    found = load_plugins(points(site))
    assert [(row.name, row.registers, row.error) for row in found.rows] == [
        ("a-first", ("slate",), ""), ("b-second", ("chalk",), "'slate' is registered by a-first already")]
    assert {name: of for name, (_, of) in found.sources.items()} == {"slate": "a-first", "chalk": "b-second"}
    assert found.sources["slate"][0].help == "an invented one"


def test_a_plugin_that_registers_a_kind_twice_is_told(site):
    install(site, "a_twice", HOOK + "return [SourceKind('slate', '1', print), SourceKind('slate', '2', print)]")
    found = load_plugins(points(site))
    assert [(row.registers, row.error) for row in found.rows] == [
        (("slate",), "'slate' is registered by a-twice already")]
    assert found.sources["slate"][0].help == "1"


def test_a_source_and_a_register_may_share_a_name(site):
    both = GOOD.format(kind="slate") + (
        "\nfrom kitbuilder import RegisterKind\n@hookimpl\ndef vehicle_registers():\n"
        "    return [RegisterKind('slate', '', print)]\n")
    install(site, "a_both", both)
    found = load_plugins(points(site))
    assert [(row.registers, row.error) for row in found.rows] == [(("slate", "slate"), "")]
    assert list(found.sources) == list(found.registers) == ["slate"]


def test_an_unknown_hook_that_is_marked_optional_is_left_alone(site):
    later = "\n@hookimpl(optionalhook=True)\ndef moon_phases(): return []\n"
    install(site, "a_later", GOOD.format(kind="slate") + later)
    assert [(row.registers, row.error) for row in load_plugins(points(site)).rows] == [(("slate",), "")]


def test_what_is_printed_while_loading_goes_to_standard_error(site, capsys):
    install(site, "a_talks", "print('good morning')\n" + GOOD.format(kind="slate"))
    load_plugins(points(site))
    printed = capsys.readouterr()
    assert (printed.out, printed.err) == ("", "good morning\n")


def test_a_kind_that_nobody_brings_is_told_with_the_nearest_and_with_what_failed(site):
    install(site, "a_broken", "raise RuntimeError('no chalk')")
    install(site, "b_good", GOOD.format(kind="slate"))
    found = load_plugins(points(site))
    assert found.source("slate")[1] == "b-good"
    with pytest.raises(SourceFailed) as told:
        found.source("slates")
    assert "no plug-in brings 'slates'" in str(told.value)
    assert "'slate'" in str(told.value)
    assert "a-broken of a-broken failed: RuntimeError: no chalk" in str(told.value)
    with pytest.raises(SourceFailed, match="no plug-in brings 'slate'"):
        found.register("slate")


def test_the_command_shows_a_failed_plugin_beside_the_bundled_ones_and_stays_one_json_value(site):
    install(site, "a_stranger", "print('hello')\nraise SystemExit('off')", version="0.7")
    answer = kitbuilder(site.parent, "plugins", "--json", path=site)
    assert answer.returncode == 1
    rows = {row["name"]: row for row in json.loads(answer.stdout)["plugins"]}
    assert rows["a-stranger"] == {
        "name": "a-stranger", "distribution": "a-stranger", "version": "0.7", "brings": [], "error": "SystemExit: off"}
    assert rows["price-file"]["brings"] == ["price-file"]
    assert rows["fleet-file"]["brings"] == ["fleet-file"]
    assert rows["price-file"]["distribution"] == "kitbuilder"
    assert answer.stderr == "hello\n"
    text = kitbuilder(site.parent, "plugins", path=site)
    assert text.returncode == 1
    assert "a-stranger (a-stranger 0.7): failed: SystemExit: off" in text.stdout


def test_the_bundled_plugins_load_without_a_fault(site):
    answer = kitbuilder(site.parent, "plugins")
    assert (answer.returncode, answer.stderr) == (0, "")
    assert "price-file (kitbuilder" in answer.stdout
