"""What matters is a constraint in the database: bad rows of another program are refused there."""

import re

import pytest

from kitbuilder.store import holds, shelves
from tests.databases import driver_error, is_postgresql
from tests.store.shelf import LATER, SITE, book, dump, promise, raw, receive

GOOD = [
    "INSERT INTO ledger VALUES (99, '2026-03-10', 'count', 1, 1, 9, -1, 0, 1, 0, NULL, NULL, 'x', '', NULL)",
    "INSERT INTO hold VALUES (99, 'p', 0, 1, 'n', 1, 1, 1000, 'planned', '2026-03-10', 'x')",
    "INSERT INTO edit VALUES (99, 1, 'add', 'r', '', 'XX-1', NULL, '', 'x', 'y', '2026-03-10', NULL, '')",
    "INSERT INTO supplier_order VALUES (99, 'k', 1, 'Lauterfeld', 's', 'slot', '2026-03-11', NULL, 'EUR', 0, "
    "'proposed', '2026-03-10', NULL, NULL, '', NULL, NULL, '', '', '')",
    "INSERT INTO run VALUES (99, 'Lauterfeld', '2026-03-11', 'running', '2026-03-10', '', '2026-03-10', NULL, '')",
]
BAD = {
    # stock
    "UPDATE stock SET on_hand = -1, held = 0": "ck_stock_on_hand|ck_stock_held",
    "UPDATE stock SET held = -1": "ck_stock_held",
    "UPDATE stock SET held = on_hand + 1": "ck_stock_held",
    "UPDATE stock SET on_hand = held - 1": "ck_stock_held",
    "UPDATE stock SET on_hand = 5000.5": "ck_stock_whole",
    "UPDATE stock SET on_hand = 'many'": "ck_stock_whole",
    "UPDATE stock SET on_hand = NULL": "NOT NULL",
    "INSERT INTO stock VALUES (1, 1, 'Lauterfeld', 1, 0, 1)": "UNIQUE|PRIMARY",
    "INSERT INTO stock VALUES (77, 1, 'Lauterfeld', 1, 0, 1)": "FOREIGN KEY",
    "INSERT INTO stock VALUES (2, 1, 'Lauterfeld', 1, 0, 1)": "FOREIGN KEY",  # a lot of one site in a bin of another
    "INSERT INTO stock VALUES (2, 1, 'Elsewhere', 1, 0, 1)": "FOREIGN KEY",
    "DELETE FROM stock": "FOREIGN KEY",
    # lots and bins
    "UPDATE lot SET unit = 'dozen'": "ck_lot_unit",
    "UPDATE lot SET item = ''": "ck_lot_told",
    "UPDATE lot SET site = 'Elsewhere' WHERE id = 1": "FOREIGN KEY",
    "INSERT INTO lot VALUES (9, 'Lauterfeld', 'XX-1', 'L1', 'each', NULL, '', '2026-03-10')": "UNIQUE",
    "INSERT INTO bin VALUES (9, 'Lauterfeld', 'A-01', 'shelf')": "UNIQUE",
    "INSERT INTO bin VALUES (9, 'Nowhere', 'A-01', 'shelf')": "FOREIGN KEY",
    "UPDATE bin SET waits = 'somewhere'": "ck_bin_waits",
    "UPDATE bin SET name = '' WHERE id = 1": "ck_bin_told",
    # holds: no lot promised twice
    "UPDATE hold SET quantity = 0": "ck_hold_quantity",
    "UPDATE hold SET quantity = 0.5": "ck_hold_whole",
    "UPDATE hold SET state = 'lost'": "ck_hold_state",
    "INSERT INTO hold SELECT 9, promise, part, booking, need, lot, bin, quantity, state, changed_at, 'x' FROM hold":
        "UNIQUE",
    "UPDATE hold SET booking = 77": "FOREIGN KEY",
    "UPDATE hold SET bin = 2": "FOREIGN KEY",  # where none of the lot ever lay
    "UPDATE hold SET changed_by = ''": "ck_hold_told",
    "DELETE FROM hold": "FOREIGN KEY",
    # ledger
    "UPDATE ledger SET action = 'steal'": "ck_ledger_action",
    "UPDATE ledger SET on_hand = -1 WHERE action = 'receive'": "ck_ledger_action",
    "UPDATE ledger SET on_hand = 1 WHERE action = 'hold'": "ck_ledger_action",
    "UPDATE ledger SET held = 1 WHERE action = 'receive'": "ck_ledger_action",
    "UPDATE ledger SET hold = NULL WHERE action = 'hold'": "ck_ledger_hold",
    "UPDATE ledger SET booking = NULL WHERE action = 'hold'": "ck_ledger_hold",
    "UPDATE ledger SET reserve = 1 WHERE action = 'hold'": "ck_ledger_reserve|FOREIGN KEY",
    "UPDATE ledger SET action = 'set aside' WHERE action = 'hold'": "ck_ledger_reserve",
    "UPDATE ledger SET held_after = on_hand_after + 1": "ck_ledger_after",
    "UPDATE ledger SET number = 1 WHERE lot = 1": "UNIQUE",
    "UPDATE ledger SET number = 0 WHERE action = 'hold'": "ck_ledger_number",
    "UPDATE ledger SET who = ''": "ck_ledger_told",
    "UPDATE ledger SET on_hand_after = 'x', held_after = 0": "ck_ledger_whole",
    # bookings, edits, kits
    "UPDATE booking SET state = 'maybe'": "ck_booking_state",
    "UPDATE booking SET priority = 'high'": "ck_booking_priority",
    "UPDATE booking SET revision = -1": "ck_booking_revision",
    "UPDATE booking SET job = ''": "ck_booking_told",
    "UPDATE booking SET zone = ''": "ck_booking_told",
    "UPDATE booking SET uid = '2'": "UNIQUE",
    "UPDATE booking SET visit = 77": "FOREIGN KEY",
    "DELETE FROM booking": "FOREIGN KEY",
    "INSERT INTO kit VALUES (77, 'e', 'f', '{}', '[]', '2026-03-10')": "FOREIGN KEY",
    "INSERT INTO edit VALUES (9, 1, 'paint', 'r', 'f', 'XX-1', 1, '', 'x', 'y', '2026-03-10', NULL, '')":
        "ck_edit_action",
    "INSERT INTO edit VALUES (9, 1, 'add', 'r', '', '', 1, '', 'x', 'y', '2026-03-10', NULL, '')": "ck_edit_item",
    "INSERT INTO edit VALUES (9, 1, 'strike', 'r', '', '', NULL, '', 'x', 'y', '2026-03-10', NULL, '')":
        "ck_edit_filler",
    "INSERT INTO edit VALUES (9, 1, 'amount', 'r', 'f', '', NULL, '', 'x', 'y', '2026-03-10', NULL, '')":
        "ck_edit_amount",
    "INSERT INTO edit VALUES (9, 1, 'amount', 'r', 'f', '', 0, '', 'x', 'y', '2026-03-10', NULL, '')": "ck_edit_amount",
    "INSERT INTO edit VALUES (9, 1, 'strike', 'r', 'f', '', NULL, '', 'x', '', '2026-03-10', NULL, '')": "ck_edit_told",
    # orders, runs
    "INSERT INTO supplier_order VALUES (9, 'k', 1, 'Lauterfeld', 's', 'slot', '2026-03-11', NULL, 'EUR', 0, 'ordered', "
    "'2026-03-10', '2026-03-11', '2026-03-10', '', NULL, NULL, '', '', '')": "ck_supplier_order_decided",
    "INSERT INTO supplier_order VALUES (9, 'k', 1, 'Lauterfeld', 's', 'slot', '2026-03-11', NULL, 'EUR', 0, 'ordered', "
    "'2026-03-10', NULL, '2026-03-10', 'Ada', NULL, NULL, '', '', '')": "ck_supplier_order_expected",
    "INSERT INTO supplier_order VALUES (9, 'k', 1, 'Lauterfeld', 's', 'slot', '2026-03-11', NULL, 'EUR', -1, "
    "'proposed', '2026-03-10', NULL, NULL, '', NULL, NULL, '', '', '')": "ck_supplier_order_fee",
    "INSERT INTO supplier_order VALUES (9, 'k', 1, 'Lauterfeld', 's', 'slot', '2026-03-11', NULL, '€', 0, 'proposed', "
    "'2026-03-10', NULL, NULL, '', NULL, NULL, '', '', '')": "ck_supplier_order_currency",
    "INSERT INTO order_line VALUES (9, 77, 'XX-1', 'each', 1000, '[]', 1, NULL, NULL, '', TRUE, NULL)": "FOREIGN KEY",
    "INSERT INTO order_for VALUES (9, 77, 'XX-1', 1, 'n', 1000, 1000)": "FOREIGN KEY",
    "INSERT INTO order_for VALUES (9, 77, 'XX-1', 1, 'n', 1000, 1001)": "ck_order_for_coming",
    "INSERT INTO supplier_order VALUES (9, 'k', 1, 'Lauterfeld', 's', 'slot', '2026-03-11', NULL, 'EUR', 0, 'unclear', "
    "'2026-03-10', NULL, '2026-03-10', 'Ada', NULL, NULL, '', '', '')": "ck_supplier_order_sent",
    "INSERT INTO supplier_order VALUES (9, 'k', 1, 'Lauterfeld', 's', 'slot', '2026-03-11', NULL, 'EUR', 0, 'lost', "
    "'2026-03-10', NULL, '2026-03-10', 'Ada', NULL, NULL, '', '', '')": "ck_supplier_order_state",
    "INSERT INTO order_event VALUES (9, 77, '2026-03-10', 'approved', 'Ada', '')": "FOREIGN KEY",
    "INSERT INTO order_event VALUES (9, 77, '2026-03-10', 'approved', '', '')": "ck_order_event_told",
    "INSERT INTO delivery VALUES (9, 77, 'N', 'XX-1', '', '', 1000, 'each', 'wrong', 'Ada', '2026-03-10')":
        "FOREIGN KEY",
    "INSERT INTO delivery VALUES (9, 77, '', 'XX-1', '', '', 1000, 'each', 'wrong', 'Ada', '2026-03-10')":
        "ck_delivery_told",
    "INSERT INTO supplier_return VALUES (9, 'Lauterfeld', 's', NULL, 'XX-1', '', 'A-01', 0, 'each', 'why', NULL, "
    "'EUR', 0, NULL, 'proposed', '', '2026-03-10', 'Ada')": "ck_supplier_return_quantity",
    "INSERT INTO supplier_return VALUES (9, 'Lauterfeld', 's', NULL, 'XX-1', '', 'A-01', 1, 'each', 'why', NULL, "
    "'EUR', 0, NULL, 'lost', '', '2026-03-10', 'Ada')": "ck_supplier_return_state",
    "INSERT INTO exchange_return VALUES (9, 77, 1, 'XX-1', 1000, NULL, 'EUR', 0, '', 'due', '', '2026-03-10', 'Ada')":
        "FOREIGN KEY",
    "INSERT INTO return_event VALUES (9, NULL, NULL, '2026-03-10', 'sent', 'Ada', '')": "ck_return_event_of_one",
    "INSERT INTO run VALUES (9, 'Lauterfeld', '2026-03-11', 'done', '2026-03-10', '', '2026-03-10', NULL, '')":
        "ck_run_finished",
    "INSERT INTO run VALUES (9, 'Lauterfeld', '2026-03-11', 'odd', '2026-03-10', '', '2026-03-10', '2026-03-10', '')":
        "ck_run_state",
    "INSERT INTO kit_check VALUES (9, 1, 'XX-1', '', 0, 'x', '2026-03-10')": "ck_kit_check_quantity",
    "INSERT INTO short_pick VALUES (9, 1, 1, 0, 'x', '2026-03-10', NULL)": "ck_short_pick_missing",
}


