"""What goes back and needs a person, for the report: returns to suppliers, and the old units of exchange units."""

from datetime import date, datetime, timedelta
from typing import Final

from kitbuilder.amount import show, show_money
from kitbuilder.model.order import ExchangeReturnRow, SupplierReturnRow
from kitbuilder.store.database import Store
from kitbuilder.store.returns import returns, units

#: An old unit is spoken of so long before its day (common practice, no source).
SOON: Final = timedelta(days=2)
#: A credit or a deposit is asked after when it was awaited so long (common practice, no source).
PATIENCE: Final = timedelta(days=30)


def what_goes_back(store: Store, site: str, today: date) -> list[str]:
    """In words: returns that wait to be sent, with the last day on which they are taken; old units whose day is near or
    past; credits and deposits that are long awaited."""
    found = [_unit(one, today) for one in units(store, site)]
    found += [_return(one, today) for one in returns(store, site)]
    return [text for text in found if text]


def _unit(one: ExchangeReturnRow, today: date) -> str:
    money = f"the deposit of {show_money(one.deposit, one.currency)} {one.currency}"
    of = f"old unit of {one.item} from booking {one.booking}"
    if one.state == "sent":
        if not one.deposit or not _long(one.changed_at, today):
            return ""
        return (f"The {of} was sent on {one.changed_at.date()}, and {money} isn't back: ask after it, then: kitbuilder "
                f"order units {one.id} \"deposit back\" --by NAME")
    if one.due is None or one.due > today + SOON:
        return ""
    verb = "was" if one.due < today else "is"
    hangs = f"; {money} hangs on it" if one.deposit else ""
    return f"The {of} {verb} to be back by {one.due}{hangs}: kitbuilder order units {one.id} sent --by NAME"


def _return(one: SupplierReturnRow, today: date) -> str:
    command = f"kitbuilder order returns {one.id}"
    of = f"Return {one.id} ({show(one.quantity)} {one.unit} {one.item}, {one.why})"
    if one.state != "proposed":
        if not _long(one.changed_at, today):
            return ""
        credit = "" if one.credit is None else f" of {show_money(one.credit, one.currency)} {one.currency}"
        return (f"{of} is with {one.source}, and its credit{credit} is awaited since {one.changed_at.date()}: ask "
                f"after it, then: {command} credited --by NAME")
    if one.until is not None and one.until < today:
        return (f"{of} wasn't sent: {one.source} took it until {one.until}. Ask whether they take it all the same, "
                f"then: {command} sent --agreed --by NAME; or drop it: {command} dropped --by NAME")
    until = "" if one.until is None else f", which takes it until {one.until}"
    return f"{of} waits to go back to {one.source}{until}. When it leaves: {command} sent --by NAME"


def _long(since: datetime, today: date) -> bool:
    return since.date() + PATIENCE <= today
