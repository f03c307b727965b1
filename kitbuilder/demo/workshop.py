"""Lays out the demo workshop: an invented catalogue, fleet, shelf, suppliers and diary, and a clock that stands."""

import re
import shutil
from datetime import date
from importlib import resources
from pathlib import Path

from kitbuilder.demo.supplier import HOST, PRICES, DemoSupplier, demo_supplier
from kitbuilder.errors import WrongUse
from kitbuilder.settings import DEMO_MARK, FILE, read_settings

#: What lies on the shelf at first.
SHELF = "shelf.csv"
#: Files of the demo catalogue that belong to the workshop around it.
BESIDE = ("fleet.csv", SHELF, "diary.csv", "prices-supplier.csv", PRICES, "scans-7.txt")
CATALOGUE = "catalogue"
FAULTY = "catalogue-with-a-fault"
#: The row that is taken out of the faulty catalogue: file, and what it says.
FAULT = ("fits/exhaust.csv", ",exhaust-clamp,EX-71130,")
#: What a workshop leaves while it is at work: its store, what SQLite keeps beside it, its papers.
LEFT = ("workshop.db", "workshop.db-wal", "workshop.db-shm", "documents")

SETTINGS = f"""\
# An invented workshop. Its clock stands still, so that the story is the same every day.
catalogue = "catalogue"
store = "workshop.db"
now = 2026-03-10T15:00:00+00:00

[sites.hillfoot]
zone = "Europe/London"
holidays = "GB-ENG"

[sites.hillfoot.shifts]
monday = ["06:00 to 14:00", "14:00 to 22:00"]
tuesday = ["06:00 to 14:00", "14:00 to 22:00"]
wednesday = ["06:00 to 14:00", "14:00 to 22:00"]
thursday = ["06:00 to 14:00", "14:00 to 22:00"]
friday = ["06:00 to 14:00"]
breaks = ["09:30 to 09:45", "12:00 to 12:30", "17:30 to 18:00"]

[diaries.office]
plugin = "diary-file"
file = "diary.csv"

[sources.shelf]
plugin = "shelf"

[sources.supplier]
plugin = "price-file"
file = "prices-supplier.csv"
supplier = true

# It answers while `kitbuilder demo` tells its story, or while `kitbuilder demo supplier` runs in another terminal.
[sources.wholesaler]
plugin = "http-supplier"
url = "http://{HOST}:8937"
orders = true
return_days = 14
return_fee_percent = 15

[registers.fleet]
plugin = "fleet-file"
file = "fleet.csv"

# What is charged to customers, before tax (selling.csv has the prices of parts).
[labour]
rate = "92.00"
tax = "20"
deposit_tax = "when kept"

# What decides whether a part goes along that only a finding would need.
[on-condition]
place = "place"
away = ["roadside", "on-site"]
stopped = "640.00"
handling = "1.50"
per_kg = "0.40"
most_weight = "60"
hour = "85.00"
reserve = "0.50"
"""


def demo_catalogue() -> Path:
    """The folder of the demo catalogue: inside the installed package, or at the top of a checkout."""
    package = Path(str(resources.files("kitbuilder")))
    for folder in (package / "_demo_catalog", package.parent / "demo_catalog"):
        if folder.is_dir():
            return folder
    raise WrongUse("The demo catalogue is not installed; install kitbuilder again.")


def lay_out(folder: Path) -> None:
    """Make a demo workshop in a folder, or put an earlier one back as it was; other files there are left alone.

    Raises WrongUse if the folder isn't empty and isn't a demo's.
    """
    if folder.exists() and not folder.is_dir():
        raise WrongUse(f"{folder} is a file. Name a new or empty folder for the demo.")
    if folder.is_dir() and any(folder.iterdir()) and not (folder / DEMO_MARK).exists():
        raise WrongUse(f"{folder} is not empty and not a demo's. Name a new or empty folder for the demo.")
    source = demo_catalogue()
    folder.mkdir(parents=True, exist_ok=True)
    (folder / DEMO_MARK).write_text("kitbuilder demo made this folder and may lay it out anew.\n", "utf-8")
    for name in (CATALOGUE, FAULTY):
        shutil.rmtree(folder / name, ignore_errors=True)
        shutil.copytree(source, folder / name, ignore=shutil.ignore_patterns(*BESIDE))
    for name in BESIDE:
        shutil.copyfile(source / name, folder / name)
    _take_out(folder / FAULTY / FAULT[0], FAULT[1])
    (folder / FILE).write_text(SETTINGS, "utf-8")
    _stock(folder)


def _take_out(file: Path, begins: str) -> None:
    lines = file.read_text("utf-8").splitlines(keepends=True)
    kept = [line for line in lines if not line.startswith(begins)]
    assert len(kept) == len(lines) - 1, f"one row of {file.name} begins {begins!r}"
    file.write_text("".join(kept), "utf-8")


def _stock(folder: Path) -> None:
    """Make the store anew, and book in what lies on the shelf."""
    # here, so that what only looks at the demo loads no database
    from kitbuilder import amount
    from kitbuilder.catalogue.rows import read_rows
    from kitbuilder.model.shelf import Receipt
    from kitbuilder.store.database import open_store
    from kitbuilder.store.shelves import receive

    for name in LEFT:
        if (folder / name).is_dir():
            shutil.rmtree(folder / name)
        else:
            (folder / name).unlink(missing_ok=True)
    settings = read_settings(folder / FILE)
    assert settings.store is not None
    assert settings.now is not None
    # a demo that is cut short by a power cut is laid out again
    store = open_store(settings.store, synchronous="NORMAL")
    try:
        for row in read_rows(folder / SHELF, ("site", "item", "bin", "quantity", "unit")):
            cells = row.cells
            use_by = cells.get("use_by")
            receive(store, Receipt(
                site=cells["site"], item=cells["item"], bin=cells["bin"], unit=cells["unit"], lot=cells.get("lot", ""),
                quantity=amount.parse(cells["quantity"], cells["unit"], cells["unit"]),
                use_by=date.fromisoformat(use_by) if use_by else None), "goods in", settings.now)
    finally:
        store.close()


def supplier_of(folder: Path) -> DemoSupplier:
    """The supplier of a demo workshop, to be run while its story is told.

    Where the port of the settings is taken, perhaps by another demo, it takes a free one and writes that there.
    Raises WrongUse if this machine gives none.
    """
    settings = read_settings(folder / FILE)
    try:
        return demo_supplier(settings)
    except WrongUse:
        supplier = DemoSupplier(settings.folder / PRICES)
    file = folder / FILE
    file.write_text(re.sub(rf"http://{re.escape(HOST)}:\d+", supplier.url, file.read_text("utf-8")), "utf-8")
    return supplier