#: What PostgreSQL says in place of SQLite's words.
POSTGRESQL = {"FOREIGN KEY": "foreign key", "UNIQUE": "unique", "PRIMARY": "pk_", "NOT NULL": "not-null"}
#: There a column of whole numbers takes no text, and rounds what isn't whole.
TYPED = {"UPDATE stock SET on_hand = 'many'", "UPDATE ledger SET on_hand_after = 'x', held_after = 0"}
ROUNDED = {"UPDATE stock SET on_hand = 5000.5", "UPDATE hold SET quantity = 0.5"}


@pytest.fixture
def filled(store, file):
    book(store)
    book(store, "2")
    receive(store)
    receive(store, site="Elsewhere", bin="Z-01", lot="L9")
    holds.hold(store, SITE, [promise(2000)], "Ada", LATER)
    return file


@pytest.mark.parametrize("sql", BAD)
def test_a_bad_row_is_refused_by_the_database_and_changes_nothing(filled, sql):
    before, words = dump(filled), BAD[sql]
    if is_postgresql(filled):
        if sql in ROUNDED:
            sql, words = sql.replace("5000.5", "-0.5").replace("0.5", "0.4"), "ck_stock_(on_hand|held)|ck_hold_quantity"
        words = "invalid input syntax" if sql in TYPED else words
        for ours, theirs in POSTGRESQL.items():
            words = words.replace(ours, theirs)
    with raw(filled) as connection, pytest.raises(driver_error(filled)) as refused:
        connection.execute(sql)
    assert re.search(words, str(refused.value))
    assert dump(filled) == before


