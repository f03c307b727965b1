"""The papers of a run: a pick list for each booking of the day, the order proposals, the report; text and JSON.

They are written after what they tell is committed, beside their place and then renamed.
"""

import os
from collections.abc import Mapping, Sequence
from datetime import date
from pathlib import Path

import msgspec

from kitbuilder import amount
from kitbuilder.calendar.site import Site
from kitbuilder.calendar.wall import to_wall
from kitbuilder.model.catalogue import Item
from kitbuilder.model.order import OrderRow
from kitbuilder.model.work import Report
from kitbuilder.model.workshop_listing import OrderLineListed, OrderListed, OrdersListed
from kitbuilder.show.paper import Paper
from kitbuilder.show.workshop import orders_text, pick_text, report_text
from kitbuilder.store.database import Store
from kitbuilder.store.holds import holds
from kitbuilder.store.orders import orders
from kitbuilder.store.shelves import lots
from kitbuilder.workshop.picking import pick_list
from kitbuilder.workshop.work import Work


def write_documents(folder: Path, works: Sequence[Work], store: Store, site: Site, items: Mapping[str, Item],
                    day: date) -> None:
    """Write the papers of a day into a folder; what is there of an earlier run is put right, and pick lists of bookings
    that aren't of the day any more are taken away."""
    folder.mkdir(parents=True, exist_ok=True)
    shelf = lots(store, site.name, list(items))
    written = set()
    for work in works:
        if to_wall(work.booking.start, site.zone).date() != day:
            continue
        rows = pick_list(work.booking, work.lines, holds(store, work.booking.number), items, shelf,
                         built=work.kit)
        name = f"pick-{work.booking.number}"
        written |= {f"{name}.txt", f"{name}.json"}
        _write(folder / f"{name}.txt", pick_text(rows, Paper()).encode())
        _write(folder / f"{name}.json", msgspec.json.encode(rows))
    for path in folder.glob("pick-*.*"):
        if path.name not in written:
            path.unlink(missing_ok=True)
    found = orders(store, site.name, ("proposed",))
    _write(folder / "orders.txt", orders_text(found, items, site.zone, Paper()).encode())
    _write(folder / "orders.json", msgspec.json.encode(orders_listed(found)))


def write_report(folder: Path, report: Report) -> None:
    """Write the report of a run beside its other papers."""
    folder.mkdir(parents=True, exist_ok=True)
    _write(folder / "report.txt", report_text(report, Paper()).encode())
    _write(folder / "report.json", msgspec.json.encode(report))


def orders_listed(found: Sequence[OrderRow]) -> OrdersListed:
    """Orders as they leave in JSON."""
    return OrdersListed("kitbuilder.orders/1", (), tuple(_listed(one) for one in found))


def _listed(order: OrderRow) -> OrderListed:
    return OrderListed(
        order.id, order.source, order.state, order.ready.isoformat(),
        order.cut_off.isoformat() if order.cut_off else None,
        order.expected_at.isoformat() if order.expected_at else None, order.currency,
        amount.show_money(order.fee, order.currency),
        tuple(OrderLineListed(line.item, amount.show(line.quantity), line.unit, sum(count for _, count in line.packs),
                              amount.show_money(line.minor, order.currency),
                              None if line.confirmed is None else amount.show(line.confirmed), line.substitute,
                              line.returnable) for line in order.lines),
        tuple(sorted({one.booking for one in order.wanted_for})), order.decided_by, order.supplier_number, order.said)


def _write(path: Path, data: bytes) -> None:
    beside = path.with_name(f".{path.name}.{os.getpid()}")
    beside.write_bytes(data)
    os.replace(beside, path)
