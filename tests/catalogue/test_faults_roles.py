"""Faults of roles.toml (roles and findings), requirements.toml, cautions.toml and catalogue.toml."""

import pytest

from tests.catalogue.good_files import GOOD, Case, changed, check, content_of, faults_of

R, Q, K, C = "roles.toml", "requirements.toml", "catalogue.toml", "cautions.toml"
TAKES = 'takes = "at most one"'

ROLES = [
    Case("no sort", (R, 'sort = "exchange unit"\n', ""), (R, 1, "roles.unit.sort", ""), "single-use"),
    Case("an unknown sort", (R, 'sort = "exchange unit"', 'sort = "exchange"'),
         (R, 3, "roles.unit.sort", "exchange"), "did you mean 'exchange unit'"),
    Case("no takes", (R, f"{TAKES}\n", ""), (R, 6, "roles.oil.takes", ""), "one, at least one, at most one, any"),
    Case("an unknown takes", (R, TAKES, 'takes = "at most two"'),
         (R, 9, "roles.oil.takes", "at most two"), "'at most one'"),
    Case("no title", (R, 'title = "Unit"\n', ""), (R, 1, "roles.unit.title", ""), "a text"),
    Case("an empty title", (R, 'title = "Unit"', 'title = " "'), (R, 2, "roles.unit.title", " "), "a text"),
    Case("a title that is a number", (R, 'title = "Unit"', "title = 1"), (R, 2, "roles.unit.title", "1"), "a text"),
    Case("a circuit that is none", (R, 'circuit = "unit"', "circuit = true"),
         (R, 10, "roles.oil.circuit", "true"), "a text"),
    Case("an unknown key", (R, "circuit =", "circiut ="),
         (R, 10, "roles.oil.circiut", "circiut"), "did you mean 'circuit'"),
    Case("an unknown table", (R, "[findings.noisy]", "[tools.x]\n[findings.noisy]"),
         (R, 22, "tools", "tools"), "roles"),
    Case("takes that is mistyped", (R, TAKES, 'take = "at most one"'), (R, 9, "roles.oil.take", "take"), "'takes'"),
    Case("roles that are no tables", (R, GOOD[R].partition("[findings")[0], "roles = 3\n"), (R, 1, "roles", "3"),
         "headed [roles.NAME]"),
    Case("an unknown per", (R, 'circuit = "unit"', 'per = "visits"'),
         (R, 10, "roles.oil.per", "visits"), "did you mean 'visit'"),
    Case("a role with spaces around", (R, "[roles.unit]",
                                       '[roles.unit]\ntitle = "x"\nsort = "part"\ntakes = "any"\n[roles." a"]'),
         (R, 5, "roles. a", " a"), "without spaces"),
    Case("an empty name", (R, "[roles.unit]", '[roles.unit]\ntitle = "x"\nsort = "part"\ntakes = "any"\n[roles.""]'),
         (R, 5, "roles.", ""), "without spaces"),
    Case("a role that is a text", (R, "[roles.unit]", 'roles.jack = "x"\n[roles.unit]'),
         (R, 1, "roles.jack", "x"), "a table"),
    Case("a role twice", (R, "[roles.wipes]", "[roles.unit]"), (R, 12, "", "[roles.unit]"), "TOML"),
]

FINDINGS = [
    Case("a chance that is mistyped", (R, "chance = 0.05", "chanc = 0.05"),
         (R, 24, "findings.noisy.chanc", "chanc"), "did you mean 'chance'"),
    Case("no chance", (R, "chance = 0.05\n", ""), (R, 22, "findings.noisy.chance", ""), "between 0 and 1"),
    *(Case(f"a chance of {text}", (R, "chance = 0.12", f"chance = {text}"),
           (R, 19, "findings.worn.chance", read or text),
           "between 0 and 1")
      for text, read in (("1.01", ""), ("-0.1", ""), ('"0.12"', "0.12"), ("true", ""), ("nan", ""), ("inf", ""),
                         ("12", ""),
                         ("1e-999999999", ""))),
    Case("a chance of too many places", (R, "chance = 0.12", "chance = 0.1234567890123456789"),
         (R, 19, "findings.worn.chance", "0.1234567890123456789"), "fewer decimal places"),
    Case("no title", (R, 'title = "Clutch worn"\n', ""), (R, 17, "findings.worn.title", ""), "a text"),
    Case("covers an unknown finding", (R, 'covers = ["noisy"]', 'covers = ["nosy"]'),
         (R, 20, "findings.worn.covers", "nosy"), "did you mean 'noisy'"),
    Case("covers an unknown finding, in a list over several lines",
         (R, 'covers = ["noisy"]', 'covers = [\n"noisy",\n"wrn",\n]'),
         (R, 22, "findings.worn.covers", "wrn"), "did you mean 'worn'"),
    Case("covers itself", (R, "chance = 0.05", 'chance = 0.05\ncovers = ["noisy"]'),
         (R, 25, "findings.noisy.covers", "noisy"), "circle", "noisy"),
    Case("covers in a circle", (R, "chance = 0.05", 'chance = 0.05\ncovers = ["worn"]'),
         (R, 20, "findings.worn.covers", "noisy"), "circle", "worn, noisy"),
    Case("covers what is no list", (R, 'covers = ["noisy"]', 'covers = "noisy"'),
         (R, 20, "findings.worn.covers", "noisy"), "a list"),
    Case("an unknown key", (R, "covers =", "cover ="),
         (R, 20, "findings.worn.cover", "cover"), "did you mean 'covers'"),
]

