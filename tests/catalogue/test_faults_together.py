"""All faults of a load come together, each once: what a fault makes doubtful is not blamed as well."""

from collections.abc import Iterator

import pytest

from kitbuilder.errors import LoadError
from tests.catalogue.good_files import GOOD, changed, content_of, faults_of

X, I, F, J, R, Q = "fits/unit.csv", "items.csv", "facts.toml", "jobs/unit.toml", "roles.toml", "requirements.toml"  # noqa: E741
TEN = (
    ("catalogue.toml", '"EUR"', '"euro"'),
    ("cautions.toml", "text =", "txet ="),
    ("combinations/dates.csv", "from 2009-10-01", "from 1909-10-01"),
    (F, "to = 6800", "to = 2800"),
    (X, "250,mm", "250,mL"),
    (X, "Air only", "Air only,more"),
    (I, "23456785", "23456783"),
    (J, "minutes = 10", "minutes = -10"),
    (Q, '"75W-80"', '"75W-81"'),
    (R, "chance = 0.12", "chance = 12"),
)


def many(row: str, count: int) -> str:
    """A sheet of fits with one row many times."""
    return f"{GOOD[X].splitlines()[0]}\n" + f"{row}\n" * count


def test_ten_faults_are_told_as_ten_in_order_of_files_and_lines():
    found = [(one.file, one.row, one.column) for one in faults_of(changed(*TEN))]
    assert found == [
        ("catalogue.toml", 3, "currency"), ("cautions.toml", 2, "cautions.stored-pressure.txet"),
        ("combinations/dates.csv", 3, "registered"), (F, 17, "facts.wheelbase.to"), (X, 3, "unit"), (X, 6, "cell 12"),
        (I, 4, "codes"), (J, 17, "jobs.drain.stages.minutes"), (Q, 4, "requirements.unit-oil.grade"),
        (R, 19, "findings.worn.chance"),
    ]


@pytest.mark.parametrize("left_out", range(len(TEN)))
def test_each_of_the_ten_is_told_whichever_other_is_mended(left_out):
    kept = [change for number, change in enumerate(TEN) if number != left_out]
    assert len(faults_of(changed(*kept))) == 9


def test_the_error_names_every_fault_in_words():
    with pytest.raises(LoadError) as raised:
        content_of(changed(*TEN))
    text = str(raised.value)
    assert text.startswith("The catalogue in here has 10 faults")
    assert len(text.splitlines()) == 11
    assert "  items.csv, line 4, codes: read '23456783'; expected a check digit of 5" in text


def causes() -> Iterator[tuple[str, tuple[str, str, str], str]]:
    """Something broken that many rows of fits name, and such a row."""
    yield "a value twice", (F, '["Euro III", "Euro V", "Euro VI"]',
                            '["Euro III", "Euro V", "Euro V"]'), ",wipes,P-1,,1,m,,,Euro VI,,"
    yield "no values", (F, 'values = ["Euro III", "Euro V", "Euro VI"]\n', ""), ",wipes,P-1,,1,m,,,Euro VI,,"
    yield "a group", (F, '"before Euro VI" = [', '"not Euro VI" = ['), ",wipes,P-1,,1,m,,,before Euro VI,,"
    yield "a range", (F, "from = 2000-10-01", "from = 2000"), ",wipes,P-1,,1,m,,,,up to 2010-01-01,"
    yield "facts", (F, "[facts.emissions]", "[fact.emissions]"), ",wipes,P-1,,1,m,,,Euro VI,,"
    yield "all facts", (F, "# What is asked.", "x = "), ",wipes,P-1,,1,m,,,Euro VI,,"
    yield "a role's sort", (R, 'takes = "any"', 'takes = "all"'), ",wipes,P-1,,1,m,,,,,"
    yield "all roles", (R, "[roles.wipes]", "[roles.wipes"), ",wipes,P-1,,1,m,,,,,"
    yield "a finding's chance", (R, "chance = 0.05", "chance = 5"), ",wipes,P-1,,1,m,noisy,,,,"
    yield "an item's unit", (I, ";Pipe;m;", ";Pipe;metre;"), ",wipes,P-1,,1,m,,,,,"
    yield "all items", (I, "number;name", "numbr;name"), ",wipes,P-1,,1,m,,,,,"
    yield "an items row", (I, "P-1;Pipe", 'P-1;"Pipe'), ",wipes,P-1,,1,m,,,,,"
    yield "a requirement's kind", (Q, 'kind = "gear oil"', 'kind = "oil"'), ",wipes,,unit-oil,1,L,,,,,"
    yield "all requirements", (Q, "[requirements.unit-oil]", "[requirement.unit-oil]"), ",wipes,,unit-oil,1,L,,,,,"
    yield "a role of a job", (J, 'wipes = "strip"', 'wpies = "strip"'), "unit-replace,wipes,P-1,,1,m,,,,,"
    yield "the roles of a job", (J, "roles = { unit", "rolls = { unit"), "unit-replace,wipes,P-1,,1,m,,,,,"
    yield "a stage of a job", (J, 'name = "strip"', "name = 1"), "unit-replace,wipes,P-1,,1,m,,,,,"
    yield "all jobs", (J, "[jobs.drain]", "[jobs.drain"), "unit-replace,wipes,P-1,,1,m,,,,,"
    yield "a job's table", (J, "[jobs.refill]", "[job.refill]"), "refill,oil,O-1,,1,L,,,,,"


@pytest.mark.parametrize(("change", "row"), [pytest.param(*more, id=name) for name, *more in causes()])
def test_one_mistake_does_not_blame_every_row_that_builds_on_it(change, row):
    files = changed(change)
    files["fits/many.csv"] = many(row, 50)
    assert faults_of(GOOD | {"fits/many.csv": many(row, 50)}) == []
    assert [one.file for one in faults_of(files)] == [change[0]]


def test_other_faults_of_the_same_rows_are_still_told():
    files = changed((F, "from = 2000-10-01", "from = 2000"), (R, 'takes = "any"', 'takes = "all"'))
    files["fits/many.csv"] = many(",wipes,Q-1,,0,m,,maybe,Euro VII,up to 2010-01-01,", 1)
    assert [(one.file, one.column) for one in faults_of(files)] == [
        (F, "facts.registered.to"), ("fits/many.csv", "amount"), ("fits/many.csv", "emissions"),
        ("fits/many.csv", "item"),
        ("fits/many.csv", "otherwise"), (R, "roles.wipes.takes")]


def test_a_stage_that_is_renamed_is_told_where_others_name_it():
    found = [(one.row, one.column, one.read) for one in faults_of(changed((J, 'name = "strip"', 'name = "take off"')))]
    assert found == [(9, "jobs.unit-replace.roles.wipes", "strip"),
                     (11, "jobs.unit-replace.includes.stages.let off", "strip")]


def test_many_unknown_names_among_many_known_ones_are_told_within_seconds():
    files = dict(GOOD)
    files[I] = "number,name,unit\n" + "".join(f"AB-{number:06},Part,each\n" for number in range(50_000))
    files["fits/unit.csv"] = "role,item,amount,unit\n" + "".join(f"wipes,CD-{number:06},1,each\n"
                                                                 for number in range(2_000))
    found = faults_of(files)
    assert [one.row for one in found] == list(range(2, 2_002))
    assert "did you mean" in found[0].expected
