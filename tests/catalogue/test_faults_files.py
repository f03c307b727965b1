"""Faults of whole files: missing, not text, not TOML, not CSV; and which files are ours at all."""

import pytest

from kitbuilder.catalogue.content import read_content
from kitbuilder.catalogue.folder import own_files
from kitbuilder.errors import BadData, LoadError
from tests.catalogue.good_files import GOOD, Case, changed, check, content_of, faults_of

X, I, F, J = "fits/unit.csv", "items.csv", "facts.toml", "jobs/unit.toml"  # noqa: E741


@pytest.mark.parametrize(("path", "named"), [
    ("catalogue.toml", "catalogue.toml"), (F, F), ("roles.toml", "roles.toml"), (I, I), (J, "jobs/"), (X, "fits/")])
def test_a_file_that_must_be_there_is_told_and_nothing_else_blamed(path, named):
    files = {name: text for name, text in GOOD.items() if name != path}
    assert [(one.file, one.row, one.column, one.read) for one in faults_of(files)] == [(named, 0, "", "")]


def test_an_empty_folder_tells_all_that_it_lacks():
    assert [one.file for one in faults_of({})] == ["catalogue.toml", "facts.toml", "fits/", "items.csv", "jobs/",
                                                   "roles.toml"]


@pytest.mark.parametrize("path", [path for path in GOOD if path.endswith(".toml")])
def test_a_file_that_is_not_toml_is_told_and_nothing_else_blamed(path):
    files = dict(GOOD) | {path: GOOD[path] + "\nbroken = \n"}
    [fault] = faults_of(files)
    assert (fault.file, fault.row, fault.read) == (path, GOOD[path].count("\n") + 2, "broken =")
    assert "TOML" in fault.expected


@pytest.mark.parametrize("path", list(GOOD))
def test_a_file_that_is_not_utf_8_is_told_and_nothing_else_blamed(path):
    files = {name: text.encode() for name, text in GOOD.items()}
    files[path] += b"\n# \xe4"
    with pytest.raises(LoadError) as raised:
        read_content("here", files)
    [fault] = raised.value.faults
    assert (fault.file, fault.row, fault.column, fault.read) == (path, GOOD[path].count("\n") + 2, "", "byte E4")
    assert "UTF-8" in fault.expected


@pytest.mark.parametrize("encoding", ["utf-16", "utf-16-le", "utf-16-be", "utf-32", "cp037"])
@pytest.mark.parametrize("path", [I, F, X])
def test_files_in_other_encodings_are_told_once(encoding, path):
    files = {name: text.encode() for name, text in GOOD.items()}
    files[path] = GOOD[path].encode(encoding)
    with pytest.raises(LoadError) as raised:
        read_content("here", files)
    assert [(one.file, "UTF-8" in one.expected) for one in raised.value.faults] == [(path, True)]


@pytest.mark.parametrize(("newline", "mark"),
                         [("\n", b""), ("\r\n", b""), ("\n", b"\xef\xbb\xbf"), ("\r\n", b"\xef\xbb\xbf")])
@pytest.mark.parametrize("path", list(GOOD))
def test_the_line_of_a_wrong_byte_counts_from_the_start_of_the_file(path, newline, mark):
    files = {name: text.encode() for name, text in GOOD.items()}
    files[path] = mark + GOOD[path].replace("\n", newline).encode() + b"\xff"
    with pytest.raises(LoadError) as raised:
        read_content("here", files)
    assert [(one.row, one.read) for one in raised.value.faults] == [(GOOD[path].count("\n") + 1, "byte FF")]


@pytest.mark.parametrize("case", [
    Case("a quote that isn't closed", (X, "Air only", '"Air only'), (X, 6, "", ""), "a row of CSV"),
    Case("a quote with text behind it", (X, "Air only", '"Air" only'), (X, 6, "", ""), "a row of CSV"),
    Case("names of columns with a quote that isn't closed", (X, "job,role", 'job,"role'), (X, 1, "", ""),
         "a row of CSV"),
    Case("items with a quote that isn't closed", (I, "Fuse;", '"Fuse;'), (I, 4, "", ""), "a row of CSV"),
    Case("a table with a quote that isn't closed", ("combinations/dates.csv", "first", '"first'),
         ("combinations/dates.csv", 2, "", ""), "a row of CSV"),
    Case("items that are empty", (I, GOOD[I], ""), (I, 0, "", ""), "a first row"),
    Case("fits that are empty", (X, GOOD[X], "\n ,,\n"), (X, 0, "", ""), "a first row"),
    Case("TOML that ends too soon", (J, 'roles = { oil = "fill" }', "roles = '''"), (J, 25, "", "roles = '''"), "TOML"),
    Case("a key twice", (F, "to = 6800", "to = 6800\nto = 6900"), (F, 18, "", "to = 6900"), "TOML"),
    Case("a day that doesn't exist", (F, "2030-12-31", "2030-02-30"), (F, 12, "", "to = 2030-02-30"), "TOML"),
    Case("a number of thousands of digits", (F, "6800", "1" * 5000), (F, 0, "", ""), "TOML"),
], ids=repr)
def test_a_file_that_cannot_be_read_is_told_and_nothing_else_blamed(case):
    check(case)


def test_lists_in_hundreds_of_lists_are_refused():
    [fault] = faults_of(changed((F, "6800", "[" * 20000 + "]" * 20000)))
    assert (fault.file, "TOML" in fault.expected) == (F, True)


def test_other_files_in_the_folder_are_not_ours(tmp_path):
    for path, text in GOOD.items():
        (tmp_path / path).parent.mkdir(exist_ok=True)
        (tmp_path / path).write_text(text, encoding="utf-8")
    for path in ("README.md", "prices.csv", "fleet.csv", "other.toml", "fits/notes.txt", "fits/.~lock.unit.csv",
                 "jobs/unit.toml.bak",
                 "jobs/fits.csv", "combinations/x.toml", "fits/old/unit.csv", "stock/unit.csv"):
        (tmp_path / path).parent.mkdir(exist_ok=True)
        (tmp_path / path).write_bytes(b"\xff not ours")
    assert own_files(tmp_path) == sorted(GOOD)


def test_files_that_are_not_ours_are_not_read():
    strange = dict.fromkeys(("README.md", "fits/notes.txt", "jobs/unit.md", "combinations/x.toml", "fits/.x.csv",
                             "fits/a/b.csv"), "\0")
    assert len(content_of(GOOD | strange).fits) == 5


def test_a_folder_that_is_not_there_is_told_with_what_to_do(tmp_path):
    with pytest.raises(BadData, match="--catalogue"):
        own_files(tmp_path / "none")


def test_a_file_where_a_folder_should_be_is_a_missing_folder(tmp_path):
    (tmp_path / "jobs").write_text("x")
    assert own_files(tmp_path) == []


def test_a_file_name_that_is_not_utf_8_is_told():
    [fault] = faults_of(GOOD | {"fits/\udcff.csv": GOOD[X].splitlines()[0]})
    assert (fault.file, fault.expected) == ("fits/\\udcff.csv", "a file name in UTF-8")
