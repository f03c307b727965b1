"""What lines say of themselves, and what a kit tells beside them of exchange units and hazards."""

from pathlib import Path
from tempfile import TemporaryDirectory

import msgspec
import pytest
from msgspec import UNSET

from kitbuilder.catalogue.cache import read_edition
from kitbuilder.kit.build import build_kit
from kitbuilder.kit.totals import totals
from kitbuilder.kit.why import why
from kitbuilder.vehicle.statements import Statement
from tests.catalogue.good_files import GOOD, changed
from tests.catalogue.test_faults_beside import good
from tests.catalogue.test_faults_beside import good as with_all

VI = [Statement("emissions", "Euro VI", "told"), Statement("registered", "from 2014-01-01", "told")]
V = [Statement("emissions", "Euro V", "told")]


def edition_of(files):
    with TemporaryDirectory() as name:
        for path, text in files.items():
            (Path(name) / path).parent.mkdir(exist_ok=True)
            (Path(name) / path).write_text(text, encoding="utf-8")
        return read_edition(Path(name))


def kit_of(files, statements=()):
    return build_kit(edition_of(files), "unit-replace", statements)


def line_of(kit, role):
    (line,) = (one for one in kit.lines if one.role == role)
    return line


def test_lines_say_how_they_fill_and_what_is_chosen_from_them():
    kit = kit_of(with_all(), VI)
    oil, wipes = line_of(kit, "oil"), line_of(kit, "wipes")
    assert (oil.fill, oil.least, oil.amount, oil.advised, oil.select) == ("top-up", "0.4", "1", UNSET, UNSET)
    assert (wipes.advised, wipes.select, wipes.fill, wipes.least) == (True, 2, UNSET, UNSET)


def test_lines_of_items_have_their_weight_and_ports():
    unit = line_of(kit_of(with_all(), V), "unit")
    assert unit.weight == "38.5"
    assert [(port.thread, port.count) for port in unit.ports] == [("M14x1.5", 1), ("M22x1.5", 2)]


def test_a_weight_is_that_of_the_amount():
    files = with_all()
    files["items.csv"] = files["items.csv"].replace("P-1;Pipe;m;;;;;;;;;;", "P-1;Pipe;m;;;;;;;;;;;0.333")
    pipe = line_of(kit_of(files, VI), "unit")
    assert (pipe.amount, pipe.weight) == ("0.25", "0.084")  # 83.25 g, rounded up to the gram


def test_a_fill_to_level_of_another_least_is_another_line():
    files = with_all()
    files["fits/unit.csv"] += ",oil,,unit-oil,1,0.5,L,,,Euro VI,\n"
    assert [one.kind for one in kit_of(files, VI).problems] == ["clash"]
    files["fits/unit.csv"] = files["fits/unit.csv"].replace("1,0.5,L", "1,0.4,L")
    assert kit_of(files, VI).problems == ()


def test_exchange_units_are_told_with_their_roles():
    (one,) = kit_of(with_all(), V).exchange
    assert (one.item, one.name, one.unit, one.roles, one.like_for_like) == ("U-1", "Unit", "each", ("unit",), True)
    assert (one.deposit, one.currency, one.days, one.state) == ("450.00", "EUR", 30, ("drained", "plugged"))
    assert (one.arrives, one.circuit, one.note, one.row) == ("dry", "unit", "Keep the crate", 2)
    assert kit_of(with_all(), VI).exchange is UNSET


def test_hazards_are_those_of_the_items_that_may_fill_a_line():
    (one,) = kit_of(with_all(), VI).hazards
    assert (one.item, one.sheet, one.revised, one.signal) == ("O-1", "Oil sheet 3", "2025-03-01", "warning")
    assert [(sign.code, sign.name) for sign in one.pictograms] == [("GHS02", "flame"), ("GHS07", "exclamation mark")]
    # Regulation (EC) No 1272/2008, Annex III
    assert [(statement.code, statement.text) for statement in one.statements] == [
        ("H302+H312", "Harmful if swallowed or in contact with skin."), ("H315", "Causes skin irritation.")]
    assert kit_of(with_all(), V).hazards is UNSET


@pytest.mark.parametrize("statements", [(), V, VI])
def test_json_and_fingerprint_are_what_they_were_without_any_of_it(statements):
    plain, full = kit_of(GOOD, statements), kit_of(good(), statements)
    keys = {"stage", "role", "title", "item", "requirement", "name", "amount", "unit", "sort", "certainty", "hangs_on",
            "when", "finding", "chance", "acceptable", "because"}
    told = msgspec.to_builtins(plain)
    assert set(told) == {"format", "warnings", "job", "edition", "fingerprint", "complete", "facts", "lines", "nothing",
                         "questions", "cautions", "problems"}
    assert [set(line) for line in told["lines"]] == [keys] * len(plain.lines)
    assert full.fingerprint == plain.fingerprint
    assert [one.chance for one in full.lines] == [one.chance for one in plain.lines]


def test_what_is_only_advised_is_not_counted_in_totals():
    edition = edition_of(changed(("fits/unit.csv", ",wipes,P-1,,1,m,,,,,", ",wipes,P-1,,1,m,,,Euro VI,,")))
    advised = edition_of(changed(
        ("fits/unit.csv", ",wipes,P-1,,1,m,,,,,", ",wipes,P-1,,1,m,,,Euro VI,,"),
        ("roles.toml", '[roles.wipes]\n', '[roles.wipes]\nadvised = true\n')))
    counted = [[one.filler for one in totals(each, "unit-replace", ())] for each in (edition, advised)]
    assert counted == [["P-1", "U-1", "unit-oil"], ["U-1", "unit-oil"]]


def test_why_tells_beside_the_lines_what_was_asked_for():
    edition = edition_of(with_all())
    answer = why(edition, "unit-replace", "unit", V)
    assert [one.item for one in answer.exchange] == ["U-1"]
    assert answer.hazards is UNSET
    answer = why(edition, "unit-replace", "O-1", VI)
    assert [one.item for one in answer.hazards] == ["O-1"]
    assert [one.what for one in answer.comes_off] == ["Old oil"]
    assert answer.exchange is UNSET
