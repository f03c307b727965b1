"""Codes on delivered goods, against published GS1 element strings of gs1.py (with its sources)."""

from datetime import date

import pytest

from kitbuilder.stock.delivery_note import _elements, gs1_day, read_delivery_note
from tests.outside import gs1
from tests.stock.items import item

DAY = date(2026, 3, 10)


@pytest.mark.parametrize(("text", "fields"), gs1.STRINGS)
@pytest.mark.parametrize("before", ["", "]C1", "]d2", "\x1d"])
def test_a_published_string_has_its_fields(text, fields, before):
    assert _elements(before + text) == fields


@pytest.mark.parametrize(("text", "fields"), gs1.STRINGS)
def test_as_it_is_printed_it_has_the_same_fields(text, fields):
    printed = "".join(f"({ai}){value}" for ai, value in fields.items())
    assert _elements(printed) == fields


@pytest.mark.parametrize(("text", "day"), gs1.LAST_DAYS)
def test_day_nought_is_the_months_last(text, day):
    assert gs1_day(text, DAY) == date.fromisoformat(day)


@pytest.mark.parametrize(("today", "text", "day"), gs1.CENTURY)
def test_the_century_goes_by_the_day_that_is_passed_in(today, text, day):
    assert gs1_day(text, date.fromisoformat(today)) == date.fromisoformat(day)


@pytest.mark.parametrize(("text", "fields"), gs1.STRINGS)
def test_a_published_string_is_a_row_of_goods_in(text, fields):
    note = read_delivery_note(text, [item("P-1", codes=(fields["01"],))], DAY)
    assert note.faults == ()
    [row] = note.rows
    use_by = gs1_day(fields["17"], DAY) if "17" in fields else None
    assert (row.item, row.lot, row.use_by, row.quantity) == (
        "P-1", fields.get("10", ""), use_by, int(fields.get("37", "1")) * 1000)


@pytest.mark.parametrize("code", gs1.VALID)
def test_a_bare_published_number_is_one_of_its_item(code):
    note = read_delivery_note(code, [item("P-1", codes=(code,))], DAY)
    assert [(row.item, row.quantity) for row in note.rows] == [("P-1", 1000)]


@pytest.mark.parametrize("code", gs1.WRONG_CHECK_DIGIT)
def test_a_published_wrong_number_is_to_be_scanned_again(code):
    [fault] = read_delivery_note(code, [], DAY).faults
    assert "its check digit is wrong" in fault.text
