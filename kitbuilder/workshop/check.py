"""The technician's kit check: what is scanned from the tote, against what should be in it."""

from collections.abc import Mapping, Sequence
from datetime import date

import msgspec

from kitbuilder import amount
from kitbuilder.errors import nearest
from kitbuilder.model.catalogue import Item
from kitbuilder.model.shelf import HoldRow
from kitbuilder.model.work import CheckVerdict, Scan, WorkLine
from kitbuilder.workshop.needs import is_reserve

#: Instead of an amount: all of it that is still to be found, as in a sealed bag.
ALL = "all"


class Scanned(msgspec.Struct, frozen=True):
    """A line of the check as read: the item (None: unknown) of what was typed, the lot ("" if none was said), and the
    amount as typed with its unit (both "" if none was)."""

    text: str
    item: str | None
    lot: str = ""
    quantity: str = ""
    unit: str = ""


class Codes:
    """The items by their numbers and by what their labels may show."""

    def __init__(self, items: Mapping[str, Item]) -> None:
        self._exact = {code: item.number for item in items.values() for code in item.codes} | {
            number: number for number in items}
        loose: dict[str, set[str]] = {}
        for code, number in self._exact.items():
            loose.setdefault(_loose(code), set()).add(number)
        self._loose = {code: next(iter(numbers)) for code, numbers in loose.items() if len(numbers) == 1}

    def item(self, text: str) -> str | None:
        """The item of a number or code. Capitals don't matter where only one can be meant, nor do a GTIN's zeros."""
        return self._exact.get(text) or self._loose.get(_loose(text))


def _loose(code: str) -> str:
    return code.lstrip("0") if code.isascii() and code.isdigit() and len(code) >= 8 else code.casefold()


def read(line: str, codes: Codes) -> Scanned:
    """What was scanned or typed: an item number or a code, `/` and the lot, then an amount, perhaps with its unit.

    Numbers with blanks or strokes in them are taken whole first; a lot is one word.
    """
    words = line.split()
    for end in range(len(words), max(len(words) - 3, 0), -1):
        text, rest = " ".join(words[:end]), words[end:]
        quantity, unit = (*rest, "", "")[:2]
        item = codes.item(text)
        if item is not None:
            return Scanned(text, item, "", quantity, unit)
        front, stroke, lot = text.rpartition("/")
        if stroke and " " not in lot.strip() and codes.item(front.strip()) is not None:
            return Scanned(front.strip(), codes.item(front.strip()), lot.strip(), quantity, unit)
    return Scanned(words[0] if words else "", None)


