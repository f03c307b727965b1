"""What is taken in an item's place, put into the kits of the bookings that get it."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

from kitbuilder import amount
from kitbuilder.cli.place import Place
from kitbuilder.errors import KitbuilderError

if TYPE_CHECKING:
    from kitbuilder.model.booking import EditRow
    from kitbuilder.model.order import OrderRow
    from kitbuilder.workshop.instead import Instead


class Swapped(NamedTuple):
    """The edits of kits that go with taking something in items' places; whose kits take it, and whose a person must
    change, in sentences."""

    edits: "list[EditRow]"
    done: list[str]
    left: list[str]


def edits_for(place: Place, order: "OrderRow", ones: "Sequence[Instead]", person: str) -> Swapped:
    """What is to be changed in the kits of those for whom the order is."""
    from kitbuilder.store import bookings
    from kitbuilder.workshop.instead import gets, swaps
    from kitbuilder.workshop.work import load

    found = Swapped([], [], [])
    units = {line.item: line.unit for line in order.lines}
    for one in ones:
        if place.edition.known_item(one.item) is None:
            found.left.append(f"The catalogue has no item {one.item}, so no kit can take it in place of {one.of}: add "
                              "it to items.csv and change the kits by hand (kitbuilder edit).")
            continue
        unit = units.get(one.of, one.unit)
        if amount.quantity(unit) != amount.quantity(one.unit):
            continue  # it can't be told against the order, which will be said
        one = one._replace(quantity=amount.convert(one.quantity, one.unit, unit), unit=unit)
        why = f"order {order.id} at {order.source} brings it in place of {one.of}"
        known = {number: bookings.get(place.store, number)
                 for number in {wanted.booking for wanted in order.wanted_for}}
        shares = gets(order, one, {number: booking.start for number, booking in known.items()})
        works = {}
        for number in {number for number, _ in shares}:
            try:
                works[number] = load(place.store, place.edition, place.site(known[number].site), number)
            except KitbuilderError:
                pass  # without a kit there is nothing to change
        more, by_hand = swaps(works, shares, one, person, why, place.now)
        found.edits.extend(more)
        if more:
            of = ", ".join(str(number) for number in dict.fromkeys(edit.booking for edit in more))
            found.done.append(f"The kit of booking {of} takes {one.item} in place of {one.of} from now on.")
        found.left.extend(
            f"The kit of booking {number} still asks for {one.of}: change it by hand, or that is ordered again "
                 f"(kitbuilder edit {number} --swap ROLE --item {one.item} --why TEXT)." for number in by_hand)
    return found
