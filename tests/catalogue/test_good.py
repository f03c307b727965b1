"""What the small good catalogue says, so that breaking it proves something."""

from decimal import Decimal

import pytest

from tests.catalogue.good_files import GOOD, content_of, faults_of


def test_the_small_catalogue_has_no_fault():
    assert faults_of(GOOD) == []


def test_everything_in_it_is_read():
    content = content_of(GOOD)
    assert (content.name, content.currency) == ("Invented", "EUR")
    assert [(fact.name, fact.of, fact.size) for fact in content.facts] == [
        ("emissions", "vehicle", 3), ("registered", "vehicle", 11049), ("wheelbase", "vehicle", 3801),
        ("place", "job", 2)]
    assert content.facts[0].groups == {"before Euro VI": ((0, 1),)}
    assert content.facts[2].groups == {"short": ((0, 900),)}
    assert [(role.name, role.takes, role.circuit) for role in content.roles.values()] == [
        ("unit", "one", ""), ("oil", "at most one", "unit"), ("wipes", "any", "")]
    assert content.findings["worn"].chance == Decimal("0.12").as_integer_ratio()
    assert content.findings["worn"].covered_by == ()
    assert content.findings["noisy"].covered_by == ("worn",)
    assert content.requirements["line-fuse"].equal == {"body": "medium", "rating": "15"}
    assert content.requirements["line-fuse"].least == {"voltage": "32"}
    assert content.requirements["unit-oil"].listed == ("GX 12",)
    assert content.cautions["stored-pressure"].text == "Let the pressure off."
    assert content.items["O-1"].listed == ("GX 12", "GX 13")
    assert content.items["O-1"].properties == {"grade": "75W-80"}
    assert content.items["U-1"].codes == ("73513537", "6291041500213")
    assert content.jobs["drain"].roles == {"oil": "let off"}
    first, second = content.jobs["unit-replace"].includes
    assert (first.job, first.stages, first.box, first.row) == ("drain", {"let off": "strip"}, {}, 11)
    assert (second.job, second.box, second.row) == ("refill", {3: ((0, 0),), 0: ((2, 2),)}, 12)
    assert [row.share for row in content.tables[0].rows] == [(3, 2), (197, 2)]
    assert [(joint.facts, joint.files, len(joint.boxes)) for joint in content.joints] == [
        ((0, 1), ("combinations/dates.csv",), 2)]


def test_fits_keep_their_line_their_note_and_their_conditions():
    fits = [fit for _, fit in content_of(GOOD).fits]
    assert [fit.row for fit in fits] == [2, 3, 4, 6, 7]
    assert fits[2].note == "dry,\nso the whole fill"
    assert [(one.fact, one.cell) for one in fits[1].conditions] == [("emissions", "Euro VI"),
                                                                    ("registered", "from 2013-12-31")]


@pytest.mark.parametrize("file", ["requirements.toml", "cautions.toml", "combinations/dates.csv"])
def test_files_that_may_be_absent_are_no_fault_of_themselves(file):
    files = {path: text for path, text in GOOD.items() if path != file}
    if file == "requirements.toml":
        files["fits/unit.csv"] = files["fits/unit.csv"].replace(",unit-oil,", ",,").replace(",oil,,", ",oil,O-1,")
    if file == "cautions.toml":
        files["jobs/unit.toml"] = files["jobs/unit.toml"].replace('cautions = ["stored-pressure"]\n', "")
    assert faults_of(files) == []


def test_a_catalogue_without_facts_is_one_world():
    files = {path: text for path, text in GOOD.items() if path not in ("facts.toml", "combinations/dates.csv")}
    files["facts.toml"] = ""
    files["fits/unit.csv"] = "job,role,item,amount,unit\nunit-replace,unit,U-1,1,each\n"
    when = ', when = { place = "workshop", emissions = "Euro VI" }'
    files["jobs/unit.toml"] = files["jobs/unit.toml"].replace(when, "")
    content = content_of(files)
    assert content.facts == ()
    assert [fit.item for _, fit in content.fits] == ["U-1"]