@pytest.mark.parametrize("sql", GOOD)
def test_a_good_row_of_the_same_shape_is_taken(filled, sql):
    with raw(filled) as connection:
        assert connection.execute(sql).rowcount == 1


@pytest.mark.parametrize("sql", [sql for sql in GOOD if "supplier_order" in sql or " run " in sql])
def test_there_is_one_open_proposal_of_a_key_and_one_open_run_of_a_day(filled, sql):
    second = sql.replace("(99, ", "(98, ").replace("'k', 1,", "'k', 2,")
    with raw(filled) as connection:
        connection.execute(sql)
        with pytest.raises(driver_error(filled), match=r"(?i)unique"):
            connection.execute(second)
        closed = second.replace("'running'", "'done'").replace(
            "'2026-03-10', NULL, '')", "'2026-03-10', '2026-03-10', '')")
        if closed != second:
            assert connection.execute(closed).rowcount == 1


def test_the_database_itself_lets_no_two_promises_take_the_same(filled, store):
    """Without any of our conditions: more can't be promised than is there."""
    with raw(filled) as connection:
        connection.execute("UPDATE stock SET held = held + 3000 WHERE lot = 1")
        with pytest.raises(driver_error(filled), match="ck_stock_held"):
            connection.execute("UPDATE stock SET held = held + 1 WHERE lot = 1")
    assert [(one.on_hand, one.held) for one in shelves.lots(store, SITE)] == [(5000, 5000)]
