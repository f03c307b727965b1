"""Faults of fits/*.csv: what fills which role, how much, on which vehicles."""

import pytest

from tests.catalogue.good_files import GOOD, Case, changed, check, content_of, faults_of

X = "fits/unit.csv"
UNIT = "unit-replace,unit,U-1,,1,each,,,before Euro VI,,"
PIPE = "unit-replace,unit,P-1,,250,mm,worn,,Euro VI,from 2013-12-31,"
OIL = ",oil,,unit-oil,1,L,,,Euro VI,,"
NOTHING = ",oil,nothing,,,,,yes,,,Air only"
WIPES = ",wipes,P-1,,1,m,,,,,"


def instead(row: str, old: str, new: str) -> tuple[str, str, str]:
    assert row.count(old) == 1
    return X, row, row.replace(old, new)


NAMES = [
    Case("no role", instead(UNIT, "replace,unit,", "replace,,"), (X, 2, "role", ""), "a role"),
    Case("an unknown role", instead(UNIT, "replace,unit,", "replace,unti,"),
         (X, 2, "role", "unti"), "did you mean 'unit'"),
    Case("an unknown job", instead(UNIT, "unit-replace", "unit-repalce"),
         (X, 2, "job", "unit-repalce"), "'unit-replace'"),
    Case("a job that doesn't list the role", instead(UNIT, "unit-replace,unit", "unit-replace,oil"),
         (X, 2, "role", "oil"), "a role that unit-replace lists", "unit, wipes"),
    Case("an unknown item", instead(UNIT, "U-1", "U-2"), (X, 2, "item", "U-2"), "did you mean 'U-1'"),
    Case("an unknown requirement", instead(OIL, "unit-oil", "unti-oil"),
         (X, 4, "requirement", "unti-oil"), "'unit-oil'"),
    Case("an unknown finding", instead(PIPE, "worn", "wron"), (X, 3, "finding", "wron"), "did you mean 'worn'"),
    Case("neither item nor requirement", instead(OIL, "unit-oil", ""), (X, 4, "item", ""), "or a requirement"),
    Case("both item and requirement", instead(OIL, ",,unit-oil", ",O-1,unit-oil"), (X, 4, "requirement", "unit-oil"),
         "not both", "O-1"),
    Case("nothing and a requirement", instead(NOTHING, "nothing,,", "nothing,unit-oil,"),
         (X, 6, "requirement", "unit-oil"), "not both"),
    Case("nothing with an amount", instead(NOTHING, "nothing,,,", "nothing,,1,"),
         (X, 6, "amount", "1"), "beside 'nothing'"),
    Case("nothing with a unit", instead(NOTHING, "nothing,,,,", "nothing,,,L,"),
         (X, 6, "unit", "L"), "beside 'nothing'"),
    Case("nothing with a finding", instead(NOTHING, ",,yes,", ",worn,,"),
         (X, 6, "finding", "worn"), "waits for a finding"),
]

OTHERWISE = [
    Case("otherwise with a finding", instead(NOTHING, ",,yes,", ",worn,yes,"),
         (X, 6, "finding", "worn"), "waits for a finding"),
    Case("otherwise with a condition", instead(NOTHING, ",yes,,", ",yes,Euro III,"),
         (X, 6, "emissions", "Euro III"), "no condition"),
    Case("otherwise where any number is taken", instead(WIPES, ",m,,,", ",m,,yes,"),
         (X, 7, "otherwise", "yes"), "any number"),
    *(Case(f"otherwise {word!r}", instead(NOTHING, "yes", word), (X, 6, "otherwise", word), "'yes' or nothing")
      for word in ("no", "Yes", "x", "true")),
    Case("two otherwise", (X, NOTHING, f"{NOTHING}\n,oil,O-1,,1,L,,yes,,,"),
         (X, 7, "otherwise", "yes"), "line 6 has it", "oil"),
    Case("an otherwise of one job beside that of all", (X, NOTHING, f"{NOTHING}\ndrain,oil,O-1,,1,L,,yes,,,"),
         (X, 7, "otherwise", "yes"), "oil in drain", "line 6 has it"),
    Case("an otherwise of all jobs beside that of one", (X, NOTHING, f"drain,oil,O-1,,1,L,,yes,,,\n{NOTHING}"),
         (X, 7, "otherwise", "yes"), "oil in drain", "line 6 has it"),
]

