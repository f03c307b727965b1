"""A small workshop in a folder: an invented catalogue of eight items, a shelf, a supplier, a fleet, a diary."""

import sqlite3
from collections.abc import Callable, Mapping, Sequence
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

from kitbuilder import amount
from kitbuilder.calendar.reading import read_sites
from kitbuilder.calendar.wall import to_utc
from kitbuilder.catalogue.cache import open_edition
from kitbuilder.model.booking import Booking, DiaryEntry, EditRow
from kitbuilder.model.order import OrderRow
from kitbuilder.model.shelf import HoldRow, Receipt
from kitbuilder.model.work import BookingReport, Report
from kitbuilder.night.run import run_night
from kitbuilder.night.surroundings import Surroundings
from kitbuilder.plugins import Plugins, load_plugins
from kitbuilder.settings import DEMO_MARK, FILE, read_settings
from kitbuilder.store import bookings, holds, orders, shelves
from kitbuilder.store.database import open_store
from tests.databases import laid

NOW = datetime(2026, 3, 10, 15, tzinfo=UTC)  # a Tuesday
DAY = date(2026, 3, 11)

CATALOGUE = {
    "catalogue.toml": 'name = "Invented"\nformat = 1\ncurrency = "EUR"\n',
    "facts.toml": """\
[facts.emissions]
of = "vehicle"
values = ["Euro V", "Euro VI"]
question = "Which emissions generation?"
where = "On the plate"

[facts.place]
of = "job"
values = ["workshop", "yard"]
question = "Where is the work done?"
where = "In the booking"
""",
    "roles.toml": """\
[roles.seal]
title = "Seal"
sort = "single-use"
takes = "one"

[roles.oil]
title = "Oil fill"
sort = "consumable"
takes = "one"
circuit = "box"

[roles.unit]
title = "Unit"
sort = "exchange unit"
takes = "one"

[roles.pipe]
title = "Pipe"
sort = "part"
takes = "any"

[roles.wipes]
title = "Wipes"
sort = "consumable"
takes = "one"
per = "visit"

[roles.crane]
title = "Crane"
sort = "special tool"
takes = "one"

[findings.corroded]
title = "The pipe is corroded"
chance = 0.2
""",
    "requirements.toml": """\
[requirements.box-oil]
title = "Oil of the box"
kind = "gear oil"
grade = "75W-80"
""",
    "jobs/all.toml": """\
[jobs.seal-change]
title = "Change the seal"
stages = [{ name = "strip", minutes = 60 }, { name = "fit", minutes = 60 }]
roles = { seal = "fit", pipe = "fit", wipes = "strip" }

[jobs.oil-change]
title = "Change the oil"
stages = [{ name = "drain", minutes = 30 }, { name = "fill", minutes = 30 }]
roles = { oil = "fill", wipes = "drain" }

[jobs.unit-change]
title = "Change the unit"
stages = [{ name = "strip", minutes = 120 }, { name = "fit", minutes = 120 }]
roles = { unit = "fit", crane = "strip" }

[jobs.yard-wipe]
title = "Wipe it in the yard"
stages = [{ name = "wipe", minutes = 10 }]
roles = { wipes = "wipe" }
""",
    "items.csv": """\
number;name;unit;rank;kind;grade;codes
S-5;Seal, Euro V;each;;;;2000000000015
S-6;Seal, Euro VI;each;;;;
O-1;Oil, best;L;1;gear oil;75W-80;
O-2;Oil, other;L;2;gear oil;75W-80;
U-1;Unit;each;;;;
P-1;Pipe;each;;;;
W-1;Wipe;each;;;;
W-2;Wipe, coarse;each;;;;
T-1;Crane;each;;;;
""",
    "fits/all.csv": """\
job,role,item,requirement,amount,unit,finding,emissions
,seal,S-5,,2,each,,Euro V
,seal,S-6,,2,each,,Euro VI
,oil,,box-oil,3,L,,Euro V
,oil,,box-oil,5,L,,Euro VI
,unit,U-1,,1,each,,
,pipe,P-1,,1,each,corroded,
seal-change,wipes,W-1,,2,each,,
oil-change,wipes,W-1,,3,each,,
yard-wipe,wipes,W-2,,1,each,,
,crane,T-1,,1,each,,
""",
}

SITE = """\
[sites.{name}]
zone = "{zone}"
[sites.{name}.shifts]
monday = ["06:00 to 18:00"]
tuesday = ["06:00 to 18:00"]
wednesday = ["06:00 to 18:00"]
thursday = ["06:00 to 18:00"]
friday = ["06:00 to 18:00"]
"""

SETTINGS = """\
catalogue = "catalogue"
store = "workshop.db"
now = 2026-03-10T15:00:00+00:00

[sources.shelf]
plugin = "shelf"

[sources.supplier]
plugin = "price-file"
file = "supplier.csv"
supplier = true

[registers.fleet]
plugin = "fleet-file"
file = "fleet.csv"

[diaries.office]
plugin = "diary-file"
file = "diary.csv"

"""

FLEET = "registration,emissions\nDEMO 5,Euro V\nDEMO 6,Euro VI\nDEMO 0,\n"
PRICES = "item,quantity,unit,ready,price,per,currency,as_of\n"
DIARY = "id,recurrence,revision,visit,start,site,job,registration,state,priority,emissions\n"

#: What differs between two runs that do the same: their own record.
RECORD = ("run", "run_step")


