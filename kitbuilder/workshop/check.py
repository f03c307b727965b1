"""The technician's kit check: what is scanned from the tote, against what should be in it."""

from collections.abc import Mapping, Sequence
from datetime import date

from kitbuilder import amount
from kitbuilder.errors import nearest
from kitbuilder.model.catalogue import Item
from kitbuilder.model.shelf import HoldRow
from kitbuilder.model.work import CheckVerdict, Scan


def judge(scanned: str, quantity: int | None, holds: Sequence[HoldRow], before: Sequence[Scan],
          items: Mapping[str, Item], today: date) -> tuple[CheckVerdict, Scan | None]:
    """What one scan comes to, and what is to be noted of it.

    `scanned` is an item number or one of its codes, with the lot behind a `/` if the label shows one; without
    `quantity` (milli-units) it stands for all of that item still to be found, one of a counted unit at least.
    """
    text, _, lot = scanned.strip().partition("/")
    number = _item(text, items)
    expected = [hold for hold in holds if hold.item == number and hold.state in ("planned", "picking", "picked")]
    if number is None:
        close = nearest(text, [hold.item for hold in holds])
        hint = f" Did you mean {close}?" if close else ""
        return CheckVerdict("unknown", f"{text} is no item number and no code.{hint}"), None
    name = f"{items[number].name} ({number})"
    if not expected:
        return CheckVerdict("wrong item", f"{name} does not belong in this kit. Put it aside."), None
    if lot and lot not in {hold.lot for hold in expected}:
        lots = " or ".join(sorted({hold.lot or "none" for hold in expected}))
        return CheckVerdict("wrong lot", f"{name}: lot {lot} is not the one picked; expected lot {lots}."), None
    passed = [hold for hold in expected if hold.use_by is not None and hold.use_by < today]
    if passed:
        return CheckVerdict("use-by passed", f"{name} was to be used by {passed[0].use_by}. Don't use it."), None
    should = sum(hold.quantity for hold in expected)
    have = sum(scan.quantity for scan in before if scan.item == number)
    taken = quantity if quantity is not None else max(should - have, 0)
    unit = expected[0].unit
    if quantity is None and unit in amount.COUNTED and should - have > 1000:
        taken = 1000
    if have + taken > should or taken <= 0:
        return CheckVerdict(
            "too many", f"{name}: {amount.show(have + max(taken, 1000))} {unit}, but the kit has "
            f"{amount.show(should)}. Put the rest aside."), None
    left = should - have - taken
    rest = f"; {amount.show(left)} {unit} to come" if left else ""
    return CheckVerdict("taken", f"{name}: {amount.show(have + taken)} of {amount.show(should)} {unit}{rest}."), Scan(
        number, lot, taken)


def _item(text: str, items: Mapping[str, Item]) -> str | None:
    if text in items:
        return text
    for item in items.values():
        if text in item.codes:
            return item.number
    return None


def still_missing(holds: Sequence[HoldRow], scans: Sequence[Scan], items: Mapping[str, Item]) -> list[str]:
    """What should be in the tote and was not found, in words."""
    found = []
    for number in dict.fromkeys(hold.item for hold in holds if hold.state in ("planned", "picking", "picked")):
        of_item = [hold for hold in holds if hold.item == number and hold.state in ("planned", "picking", "picked")]
        left = sum(hold.quantity for hold in of_item) - sum(scan.quantity for scan in scans if scan.item == number)
        if left > 0:
            name = items[number].name if number in items else number
            found.append(f"{amount.show(left)} {of_item[0].unit} of {name} ({number})")
    return found