AMOUNTS = [
    Case("no amount", instead(UNIT, ",1,each", ",,each"), (X, 2, "amount", ""), "a decimal more than zero"),
    *(Case(f"an amount of {text}", instead(OIL, ",1,L", f',"{text}",L'), (X, 4, "amount", text), word)
      for text, word in (("0", "more than zero"), ("0.000", "more than zero"), ("-1", "more than zero"),
                         ("1e3", "a decimal"),
                         (".5", "a decimal"), ("5.", "a decimal"), ("some", "a decimal"), ("1 L", "a decimal"),
                         ("+1", "a decimal"),
                         ("1,5", "a decimal point: 1.5"), ("0,25", "a decimal point: 0.25"), ("1,000.5", "a decimal"),
                         ("１", "a decimal"), ("1_0", "a decimal"), ("nan", "a decimal"), ("9" * 5000, "a decimal"))),
    *(Case(f"{text} of a counted unit", instead(UNIT, ",1,each", f",{text},each"),
           (X, 2, "amount", text), "a whole number of each")
      for text in ("0.5", "1.5", "2.001")),
    Case("no unit", instead(UNIT, ",1,each", ",1,"), (X, 2, "unit", ""), "each, set, pair, L, mL, kg, g, m, mm"),
    Case("a unit in other case", instead(OIL, ",1,L", ",1,l"), (X, 4, "unit", "l"), "did you mean 'L'"),
    Case("an unknown unit", instead(OIL, ",1,L", ",1,gallon"), (X, 4, "unit", "gallon"), "a unit: one of each"),
    Case("a unit of another quantity", instead(PIPE, "250,mm", "250,mL"), (X, 3, "unit", "mL"), "converts to m", "P-1"),
    Case("a counted unit for a measured item", instead(PIPE, "250,mm", "1,each"),
         (X, 3, "unit", "each"), "converts to m"),
    Case("another counted unit", instead(UNIT, ",1,each", ",1,set"), (X, 2, "unit", "set"), "converts to each"),
]

CELLS = [
    Case(text, instead(PIPE, "Euro VI,from 2013-12-31", f"{emissions},{registered}"),
         (X, 3, "registered" if registered else "emissions", text), *words)
    for text, emissions, registered, words in [
        (text, "", text, words) for text, *words in (
            ("from 2010-01-01 to 2011-01-01", "2010-01-01 to 2011-01-01"),
            ("2011-01-01 to 2010-01-01", "2010-01-01 to 2011-01-01"),
            ("1999-01-01", "2000-10-01"), ("up to 2031-01-01", "2030-12-31"), ("2009-02-29", "a day that exists"),
            ("31.12.2013", "a day such as"), ("Euro VI", "a day such as"), ("from", "a day such as"),
            ("not", "a day such as"),
            ("2010-01-01 or", "a day such as"), ("or 2010-01-01", "a day such as"), ("2010-01-01 to", "a day such as"))
    ] + [
        (text, text, "", words) for text, *words in (
            ("Euro IV", "'Euro V'"), ("euro vi", "'Euro VI'"), ("Euro V or", "'Euro V'"),
            ("Euro V or Euro VII", "'Euro VI'"),
            ("Euro III to Euro V", "Euro III"), ("not before Euro V", "'before Euro VI'"),
            ("Euro V not Euro VI", "Euro V"),
            ("not not Euro V", "Euro V"), ("from Euro V", "before Euro VI"))
    ]
]

COLUMNS = [
    Case("an unknown column", (X, "emissions,registered,note", "emisions,registered,note"),
         (X, 1, "emisions", "emisions"), "'emissions'"),
    Case("a column that is mistyped", (X, "item,requirement", "item,requirment"),
         (X, 1, "requirment", "requirment"), "'requirement'"),
    Case("the item's column mistyped", (X, "role,item", "role,itme"), (X, 1, "itme", "itme"), "did you mean 'item'"),
    Case("the role's column mistyped", (X, "job,role", "job,rolle"), (X, 1, "rolle", "rolle"), "did you mean 'role'"),
    Case("the job's column mistyped", (X, "job,role", "jobb,role"), (X, 1, "jobb", "jobb"), "did you mean 'job'"),
    Case("the amount's column mistyped", (X, "amount,unit", "amuont,unit"),
         (X, 1, "amuont", "amuont"), "did you mean 'amount'"),
    Case("the unit's column mistyped", (X, "amount,unit", "amount,units"),
         (X, 1, "units", "units"), "did you mean 'unit'"),
    Case("a column like none", (X, "registered,note", "registered,qzx"), (X, 1, "qzx", "qzx"), "a column"),
    Case("a column twice", (X, "registered,note", "registered,amount"), (X, 1, "amount", "amount"), "each column once"),
]