class Shop:
    """The workshop, with its store open."""

    def __init__(self, folder: Path, sites: Mapping[str, str] | None = None, store: Path | str | None = None) -> None:
        """`store`: where it is, if not in the folder."""
        self.folder, self.now = folder, NOW
        for name, text in CATALOGUE.items():
            path = folder / "catalogue" / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(text, "utf-8")
        (folder / DEMO_MARK).write_text("a workshop of the tests\n", "utf-8")
        self.settings_text = SETTINGS + "\n".join(
            SITE.format(name=name, zone=zone) for name, zone in (sites or {"marl": "Europe/London"}).items())
        if store is not None:
            self.settings_text = self.settings_text.replace('store = "workshop.db"', f'store = "{store}"')
        (folder / FILE).write_text(self.settings_text, "utf-8")
        (folder / "fleet.csv").write_text(FLEET, "utf-8")
        self.supplier()
        self.diary()
        self.store = open_store(store or laid(folder / "workshop.db"))

    def settings(self, *changes: tuple[str, str]) -> None:
        """Change the settings: what stands there once, what shall stand there."""
        for old, new in changes:
            assert self.settings_text.count(old) == 1, old
            self.settings_text = self.settings_text.replace(old, new)
        (self.folder / FILE).write_text(self.settings_text, "utf-8")

    def supplier(self, *rows: str) -> None:
        """What the supplier has: rows such as `S-6,4,each,2026-03-11T07:00:00+00:00,3.10,1`."""
        text = PRICES + "".join(f"{row},EUR,2026-03-10T14:00:00+00:00\n" for row in rows)
        (self.folder / "supplier.csv").write_text(text, "utf-8")

    def diary(self, *rows: str) -> None:
        """What the diary has: rows such as `a,,0,,2026-03-11T08:00,marl,seal-change,DEMO 5,authorised,normal,`."""
        (self.folder / "diary.csv").write_text(DIARY + "".join(f"{row}\n" for row in rows), "utf-8")

    def receive(self, item: str, quantity: str, unit: str = "each", bin_name: str = "A-1", lot: str = "",
                use_by: date | None = None, site: str = "marl") -> None:
        """Goods in."""
        shelves.receive(self.store, Receipt(
            site=site, item=item, bin=bin_name, quantity=amount.parse(quantity, unit, unit), unit=unit, lot=lot,
            use_by=use_by), "tester", NOW)

    def book(self, job: str, start: str = "2026-03-11T08:00", **told: Any) -> int:
        """A booking made at the desk; its number."""
        name = told.pop("id", f"{job} {start} {len(bookings.every(self.store))}")
        entry = DiaryEntry(id=name, start=datetime.fromisoformat(start), site=told.pop("site", "marl"), job=job, **told)
        number, _ = bookings.put(
            self.store, "desk", entry, to_utc(entry.start, "Europe/London"), "Europe/London", self.now)
        return number

    def edit(self, booking: int, action: str, role: str, **told: Any) -> int:
        """An edit by hand; its number."""
        return bookings.add_edit(self.store, EditRow(
            booking=booking, action=action, role=role, who="A. Person", why="said so", at=NOW, **told))  # type: ignore[arg-type]

    def around(self, site: str = "marl", after: Callable[[str], None] = lambda _: None,
               plugins: Plugins | None = None) -> Surroundings:
        """The surroundings of a run, read anew as a command would."""
        settings = read_settings(self.folder / FILE)
        edition = open_edition(self.folder / "catalogue", self.folder / ".cache")
        sites = read_sites(FILE, settings.sites)
        return Surroundings(settings, plugins or load_plugins(), edition, self.store, sites[site],
                            self.folder / "documents", self.now, tuple(sites), after)

    def run(self, day: date = DAY, site: str = "marl", after: Callable[[str], None] = lambda _: None,
            plugins: Plugins | None = None) -> Report:
        """A run in this process."""
        return run_night(self.around(site, after, plugins), day)

    def held(self, booking: int | None = None) -> dict[str, int]:
        """What is held, by need and item in thousandths."""
        found: dict[str, int] = {}
        for row in self.holds(booking):
            key = f"{row.need} {row.item}"
            found[key] = found.get(key, 0) + row.quantity
        return found

    def holds(self, booking: int | None = None) -> list[HoldRow]:
        """The holds that stand."""
        return holds.holds(self.store, booking)

    def orders(self, *states: str) -> list[OrderRow]:
        """The site's orders in some states; without any, proposals."""
        return orders.orders(self.store, None, states or ("proposed",))

    def decide(self, order: int, state: str, by: str = "A. Person") -> None:
        """A person decides on an order."""
        orders.decide(self.store, order, state, by, self.now)  # type: ignore[arg-type]

    def booking(self, number: int) -> Booking:
        """A booking."""
        return bookings.get(self.store, number)

    def dump(self, leave_out: Sequence[str] = RECORD) -> dict[str, list[tuple[Any, ...]]]:
        """All rows of all tables but some."""
        with sqlite3.connect(self.folder / "workshop.db") as connection:
            names = [name for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
            return {
                name: sorted(connection.execute(f'SELECT * FROM "{name}"'), key=repr)
                for name in names if name not in leave_out and not name.startswith("sqlite_")}

    def documents(self) -> dict[str, bytes]:
        """All papers, by path."""
        folder = self.folder / "documents"
        return {
            str(path.relative_to(folder)): path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file()}

    def sound(self) -> None:
        """That the ledger proves every balance."""
        assert shelves_audit(self) == []


def shelves_audit(shop: Shop) -> list[Any]:
    """What the audit finds."""
    from kitbuilder.store.audit import audit

    return list(audit(shop.store))


def row_of(report: Report, booking: int) -> BookingReport:
    """A booking in a report."""
    return next(row for row in report.bookings if row.booking == booking)
