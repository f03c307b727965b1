"""The audit: whatever another program changed behind the ledger's back is named, with the first wrong row."""

import pytest

from kitbuilder.errors import StoreRefuses
from kitbuilder.store import holds, shelves
from kitbuilder.store.audit import audit
from tests.store.shelf import LATER, NOW, SITE, book, dump, promise, raw, receive


@pytest.fixture
def busy(store, file):
    """A day's work: ledger rows 1 to 9 are of XX-1, 10 of YY-1."""
    book(store)
    receive(store, 5000)  # 1
    [one] = holds.hold(store, SITE, [promise(2000, "a")], "Ada", NOW)  # 2
    holds.hold(store, SITE, [promise(1000, "b")], "Ada", NOW)  # 3
    holds.step(store, [one.id], "picking", "Ben", NOW)  # 4
    holds.step(store, [one.id], "picked", "Ben", NOW)  # 5
    holds.step(store, [one.id], "issued", "Ben", NOW)  # 6
    shelves.count(store, SITE, "XX-1", "L1", "A-01", 2500, "Cem", "", LATER)  # 7
    shelves.move(store, SITE, "XX-1", "L1", "A-01", "B-01", 500, "Cem", LATER)  # 8 out, 9 in
    receive(store, 4000, item="YY-1", lot="")  # 10
    assert audit(store) == []
    return file


SAYS = "this row says that"
#: What was done to the database, and what the audit says: item, bin, how the text begins, the row.
TAMPERED = [
    ("UPDATE stock SET on_hand = on_hand + 1000 WHERE lot = 1 AND bin = 1",
     [("XX-1", "A-01", "3 are there, but the ledger proves 2", None)]),
    ("UPDATE stock SET held = held - 1000 WHERE lot = 1 AND bin = 1",
     [("XX-1", "A-01", "0 are promised, but the ledger proves 1", None),
      ("XX-1", "A-01", "0 are promised, but the holds add up to 1", None)]),
    ("UPDATE stock SET changes = changes + 1 WHERE lot = 2",
     [("YY-1", "A-01", "2 changes made this balance, but the ledger ends with number 1", None)]),
    ("DELETE FROM stock WHERE lot = 2",
     [("YY-1", "A-01", "0 are there, but the ledger proves 4", None),
      ("YY-1", "A-01", "0 changes made this balance, but the ledger ends with number 1", None)]),
    ("DELETE FROM ledger WHERE id = 3",
     [("XX-1", "A-01", "the ledger lacks 1 of the rows before this one", 4),
      ("XX-1", "A-01", "hold 2 is planned with 1, but the ledger has 0 promised for it and 0 issued", None)]),
    ("DELETE FROM ledger WHERE id IN (1, 2)",
     [("XX-1", "A-01", "the ledger lacks 2 of the rows before this one", 3),
      ("XX-1", "A-01", "hold 1 is issued with 2, but the ledger has -2 promised for it and 2 issued", None)]),
    ("DELETE FROM ledger WHERE id = 8",
     [("XX-1", "A-01", "2 are there, but the ledger proves 2.5", None),
      ("XX-1", "A-01", "8 changes made this balance, but the ledger ends with number 7", None)]),
    ("DELETE FROM ledger WHERE id = 10",
     [("YY-1", "A-01", "4 are there, but the ledger proves 0", None),
      ("YY-1", "A-01", "1 changes made this balance, but the ledger ends with number 0", None)]),
    ("UPDATE ledger SET on_hand = 6000 WHERE id = 1",
     [("XX-1", "A-01", f"{SAYS} 5 are there then and 0 promised, but the rows up to it come to 6 and 0", 1)]),
    ("UPDATE ledger SET on_hand = 1000, on_hand_after = 4000 WHERE id = 7",
     [("XX-1", "A-01", f"{SAYS} 2 are there then and 1 promised, but the rows up to it come to 3.5 and 1", 8)]),
    ("UPDATE ledger SET on_hand_after = 9000 WHERE id = 7",
     [("XX-1", "A-01", f"{SAYS} 9 are there then and 1 promised, but the rows up to it come to 2.5 and 1", 7)]),
    ("UPDATE ledger SET lot = 2, number = 2 WHERE id = 7",
     [("XX-1", "A-01", "the ledger lacks 1 of the rows before this one", 8), ("YY-1", "A-01", "this row says", 7),
      ("YY-1", "A-01", "4 are there, but the ledger proves 2.5", None),
      ("YY-1", "A-01", "0 are promised, but the ledger proves 1", None),
      ("YY-1", "A-01", "1 changes made this balance, but the ledger ends with number 2", None)]),
    ("INSERT INTO ledger SELECT 11, at, 'receive', lot, bin, 2, 1000, 0, 5000, 0, NULL, NULL, who, '', NULL FROM "
     "ledger WHERE id = 10",
     [("YY-1", "A-01", "4 are there, but the ledger proves 5", None),
      ("YY-1", "A-01", "1 changes made this balance, but the ledger ends with number 2", None)]),
    ("UPDATE hold SET quantity = 500 WHERE id = 2",
     [("XX-1", "A-01", "1 are promised, but the holds add up to 0.5", None),
      ("XX-1", "A-01", "hold 2 is planned with 0.5, but the ledger has 1 promised for it and 0 issued", None)]),
    ("UPDATE hold SET state = 'released' WHERE id = 2",
     [("XX-1", "A-01", "1 are promised, but the holds add up to 0", None),
      ("XX-1", "A-01", "hold 2 is released with 1, but the ledger has 1 promised", None)]),
    ("UPDATE hold SET state = 'planned' WHERE id = 1",
     [("XX-1", "A-01", "1 are promised, but the holds add up to 3", None),
      ("XX-1", "A-01", "hold 1 is planned with 2, but the ledger has 0 promised for it and 2 issued", None)]),
    ("DELETE FROM hold WHERE id = 2", [("XX-1", "A-01", "1 are promised, but the holds add up to 0", None)]),
    ("DELETE FROM lot WHERE id = 2; UPDATE stock SET on_hand = 1 WHERE lot = 2",
     [("lot no. 2, which is gone,", "A-01", "0.001 are there, but the ledger proves 4", None)]),
    ("DELETE FROM bin WHERE id = 2; UPDATE stock SET on_hand = 1 WHERE bin = 2",
     [("XX-1", "bin no. 2, which is gone", "0.001 are there, but the ledger proves 0.5", None)]),
]


@pytest.mark.parametrize("sql,expected", TAMPERED, ids=[sql for sql, _ in TAMPERED])
def test_what_was_tampered_with_is_named_with_the_first_wrong_row(busy, store, sql, expected):
    with raw(busy, foreign_keys=False) as connection:
        for one in sql.split("; "):
            connection.execute(one)
    found = audit(store)
    assert [(one.item, one.bin, one.ledger_row) for one in found] == [
        (item, bin_, row) for item, bin_, _, row in expected]
    for fault, (_, _, text, _) in zip(found, expected, strict=True):
        assert fault.text.startswith(text)


def test_the_audit_changes_nothing_and_sees_one_state(busy, store):
    before = dump(busy)
    assert audit(store) == []
    assert dump(busy) == before


def test_a_store_whose_tables_are_gone_can_t_be_audited_and_says_so(busy, store):
    with raw(busy, foreign_keys=False) as connection:
        connection.execute("DROP TABLE ledger")
    with pytest.raises(StoreRefuses, match="tables aren't what they should be"):
        audit(store)
