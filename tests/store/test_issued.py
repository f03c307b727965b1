"""What bookings really used."""

from kitbuilder.model.booking import KitRow
from kitbuilder.store.bookings import put_kit
from kitbuilder.store.holds import hold, step
from kitbuilder.store.issued import Issued, issued_lines
from tests.store.shelf import LATER, NOW, SITE, book, promise, receive

_KIT = b'{"facts": [{"fact": "emissions", "values": ["Euro VI"]}, {"fact": "axles", "values": ["4x2", "6x2"]}, ' \
       b'{"fact": "built", "values": ["2012-01-01 to 2012-12-31"]}]}'


def test_only_what_was_issued_counts_with_what_was_known(store):
    number = book(store, job="actuator", facts={"place": "roadside"})
    receive(store)
    with store.writing() as session:
        put_kit(session, KitRow(number, "e", "f", _KIT, b"[]", NOW))
    ids = [one.id for one in hold(store, SITE, [promise(2000, "a", number), promise(1000, "b", number)], "Ada", NOW)]
    assert issued_lines(store) == []
    for state in ("picking", "picked", "issued"):
        step(store, ids[:1], state, "Ben", LATER)
    assert issued_lines(store) == [
        Issued(number, "actuator", "XX-1", 2000, "each", {"emissions": "Euro VI", "place": "roadside"})]