class Tote:
    """What should be in a booking's tote: its holds, with what has been scanned of them.

    What is issued counts too: it was in the tote when it was signed for.
    """

    def __init__(self, holds: Sequence[HoldRow], scans: Sequence[Scan], items: Mapping[str, Item]) -> None:
        self._holds = [hold for hold in holds if hold.state != "released"]
        self._scans, self._items = list(scans), items

    def of(self, number: str) -> list[HoldRow]:
        """The holds of an item."""
        return [hold for hold in self._holds if hold.item == number]

    def unit(self, number: str) -> str:
        """The unit that an item is counted in here."""
        return self._items[number].unit if number in self._items else self.of(number)[0].unit

    def should(self, number: str, lot: str = "", reserved: bool = True) -> int:
        """How much of an item (of a lot) is held, in its unit; with or without what is only reserved."""
        unit = self.unit(number)
        return sum(
            amount.convert(hold.quantity, hold.unit, unit) for hold in self.of(number)
            if (not lot or hold.lot == lot) and (reserved or not is_reserve(hold.need))
            and amount.quantity(hold.unit) == amount.quantity(unit))

    def have(self, number: str, lot: str = "") -> int:
        """How much of an item was scanned; of a lot: what was scanned with its lot."""
        return sum(scan.quantity for scan in self._scans if scan.item == number and (not lot or scan.lot == lot))

    def missing(self, number: str) -> int:
        """How much of an item is still to be found; what is only reserved needn't be."""
        return max(self.should(number, reserved=False) - self.have(number), 0)

    def numbers(self) -> list[str]:
        """The items that should be there."""
        return list(dict.fromkeys(hold.item for hold in self._holds if not is_reserve(hold.need)))

    def holds_found(self) -> list[HoldRow]:
        """The holds that the scans cover wholly; of what is reserved, that means only what was scanned."""
        left = {number: self.have(number) for number in {hold.item for hold in self._holds}}
        lots = {(scan.item, scan.lot) for scan in self._scans}
        found = []
        for hold in sorted(
                self._holds, key=lambda one: (is_reserve(one.need), (one.item, one.lot) not in lots, one.id)):
            quantity = amount.convert(hold.quantity, hold.unit, self.unit(hold.item))
            if quantity <= left[hold.item]:
                left[hold.item] -= quantity
                found.append(hold)
        return found

    def half_found(self) -> list[str]:
        """What is reserved and was scanned in part, in words: it is taken wholly, or not at all."""
        whole: dict[str, int] = {}
        for hold in self.holds_found():
            unit = self.unit(hold.item)
            whole[hold.item] = whole.get(hold.item, 0) + amount.convert(hold.quantity, hold.unit, unit)
        return [
            f"{amount.show(self.have(number) - whole.get(number, 0))} {self.unit(number)} of {self.name(number)}"
            for number in dict.fromkeys(scan.item for scan in self._scans)
            if self.of(number) and not self.missing(number) and self.have(number) > whole.get(number, 0)]

    def signed(self, number: str) -> int:
        """How much of an item the technician has signed for."""
        unit = self.unit(number)
        return sum(amount.convert(hold.quantity, hold.unit, unit) for hold in self.of(number) if hold.state == "issued")

    def name(self, number: str) -> str:
        """An item in words, with its number."""
        return f"{self._items[number].name} ({number})" if number in self._items else number


def judge(scanned: Scanned, tote: Tote, today: date,
          lines: Sequence[WorkLine] = ()) -> tuple[CheckVerdict, Scan | None]:
    """What one scan comes to, and what is to be noted of it (None: nothing).

    Without an amount it stands for one of a counted unit, and for all that is still to be found of a measured one.
    `lines`: the kit's, to tell what belongs to the job but isn't held from what doesn't belong to it. `today`: the
    site's day.
    """
    number = scanned.item
    if number is None:
        close = nearest(scanned.text, tote.numbers())
        hint = f" Did you mean {close}?" if close else ""
        return CheckVerdict("unknown", f"{scanned.text} is no item number and no code.{hint}"), None
    name = tote.name(number)
    expected = tote.of(number)
    if not expected:
        return _not_expected(number, name, lines), None
    if scanned.lot and scanned.lot not in {hold.lot for hold in expected}:
        lots = " or ".join(sorted({f"lot {hold.lot}" if hold.lot else "one without a lot" for hold in expected}))
        return CheckVerdict("wrong lot", f"{name}: lot {scanned.lot} was not picked for this job, but {lots}."), None
    passed = [hold for hold in expected if hold.use_by is not None and hold.use_by < today
              and scanned.lot in ("", hold.lot) and hold.state != "issued"]
    if passed:
        others = any(hold not in passed for hold in expected)
        told = f" If it is of another lot, say which: {number}/LOT." if others else ""
        lot = f" lot {passed[0].lot}" if passed[0].lot else ""
        return CheckVerdict(
            "use-by passed", f"{name}{lot} was to be used by {passed[0].use_by}. Don't use it.{told}"), None
    return _counted(scanned, number, tote)


