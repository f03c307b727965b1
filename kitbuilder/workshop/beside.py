"""What goes with a booking besides its parts: old units that go back and by when, what comes off, hazards."""

from collections.abc import Collection
from datetime import date, timedelta

from kitbuilder.model.booking import Booking
from kitbuilder.model.kit import ComesOff, ExchangeShown, HazardShown, Kit


def goes_back(booking: Booking, kit: Kit, items: Collection[str]) -> tuple[str, ...]:
    """Of the exchange units among `items`, by when the old one must be back, counted from the planned start, and in
    what state."""
    shown = kit.exchange if isinstance(kit.exchange, tuple) else ()
    return tuple(_back(one, date.fromisoformat(booking.start_wall[:10])) for one in shown if one.item in items)


def _back(one: ExchangeShown, start: date) -> str:
    by = f" by {start + timedelta(days=one.days)}" if one.days else ""
    state = f" {', '.join(one.state)}" if one.state else ""
    deposit = f"; deposit {one.deposit} {one.currency} {'each' if one.unit == 'each' else 'per ' + one.unit}" \
        if one.deposit else ""
    return f"{one.name} ({one.item}): the old unit goes back{by}{state}, the very one taken off{deposit}"


def comes_off(kit: Kit) -> tuple[str, ...]:
    """What has to be got rid of, with its code of the European List of Waste; perhaps where that isn't certain."""
    shown = kit.comes_off if isinstance(kit.comes_off, tuple) else ()
    return tuple(_waste(one) for one in shown)


def _waste(one: ComesOff) -> str:
    much = f", {one.amount} {one.unit}" if one.amount is not None else ""
    if_so = "" if one.certainty == "certain" and not isinstance(one.findings, tuple) and one.advised is not True \
        else ", perhaps"
    return f"{one.what}{much}: {one.code}{' (hazardous)' if one.hazardous else ''}{if_so}"


def hazards(kit: Kit, items: Collection[str]) -> tuple[str, ...]:
    """What the safety data sheets of `items` say; those that name no hazard are left out."""
    shown = kit.hazards if isinstance(kit.hazards, tuple) else ()
    return tuple(_hazard(one) for one in shown if one.item in items and (one.pictograms or one.statements))


def _hazard(one: HazardShown) -> str:
    signs = ", ".join(f"{sign.name} ({sign.code})" for sign in one.pictograms)
    label = ": ".join(part for part in ((one.signal or "").upper(), signs) if part)
    said = " ".join(statement.code for statement in one.statements)
    return f"{one.name} ({one.item}): {label + ' ' if label else ''}{said}; see its sheet"
