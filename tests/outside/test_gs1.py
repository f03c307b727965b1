"""Codes of items, against the published GS1 check digits of gs1.py (with its sources)."""

from pathlib import Path

import pytest

from kitbuilder.catalogue.cache import read_edition
from kitbuilder.errors import LoadError
from tests import spec_files
from tests.outside import gs1
from tests.specs import Fact, Fit, FitFile, Item, Job, Role, Spec

SPEC = Spec(
    facts=(Fact("place", "job", values=("workshop", "yard")),),
    jobs=(Job("work", roles={"part": "work"}),),
    roles=(Role("part"),),
    items=(Item("A-1"),),
    fits=(FitFile("fits/all.csv", (Fit("part", "A-1", amount="1", unit="each"),)),),
)


def loaded(folder: Path, codes: str) -> tuple[str, ...]:
    """The codes of an item that a catalogue with these codes is read with."""
    spec_files.write(SPEC, folder)
    (folder / "items.csv").write_text(f"number,name,unit,codes\nA-1,A part,each,{codes}\n", encoding="utf-8")
    return read_edition(folder).item("A-1").codes


@pytest.mark.parametrize("code", [*gs1.VALID, *(number + str(digit) for number, digit, _ in gs1.WORKED)])
def test_a_published_number_is_taken(tmp_path, code):
    assert len(code) in gs1.LENGTHS
    assert loaded(tmp_path, code) == (code,)


@pytest.mark.parametrize(("short", "long"), gs1.PADDED)
def test_zeros_before_a_number_leave_it_valid(tmp_path, short, long):
    assert loaded(tmp_path, f"{short} and {long}") == (short, long)


@pytest.mark.parametrize("code", gs1.WRONG_CHECK_DIGIT)
def test_a_published_wrong_number_is_refused_with_its_place(tmp_path, code):
    with pytest.raises(LoadError) as raised:
        loaded(tmp_path, code)
    (fault,) = raised.value.faults
    assert (fault.file, fault.row, fault.column, fault.read) == ("items.csv", 2, "codes", code)


@pytest.mark.parametrize(("number", "digit", "source"), gs1.WORKED)
def test_each_wrong_digit_is_refused_and_the_right_one_offered(tmp_path, number, digit, source):
    for wrong in set(range(10)) - {digit}:
        with pytest.raises(LoadError, match=f"a check digit of {digit} ") as raised:
            loaded(tmp_path, f"{number}{wrong}")
        assert len(raised.value.faults) == 1, source


@pytest.mark.parametrize("code", ["7351353", "735135370", "6291041500211X", "shelf-12", "62910415002130000"])
def test_a_code_of_another_form_has_no_check_digit(tmp_path, code):
    assert loaded(tmp_path, code) == (code,)
