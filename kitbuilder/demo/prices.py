"""The demo supplier's price list, and what it answers from it.

Columns of the price list: those of a price file (item, quantity, unit, ready, price, per, currency, as_of, note),
and more that may be left out: slot (the name of `ready`), cut_off, fee and minimum of the slot, sureness, most, from
(the price is for at least so much), packs (sizes with spaces between), least, returnable (yes or no), deposit. A row
with a quantity ("any": as much as is asked for) begins an offer; rows of the same item without one add slots or
price breaks to it. What has passed its cut-off is not offered.
"""

from collections.abc import Iterable
from datetime import datetime
from pathlib import Path
from typing import Annotated, Any, Literal, Never

import msgspec

from kitbuilder.catalogue.rows import SheetRow, read_rows
from kitbuilder.demo.taking import Order, answer_to
from kitbuilder.errors import BadData

NEEDED = ("item", "quantity", "unit", "ready", "currency", "as_of")
COLUMNS = (*NEEDED, "price", "per", "slot", "cut_off", "fee", "minimum", "sureness", "most", "from", "packs", "least",
           "returnable", "deposit", "note")


class Wanted(msgspec.Struct):
    """An item that is asked for."""

    item: str


class Question(msgspec.Struct):
    """What a supplier is asked."""

    format: Literal["kitbuilder.quote-request/1"]
    now: Annotated[datetime, msgspec.Meta(tz=True)]
    wanted: list[Wanted]


class Prices:
    """A price list as read. Raises BadData."""

    def __init__(self, file: Path) -> None:
        self._rows = read_rows(file, NEEDED, COLUMNS)
        self._file = file.name
        self._slots: dict[str, dict[str, Any]] = {}
        self._cut_offs: dict[str, datetime] = {}
        self._offers: list[dict[str, Any]] = []
        self._as_of: dict[str, datetime] = {}
        for row in self._rows:
            self._take(row)
        currencies = {row.cells["currency"] for row in self._rows}
        if len(currencies) != 1:
            raise BadData(f"{self._file}: expected at least one row, and one currency in all of them.")
        self._currency = currencies.pop()

    def answer(self, question: Question) -> dict[str, Any]:
        """The answer to a question, as JSON has it."""
        items = {one.item for one in question.wanted}
        late = {name for name, cut_off in self._cut_offs.items() if cut_off <= question.now}
        offers = []
        for offer in self._offers:
            arrivals = [arrival for arrival in offer["arrivals"] if arrival["slot"] not in late]
            if offer["item"] in items and arrivals:
                offers.append({**offer, "arrivals": arrivals})
        used = {arrival["slot"] for offer in offers for arrival in offer["arrivals"]}
        told = [when for item, when in self._as_of.items() if item in items] or self._as_of.values()
        return {
            "format": "kitbuilder.quote/1", "as_of": min(told).isoformat(), "currency": self._currency,
            "slots": [slot for name, slot in self._slots.items() if name in used], "offers": offers, "unreadable": {}}

    def take(self, order: Order, number: str) -> dict[str, Any]:
        """The answer to an order, as JSON has it."""
        return answer_to(order, number, set(self._slots), self._cut_offs, self._offers)

    def _take(self, row: SheetRow) -> None:
        cells = row.cells
        missing = [column for column in ("item", "unit", "ready", "currency", "as_of") if column not in cells]
        if missing:
            self._wrong(row, f"expected {', '.join(missing)}")
        when = self._moment(row, "as_of")
        self._as_of[cells["item"]] = min(when, self._as_of.get(cells["item"], when))
        slot = self._slot(row)
        if "quantity" in cells:
            quantity = cells["quantity"]
            self._offers.append({
                "item": cells["item"], "unit": cells["unit"], "pool": None if quantity == "any" else quantity,
                "packs": cells.get("packs", "").split(), "least": cells.get("least", "0"),
                "returnable": self._yes(row), "deposit": cells.get("deposit", "0"), "arrivals": []})
        elif not self._offers or any(self._offers[-1][key] != cells[key] for key in ("item", "unit")):
            self._wrong(row, "expected a quantity, or the item and unit of the row above")
        self._arrive(row, slot, self._offers[-1]["arrivals"])

    def _arrive(self, row: SheetRow, slot: str, arrivals: list[dict[str, Any]]) -> None:
        here = next((arrival for arrival in arrivals if arrival["slot"] == slot), None)
        if here is None:
            here = {"slot": slot, "sureness": row.cells.get("sureness", "confirmed"), "most": row.cells.get("most"),
                    "prices": []}
            arrivals.append(here)
        if "price" in row.cells:
            here["prices"].append({
                "price": row.cells["price"], "per": row.cells.get("per", "1"), "least": row.cells.get("from", "0")})

    def _slot(self, row: SheetRow) -> str:
        cells = row.cells
        ready = self._moment(row, "ready")
        name = cells.get("slot", ready.isoformat())
        told = {"name": name, "ready": ready.isoformat(), "cut_off": None, "fee": cells.get("fee", "0"),
                "minimum": cells.get("minimum", "0")}
        if "cut_off" in cells:
            self._cut_offs[name] = self._moment(row, "cut_off")
            told["cut_off"] = self._cut_offs[name].isoformat()
        if self._slots.setdefault(name, told) != told:
            self._wrong(row, f"expected the slot {name!r} as in the rows above: {_terms(self._slots[name].values())}")
        return name

    def _yes(self, row: SheetRow) -> bool:
        word = row.cells.get("returnable", "yes")
        if word not in ("yes", "no"):
            self._wrong(row, f"read {word!r} under returnable, expected yes or no")
        return word == "yes"

    def _moment(self, row: SheetRow, column: str) -> datetime:
        text = row.cells[column]
        try:
            moment = datetime.fromisoformat(text)
        except ValueError:
            moment = None
        if moment is None or moment.tzinfo is None:
            self._wrong(row, f"read {text!r} under {column}, expected a day and time with its zone")
        return moment

    def _wrong(self, row: SheetRow, what: str) -> Never:
        raise BadData(f"{self._file}, line {row.line}: {what}.")


def _terms(values: Iterable[str | None]) -> str:
    return ", ".join(value or "-" for value in values)