REQUIREMENTS = [
    Case("no kind", (Q, 'kind = "gear oil"\n', ""), (Q, 1, "requirements.unit-oil.kind", ""), "gear oil, blade fuse"),
    Case("an unknown kind", (Q, 'kind = "gear oil"', 'kind = "gear oils"'),
         (Q, 3, "requirements.unit-oil.kind", "gear oils"), "did you mean 'gear oil'"),
    Case("no title", (Q, 'title = "Fuse in line"\n', ""), (Q, 7, "requirements.line-fuse.title", ""), "a text"),
    Case("an unknown key", (Q, "grade =", "grad ="),
         (Q, 4, "requirements.unit-oil.grad", "grad"), "did you mean 'grade'"),
    Case("a property of another kind", (Q, 'grade = "75W-80"', "rating = 15"),
         (Q, 4, "requirements.unit-oil.rating", "rating"), "a key", "grade"),
    Case("a grade that isn't", (Q, '"75W-80"', '"75W-81"'), (Q, 4, "requirements.unit-oil.grade", "75W-81"), "80"),
    Case("a grade that no oil meets", (Q, '"75W-80"', '"85W-80"'),
         (Q, 4, "requirements.unit-oil.grade", "85W-80"), "85W"),
    Case("at least a grade", (Q, 'grade = "75W-80"', 'grade.min = "75W-80"'),
         (Q, 4, "requirements.unit-oil.grade", "{ min = 75W-80 }"), "a value"),
    Case("a body that isn't", (Q, '"medium"', '"medum"'), (Q, 10, "requirements.line-fuse.body", "medum"), "'medium'"),
    Case("a rating that the body hasn't", (Q, "rating = 15", "rating = 16"),
         (Q, 11, "requirements.line-fuse.rating", "16"), "15, 20"),
    Case("a rating that is a list", (Q, "rating = 15", "rating = [15]"),
         (Q, 11, "requirements.line-fuse.rating", "[15]"), "a text or a number"),
    Case("at most a voltage", (Q, "voltage.min", "voltage.max"),
         (Q, 12, "requirements.line-fuse.voltage", "{ max = 32 }"), "voltage.min"),
    Case("at least no number", (Q, "voltage.min = 32", 'voltage.min = "much"'),
         (Q, 12, "requirements.line-fuse.voltage.min", "much"), "a number of V"),
    Case("a specification with 'and' in it", (Q, '["GX 12"]', '["GX 12 and 13"]'),
         (Q, 5, "requirements.unit-oil.listed", "GX 12 and 13"), "without the word 'and'"),
    Case("a specification that is a number", (Q, '["GX 12"]', "[12]"),
         (Q, 5, "requirements.unit-oil.listed", "12"), "a text"),
    Case("listed as a text", (Q, '["GX 12"]', '"GX 12"'), (Q, 5, "requirements.unit-oil.listed", "GX 12"), "a list"),
    Case("an unknown table", (Q, "[requirements.line-fuse]", "[x]\n[requirements.line-fuse]"),
         (Q, 7, "x", "x"), "requirements"),
]

OTHERS = [
    Case("a caution without text", (C, 'text = "Let the pressure off."\n', ""),
         (C, 1, "cautions.stored-pressure.text", ""),
         "a text"),
    Case("an unknown key of a caution", (C, "text =", 'note = "x"\ntext ='),
         (C, 2, "cautions.stored-pressure.note", "note"),
         "text"),
    Case("another format", (K, "format = 1", "format = 2"), (K, 2, "format", "2"), "format = 1"),
    Case("a format that is a text", (K, "format = 1", 'format = "1"'), (K, 2, "format", "1"), "format = 1"),
    Case("a format that is true", (K, "format = 1", "format = true"), (K, 2, "format", "true"), "format = 1"),
    Case("no format", (K, "format = 1\n", ""), (K, 0, "format", ""), "format = 1"),
    Case("no name", (K, 'name = "Invented"\n', ""), (K, 0, "name", ""), "a text"),
    Case("no currency", (K, 'currency = "EUR"\n', ""), (K, 0, "currency", ""), "a text"),
    Case("a currency that isn't", (K, '"EUR"', '"euro"'), (K, 3, "currency", "euro"), "ISO 4217"),
    Case("a currency with a digit", (K, '"EUR"', '"EU1"'), (K, 3, "currency", "EU1"), "ISO 4217"),
    Case("an unknown key", (K, 'currency = "EUR"', 'currency = "EUR"\nlanguage = "en"'),
         (K, 4, "language", "language"), "name"),
    Case("a key that is mistyped", (K, "currency =", "curency ="),
         (K, 3, "curency", "curency"), "did you mean 'currency'"),
]


@pytest.mark.parametrize("case", [*ROLES, *FINDINGS, *REQUIREMENTS, *OTHERS], ids=repr)
def test_a_fault_of_what_is_declared_is_told_once_and_where_it_stands(case):
    check(case)


@pytest.mark.parametrize("chance", ["0", "1", "0.0", "1.00", "0.333333333333333333"])
def test_a_chance_may_be_anything_from_0_to_1(chance):
    assert faults_of(changed((R, "chance = 0.12", f"chance = {chance}"))) == []


def test_covering_reaches_through_others():
    content = content_of(changed((R, "chance = 0.05",
                                  'chance = 0.05\ncovers = ["dry"]\n[findings.dry]\ntitle = "Dry"\nchance = 1')))
    assert content.findings["dry"].covered_by == ("worn", "noisy")