def _counted(scanned: Scanned, number: str, tote: Tote) -> tuple[CheckVerdict, Scan | None]:
    unit, name = tote.unit(number), tote.name(number)
    surely, most, have = tote.should(number, reserved=False), tote.should(number), tote.have(number)
    # what is reserved for an open question is taken only by saying how much, or where nothing else of it is held:
    # else a ring too many in the bag would pass
    limit = surely or most
    if scanned.quantity and scanned.quantity != ALL:
        limit = most
        try:
            taken = amount.parse(scanned.quantity, scanned.unit or unit, unit)
        except (ValueError, KeyError) as error:
            told = f"a unit that converts to {unit}" if isinstance(error, KeyError) else str(error)
            typed = f"{scanned.quantity} {scanned.unit}".strip()
            return CheckVerdict("no amount", f"{typed!r} is no amount of {unit}. Expected {told}, or {ALL!r}."), None
    elif scanned.quantity == ALL or unit not in amount.COUNTED:
        taken = max(limit - have, 0)
        if scanned.lot:
            taken = min(taken, max(tote.should(number, scanned.lot) - tote.have(number, scanned.lot), 0))
    else:
        taken = 1000
    if have >= limit:
        more = ""
        if have < most:
            more = f"; {amount.show(most - have)} more are held for an open question: say how much you take"
        return CheckVerdict(
            "too many", f"{name}: all {amount.show(limit)} {unit} are checked already{more}. Put the rest aside."), None
    if have + taken > limit:
        return CheckVerdict("too many", (
            f"{name}: that makes {amount.show(have + taken)} {unit}, but only {amount.show(limit)} belong to this job. "
            "Put the rest aside.")), None
    of_lot, lot_held = tote.have(number, scanned.lot) + taken, tote.should(number, scanned.lot)
    if scanned.lot and (not taken or of_lot > lot_held):
        return CheckVerdict("too many", (
            f"{name}: only {amount.show(lot_held)} {unit} of lot {scanned.lot} were picked. Look at the lots.")), None
    now = have + taken
    if now > surely:
        text = f"{name}: {amount.show(now)} of {amount.show(most)} {unit} (held for an open question)"
    else:
        text = f"{name}: {amount.show(now)} of {amount.show(surely)} {unit}"
        text += f", {amount.show(surely - now)} to come" if now < surely else ""
    return CheckVerdict("taken", text), Scan(number, scanned.lot, taken)


def _not_expected(number: str, name: str, lines: Sequence[WorkLine]) -> CheckVerdict:
    for line in lines:
        if number in line.acceptable and line.sort == "special tool":
            return CheckVerdict("tool", f"{name} is a tool of this job; tools are not counted.")
        if number in line.acceptable and line.waits:
            return CheckVerdict("not held", f"{name} is wanted only if: {line.condition}. It is not held for this job.")
        if number in line.acceptable:
            return CheckVerdict("not held", f"{name} would do, but is not held for this job. Ask at the counter.")
    return CheckVerdict("wrong item", f"{name} does not belong to this job. Put it aside.")


def undo(scans: Sequence[Scan], tote: Tote) -> CheckVerdict:
    """What taking the last scan back comes to; only where the verdict is `undone` is it to be done."""
    if not scans:
        return CheckVerdict("nothing to undo", "Nothing has been scanned.")
    last = scans[-1]
    name = tote.name(last.item)
    if not tote.of(last.item):
        return CheckVerdict("undone", f"{name}: the last scan is taken back.")
    left = tote.have(last.item) - last.quantity
    if tote.signed(last.item) > left:
        return CheckVerdict("nothing to undo", f"{name} is signed for; it can't be taken back here.")
    unit = tote.unit(last.item)
    return CheckVerdict(
        "undone", f"{name}: {amount.show(last.quantity)} {unit} taken back, {amount.show(left)} of "
        f"{amount.show(tote.should(last.item, reserved=False))} are checked.")


def still_missing(tote: Tote) -> list[str]:
    """What should be in the tote and was not found, in words."""
    return [
        f"{amount.show(tote.missing(number))} {tote.unit(number)} of {tote.name(number)}"
        for number in tote.numbers() if tote.missing(number)]
