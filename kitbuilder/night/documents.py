"""The papers of a run: a pick list for each booking of the day, and the order proposals; text and JSON.

They are written after what they tell is committed, beside their place and then renamed.
"""

import os
from collections.abc import Mapping, Sequence
from datetime import date
from pathlib import Path

import msgspec

from kitbuilder.calendar.site import Site
from kitbuilder.calendar.wall import to_wall
from kitbuilder.model.catalogue import Item
from kitbuilder.show.paper import Paper
from kitbuilder.show.workshop import orders_text, pick_text
from kitbuilder.store.database import Store
from kitbuilder.store.holds import holds
from kitbuilder.store.orders import orders
from kitbuilder.store.shelves import lots
from kitbuilder.workshop.picking import pick_list
from kitbuilder.workshop.work import Work


def write_documents(folder: Path, works: Sequence[Work], store: Store, site: Site, items: Mapping[str, Item],
                    day: date) -> None:
    """Write the papers of a day into a folder; what is there of an earlier run is put right."""
    folder.mkdir(parents=True, exist_ok=True)
    shelf = lots(store, site.name, list(items))
    for work in works:
        if to_wall(work.booking.start, site.zone).date() != day:
            continue
        rows = pick_list(work.booking, work.lines, holds(store, work.booking.number), items, shelf)
        _write(folder / f"pick-{work.booking.number}.txt", pick_text(rows, Paper()).encode())
        _write(folder / f"pick-{work.booking.number}.json", msgspec.json.encode(rows))
    open_orders = orders(store, site.name, ("proposed",))
    _write(folder / "orders.txt", orders_text(open_orders, items, site.zone, Paper()).encode())
    _write(folder / "orders.json", msgspec.json.encode(open_orders))


def _write(path: Path, data: bytes) -> None:
    beside = path.with_name(f".{path.name}.{os.getpid()}")
    beside.write_bytes(data)
    os.replace(beside, path)
