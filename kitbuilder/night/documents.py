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
from kitbuilder.catalogue.succession import Supersessions
from kitbuilder.model.catalogue import Item
from kitbuilder.model.order import OrderRow
from kitbuilder.model.transfer import Load
from kitbuilder.model.work import Report
from kitbuilder.model.workshop_listing import LoadListed, LoadRowListed, OrderLineListed, OrderListed, OrdersListed
from kitbuilder.show.orders import orders_text
from kitbuilder.show.paper import Paper
from kitbuilder.show.transfers import loads_text
from kitbuilder.show.workshop import pick_text, report_text
from kitbuilder.stock.supersede import why_ordered
from kitbuilder.store.database import Store
from kitbuilder.store.holds import holds
from kitbuilder.store.orders import orders
from kitbuilder.store.reserves import reserves
from kitbuilder.store.shelves import lots
from kitbuilder.store.transfers import loads_at
from kitbuilder.workshop.picking import pick_list
from kitbuilder.workshop.work import Work


def write_documents(folder: Path, works: Sequence[Work], store: Store, site: Site, items: Mapping[str, Item],
                    day: date, supersessions: Supersessions | None = None) -> None:
    """Write the papers of a day into a folder; what is there of an earlier run is put right, and pick lists of bookings
    that aren't of the day any more are taken away."""
    folder.mkdir(parents=True, exist_ok=True)
    shelf = lots(store, site.name, list(items))
    aside = reserves(store, site.name)
    written = set()
    for work in works:
        if to_wall(work.booking.start, site.zone).date() != day:
            continue
        rows = pick_list(work.booking, work.lines, holds(store, work.booking.number), items, shelf,
                         built=work.kit, aside=aside)
        name = f"pick-{work.booking.number}"
        written |= {f"{name}.txt", f"{name}.json"}
        _write(folder / f"{name}.txt", pick_text(rows, Paper()).encode())
        _write(folder / f"{name}.json", msgspec.json.encode(rows))
    for path in folder.glob("pick-*.*"):
        if path.name not in written:
            path.unlink(missing_ok=True)
    found = orders(store, site.name, ("proposed",))
    because = why_ordered(found, supersessions)
    _write(folder / "orders.txt", orders_text(found, items, site.zone, Paper(), because).encode())
    loads = loads_at(store, site.name)
    _write(folder / "orders.json", msgspec.json.encode(orders_listed(found, {site.name: loads}, because)))
    _write_or_not(folder / "to-load.txt", loads_text(loads, items, site.zone, Paper()).encode())


def write_report(folder: Path, report: Report) -> None:
    """Write the report of a run beside its other papers."""
    folder.mkdir(parents=True, exist_ok=True)
    _write(folder / "report.txt", report_text(report, Paper()).encode())
    _write(folder / "report.json", msgspec.json.encode(report))


def orders_listed(found: Sequence[OrderRow], loads: Mapping[str, Sequence[Load]] | None = None,
                  because: Mapping[str, tuple[str, ...]] | None = None) -> OrdersListed:
    """Orders as they leave in JSON, with what goes from sites (by name) to others. `because`: why an item is ordered
    instead of what a kit names."""
    return OrdersListed("kitbuilder.orders/1", (), tuple(_listed(one, because or {}) for one in found), tuple(
        _load(site, one) for site, some in (loads or {}).items() for one in some))


def _load(site: str, load: Load) -> LoadListed:
    return LoadListed(
        load.order, site, load.site, load.source, load.slot, load.state,
        load.leaves.isoformat() if load.leaves else None, load.ready.isoformat(), tuple(
            LoadRowListed(row.item, row.lot, row.bin, amount.show(row.quantity), row.unit,
                          row.use_by.isoformat() if row.use_by else None, row.booking) for row in load.rows))


def _listed(order: OrderRow, because: Mapping[str, tuple[str, ...]]) -> OrderListed:
    return OrderListed(
        order.id, order.source, order.state, order.ready.isoformat(),
        order.cut_off.isoformat() if order.cut_off else None,
        order.expected_at.isoformat() if order.expected_at else None, order.currency,
        amount.show_money(order.fee, order.currency),
        tuple(OrderLineListed(line.item, amount.show(line.quantity), line.unit, sum(count for _, count in line.packs),
                              amount.show_money(line.minor, order.currency),
                              None if line.confirmed is None else amount.show(line.confirmed), line.substitute,
                              line.returnable, because.get(line.item, ()),
                              line.expected_at.isoformat() if line.expected_at else None) for line in order.lines),
        tuple(sorted({one.booking for one in order.wanted_for})), order.decided_by, order.supplier_number, order.said,
        order.site, order.from_site, amount.show_money(order.total, order.currency))


def _write_or_not(path: Path, data: bytes) -> None:
    """Write a paper, or take it away where there is nothing for it."""
    if data:
        _write(path, data)
    else:
        path.unlink(missing_ok=True)


def _write(path: Path, data: bytes) -> None:
    beside = path.with_name(f".{path.name}.{os.getpid()}")
    beside.write_bytes(data)
    os.replace(beside, path)