@pytest.mark.parametrize("case", [*NAMES, *OTHERWISE, *AMOUNTS, *CELLS], ids=repr)
def test_a_fault_of_a_fit_is_told_once_and_where_it_stands(case):
    check(case)


@pytest.mark.parametrize("case", COLUMNS, ids=repr)
def test_a_fault_of_a_column_is_told_once_for_all_rows(case):
    check(case)


def test_cells_without_a_name_over_them_are_told_one_by_one():
    faults = faults_of(changed((X, "registered,note", "registered,"), (X, WIPES, f"{WIPES},,more")))
    assert [(one.row, one.column, one.read) for one in faults] == [
        (4, "cell 11", "dry,\nso the whole fill"), (6, "cell 11", "Air only"), (7, "cell 13", "more")]


@pytest.mark.parametrize("column", ["amount", "unit", "role"])
def test_a_column_that_rows_need_is_told_once_for_all_rows(column):
    columns = {"role": "wipes", "item": "P-1", "amount": "1", "unit": "m", "note": "x"}
    del columns[column]
    files = dict(GOOD) | {"fits/more.csv": "\n".join([",".join(columns), *[",".join(columns.values())] * 3])}
    assert [(one.file, one.row, one.column, one.read, one.expected) for one in faults_of(files)] == [
        ("fits/more.csv", 1, column, "", f"a column {column!r}")]


def test_columns_of_which_no_row_has_anything_may_be_absent():
    files = dict(GOOD) | {"fits/more.csv": "item,role\nnothing,wipes\n"}
    assert [fit.nothing for _, fit in content_of(files).fits if fit.file == "fits/more.csv"] == [True]


def test_an_otherwise_of_another_job_is_another():
    rows = ",oil,nothing,,,,,yes,,,Air only"
    assert faults_of(changed((X, rows, "drain,oil,nothing,,,,,yes,,,\nrefill,oil,nothing,,,,,yes,,,"))) == []


@pytest.mark.parametrize(("item", "amount", "unit", "milli", "shown_in"), [
    ("P-1", "250", "mm", 250, "m"), ("P-1", "1", "mm", 1, "m"), ("P-1", "0.1", "mm", 1, "m"),
    ("P-1", "1.0001", "m", 1001, "m"),
    ("P-1", "0.000000000000000001", "mm", 1, "m"), ("O-1", "1500", "mL", 1500, "L"), ("O-1", "1500.2", "mL", 1501, "L"),
    ("U-1", "2.0", "each", 2000, "each"),
])
def test_an_amount_is_in_the_unit_of_its_item_rounded_up(item, amount, unit, milli, shown_in):
    content = content_of(changed(instead(WIPES, "P-1,,1,m", f"{item},,{amount},{unit}")))
    assert [(fit.amount, fit.unit) for _, fit in content.fits][-1] == (milli, shown_in)


def test_the_amount_of_a_requirement_stays_in_its_unit():
    content = content_of(changed(instead(OIL, ",1,L", ",500,mL")))
    assert [(fit.amount, fit.unit) for _, fit in content.fits][2] == (500_000, "mL")


def test_an_otherwise_of_an_unknown_job_is_not_one_of_every_job():
    check(Case("drian", (X, NOTHING, f"{NOTHING}\ndrian,oil,O-1,,1,L,,yes,,,"), (X, 7, "job", "drian"),
               "did you mean 'drain'"))


def test_a_sheet_of_names_alone_needs_its_columns_too():
    files = dict(GOOD) | {"fits/more.csv": "item,amount\n"}
    assert [(one.file, one.row, one.column) for one in faults_of(files)] == [("fits/more.csv", 1, "role")]
