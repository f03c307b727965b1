"""Facts that can't be: every fault that facts.toml can have, told where it stands."""

import pytest

from tests.catalogue.good_files import Case, changed, check, faults_of

F = "facts.toml"
VALUES = 'values = ["Euro III", "Euro V", "Euro VI"]'
GROUPS = 'groups = { "before Euro VI" = ["Euro III", "Euro V"] }'
AT = "facts.emissions"


def value_named(name: str) -> tuple[str, str, str]:
    return F, VALUES, f'values = ["Euro III", "Euro V", "Euro VI", "{name}"]'


def group_named(name: str) -> tuple[str, str, str]:
    return F, '"before Euro VI" =', f'"{name}" ='


def fact_named(name: str) -> str:
    return f'[facts.{name}]\nof = "job"\nvalues = ["yes", "no"]\n\n[facts.place]'


WORDS = ("or", "a or b", "to", "a to b", "not", "not EEV", "from", "from EEV", "up to", "up to EEV")

CASES = [
    *(Case(f"a value {word!r}", value_named(word), (F, 4, f"{AT}.values", word), "name") for word in WORDS),
    *(Case(f"a group {word!r}", group_named(word), (F, 7, f"{AT}.groups.{word}", word), "name") for word in WORDS),
    Case("a value twice", value_named("Euro V"), (F, 4, f"{AT}.values", "Euro V"), "each value once"),
    Case("a group that is a value", group_named("Euro III"),
         (F, 7, f"{AT}.groups.Euro III", "Euro III"), "not a value"),
    Case("a group that is a value of a range", (F, "short =", "4500 ="),
         (F, 20, "facts.wheelbase.groups.4500", "4500"), "not a value"),
    Case("a group with spaces around", group_named(" old "), (F, 7, f"{AT}.groups. old ", " old "), "without spaces"),
    Case("a group of an unknown value", (F, '["Euro III", "Euro V"] }', '["Euro III", "Euro IV"] }'),
         (F, 7, f"{AT}.groups.before Euro VI", "Euro IV"), "did you mean 'Euro V'"),
    Case("a group of a run beyond the range", (F, "up to 3900", "up to 6900"),
         (F, 20, "facts.wheelbase.groups.short", "up to 6900"), "largest is 6800"),
    Case("a group without values", (F, '"before Euro VI" = ["Euro III", "Euro V"]', '"before Euro VI" = []'),
         (F, 7, f"{AT}.groups.before Euro VI", "[]"), "at least one value"),
    Case("a group whose cells leave no value", (F, "up to 3900", "not from 3000"),
         (F, 20, "facts.wheelbase.groups.short", "[not from 3000]"), "at least one value"),
    Case("a group that is no list", (F, '["up to 3900"]', '"up to 3900"'),
         (F, 20, "facts.wheelbase.groups.short", "up to 3900"), "a list"),
    Case("a group with a number in it", (F, '["up to 3900"]', "[3900]"),
         (F, 20, "facts.wheelbase.groups.short", "3900"), "a value"),
    Case("groups that are no table", (F, GROUPS, "groups = 3"), (F, 7, f"{AT}.groups", "3"), "a table of lists"),
    *(Case(f"a fact named like the column {name}", (F, "[facts.place]", fact_named(name)),
           (F, 22, f"facts.{name}", name), "not a column")
      for name in ("job", "role", "item", "requirement", "amount", "unit", "finding", "otherwise", "note", "share",
                   "number", "name", "rank", "kind", "codes", "listed", "claimed")),
    Case("a fact with spaces around its name", (F, "[facts.place]", fact_named('" tail"')),
         (F, 22, "facts. tail", " tail"), "without spaces"),
    Case("a fact that is no table", (F, "# What is asked.", 'facts.mood = "good"'),
         (F, 1, "facts.mood", "good"), "headed [facts.mood]"),
    Case("of nothing", (F, 'of = "job"\n', ""), (F, 22, "facts.place.of", ""), "vehicle, job"),
    Case("of an unknown thing", (F, 'of = "job"', 'of = "jobs"'), (F, 23, "facts.place.of", "jobs"), "'job'"),
    Case("of a list", (F, 'of = "job"', 'of = ["job"]'), (F, 23, "facts.place.of", "[job]"), "vehicle, job"),
    Case("neither values nor ends", (F, f"{VALUES}\n", ""), (F, 2, AT, ""), "values, or from and to"),
    Case("values and an end", (F, VALUES, f"{VALUES}\nto = 3"), (F, 5, f"{AT}.to", "3"), "either values"),
    Case("no values", (F, VALUES, "values = []"), (F, 4, f"{AT}.values", ""), "at least one value"),
    Case("values that are no list", (F, VALUES, 'values = "Euro III"'), (F, 4, f"{AT}.values", "Euro III"), "a list"),
    Case("a value that is a number, in a list over several lines", (F, '    "roadside",', "    7,"),
         (F, 26, "facts.place.values", "7"), "a text"),
    Case("an empty value", (F, '    "roadside",', '    " ",'), (F, 26, "facts.place.values", " "), "a text"),
    Case("a range without an end", (F, "to = 6800\n", ""), (F, 14, "facts.wheelbase.to", ""), "whole number"),
    Case("a range without a start", (F, "from = 3000\n", ""), (F, 14, "facts.wheelbase.from", ""), "whole number"),
    Case("a range of text", (F, "to = 6800", 'to = "6800"'), (F, 17, "facts.wheelbase.to", "6800"), "whole number"),
    Case("a range of decimals", (F, "to = 6800", "to = 6800.5"),
         (F, 17, "facts.wheelbase.to", "6800.5"), "whole number"),
    Case("a range of truth", (F, "to = 6800", "to = true"), (F, 17, "facts.wheelbase.to", "true"), "whole number"),
    Case("a range of moments", (F, "to = 2030-12-31", "to = 2030-12-31T10:00:00"),
         (F, 12, "facts.registered.to", "2030-12-31 10:00:00"), "a day"),
    Case("a range from a day to a number", (F, "to = 2030-12-31", "to = 2030"),
         (F, 12, "facts.registered.to", "2030"), "one of the days"),
    Case("a range that is reversed", (F, "to = 6800", "to = 2800"),
         (F, 17, "facts.wheelbase.to", "2800"), "from = 2800, to = 3000"),
    Case("a range beyond all reason", (F, "to = 6800", "to = 99999999999999999999"),
         (F, 17, "facts.wheelbase.to", "99999999999999999999"), "at most 15 digits"),
    Case("a start that is mistyped", (F, "from = 3000", "frm = 3000"), (F, 16, "facts.wheelbase.frm", "frm"), "'from'"),
    Case("values that are mistyped", (F, "values = [\"Euro III", "vlaues = [\"Euro III"),
         (F, 4, f"{AT}.vlaues", "vlaues"), "did you mean 'values'"),
    Case("of that is mistyped", (F, 'of = "job"', 'off = "job"'), (F, 23, "facts.place.off", "off"),
         "did you mean 'of'"),
    Case("a question that is no text", (F, 'question = "Which emissions generation?"', "question = 3"),
         (F, 5, f"{AT}.question", "3"), "a text"),
    Case("an unknown key", (F, "where =", "were ="), (F, 6, f"{AT}.were", "were"), "did you mean 'where'"),
    Case("an unknown key like none", (F, "where =", "qzx ="), (F, 6, f"{AT}.qzx", "qzx"), "one of", "where"),
    Case("an unknown table", (F, "[facts.place]", "[places.x]\n[facts.place]"), (F, 22, "places", "places"), "facts"),
]


@pytest.mark.parametrize("case", CASES, ids=repr)
def test_a_fault_of_a_fact_is_told_once_and_where_it_stands(case):
    check(case)


@pytest.mark.parametrize("name", ["notched", "order", "tool", "Tor", "Or", "frommer", "up", "upto date", "Not fitted",
                                  "and"])
def test_words_that_only_look_like_those_of_cells_are_values(name):
    assert faults_of(changed(value_named(name))) == []


def test_a_fact_may_be_named_like_a_property_of_items():
    assert faults_of(changed((F, "[facts.place]", fact_named("voltage")))) == []
