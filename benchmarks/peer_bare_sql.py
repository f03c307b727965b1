"""A hold as somebody would write it who needs nothing but this: the statements, and the driver alone."""

import sqlite3
from datetime import datetime

import psycopg

from kitbuilder.model.shelf import HoldRow, Promise
from kitbuilder.store.postgres import TOGETHER

PARTS = """SELECT hold.id, hold.part, hold.quantity, hold.state, hold.booking, hold.need, lot.item, lot.number,
    lot.site, bin.name, lot.unit, lot.use_by
    FROM hold JOIN lot ON lot.id = hold.lot JOIN bin ON bin.id = hold.bin
    WHERE hold.promise = ? ORDER BY hold.part"""
PLACES = """SELECT stock.lot, stock.bin, stock.on_hand - stock.held AS anon_1, bin.name, lot.unit, lot.use_by
    FROM stock JOIN lot ON lot.id = stock.lot JOIN bin ON bin.id = stock.bin
    WHERE lot.site = ? AND lot.item = ? AND lot.number = ? AND lot.quarantine = ? AND stock.on_hand > stock.held
    ORDER BY bin.name"""
PART = """INSERT INTO hold (promise, part, booking, need, lot, bin, quantity, state, changed_at, changed_by)
    VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?) RETURNING id"""
CHANGE = """UPDATE stock SET on_hand=(stock.on_hand + ?), held=(stock.held + ?), changes=(stock.changes + ?)
    WHERE stock.lot = ? AND stock.bin = ? AND ((stock.on_hand - stock.held) + ?) - ? >= ?
    RETURNING on_hand, held, changes"""
ROW = """INSERT INTO ledger (at, action, lot, bin, number, on_hand, held, on_hand_after, held_after, booking, hold, who,
    why, reserve) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)"""


def bare_sqlite(connection: sqlite3.Connection, one: Promise, at: datetime) -> list[HoldRow]:
    """The hold in a file."""
    run, now = connection.execute, at.strftime("%Y-%m-%d %H:%M:%S.%f")
    run("BEGIN IMMEDIATE")
    try:
        if run(PARTS, (one.key,)).fetchall():
            raise LookupError("held already")
        lot, bin_, free, bin_name, unit, use_by = run(PLACES, ("Demo", one.item, one.lot, "")).fetchall()[0]
        if free < one.quantity:
            raise LookupError("not there")
        ((number,),) = run(PART, (
            one.key, 0, one.booking, one.need, lot, bin_, one.quantity, "planned", now, "bench")).fetchall()
        ((on_hand, held, changes),) = run(CHANGE, (0, one.quantity, 1, lot, bin_, 0, one.quantity, 0)).fetchall()
        run(ROW, (now, "hold", lot, bin_, changes, 0, one.quantity, on_hand, held, one.booking, number, "bench",
                  one.need, None))
        run("COMMIT")
    except BaseException:
        run("ROLLBACK")
        raise
    return [HoldRow(number, one.key, one.booking, one.need, one.item, one.lot, bin_name, one.quantity, unit, "planned",
                    use_by)]


def _typed(sql: str, **types: str) -> str:
    """A statement whose parameters have names and types, in their order."""
    for name, kind in types.items():
        sql = sql.replace("?", f"%({name.removesuffix('__')})s::{kind}", 1)
    assert "?" not in sql
    return sql


TEXT, WHOLE, BIG, MOMENT = "VARCHAR", "INTEGER", "BIGINT", "TIMESTAMP WITH TIME ZONE"
PG_PARTS = _typed(PARTS, promise=TEXT)
PG_PLACES = _typed(PLACES, site=TEXT, item=TEXT, lot=TEXT, quarantine_1=TEXT)
PG_PART = _typed(PART, promise=TEXT, part=WHOLE, booking=WHOLE, need=TEXT, lot=WHOLE, bin=WHOLE, quantity=BIG,
                 state=TEXT, changed_at=MOMENT, changed_by=TEXT).replace(" RETURNING id", " RETURNING hold.id")
PG_CHANGE = _typed(CHANGE, on_hand_=BIG, held_=BIG, changes_1=BIG, lot_=WHOLE, bin_=WHOLE, on_hand___=BIG, held___=BIG,
                   param_1=BIG).replace(" RETURNING on_hand, held, changes",
                                        " RETURNING stock.on_hand, stock.held, stock.changes")
PG_ROW = _typed(ROW, at=MOMENT, action=TEXT, lot=WHOLE, bin=WHOLE, number=BIG, on_hand=BIG, held=BIG,
                on_hand_after=BIG, held_after=BIG, booking=WHOLE, hold=WHOLE, who=TEXT, why=TEXT,
                reserve=WHOLE)


def bare_postgresql(connection: psycopg.Connection, one: Promise, now: datetime) -> list[HoldRow]:
    """The hold on a server."""
    with connection.cursor() as cursor:
        run = cursor.execute
        try:
            run(TOGETHER)
            if run(PG_PARTS, {"promise": one.key}).fetchall():
                raise LookupError("held already")
            lot, bin_, free, bin_name, unit, use_by = run(PG_PLACES, {
                "site": "Demo", "item": one.item, "lot": one.lot, "quarantine_1": ""}).fetchall()[0]
            if free < one.quantity:
                raise LookupError("not there")
            ((number,),) = run(PG_PART, {
                "promise": one.key, "part": 0, "booking": one.booking, "need": one.need, "lot": lot, "bin": bin_,
                "quantity": one.quantity, "state": "planned", "changed_at": now, "changed_by": "bench"}).fetchall()
            ((on_hand, held, changes),) = run(PG_CHANGE, {
                "on_hand_": 0, "held_": one.quantity, "changes_1": 1, "lot_": lot, "bin_": bin_,
                "param_1": 0}).fetchall()
            run(PG_ROW, {
                "at": now, "action": "hold", "lot": lot, "bin": bin_, "number": changes, "on_hand": 0,
                "held": one.quantity, "on_hand_after": on_hand, "held_after": held, "booking": one.booking,
                "hold": number, "who": "bench", "why": one.need, "reserve": None})
            connection.commit()
        except BaseException:
            connection.rollback()
            raise
    return [HoldRow(number, one.key, one.booking, one.need, one.item, one.lot, bin_name, one.quantity, unit, "planned",
                    use_by)]
