"""Scanned deliveries as text: what came, how it stands to the orders it is for, what can't be taken."""

from collections.abc import Mapping

from kitbuilder import amount
from kitbuilder.model.delivery_note import AgainstOrder, DeliveryNote, Scanned
from kitbuilder.show.paper import Paper, counted, listed


def scanned_text(scanned: Scanned, paper: Paper, names: Mapping[str, str] | None = None) -> str:
    """All of a delivery: its rows, against orders how each stands to its own, and the lines to look at. `names`: what
    items are called."""
    note = scanned.note
    done = f"Booked into {scanned.bin}" if scanned.bin else "Read, and not booked in"
    against = scanned.against if isinstance(scanned.against, tuple) else ()
    orders = sorted({one.order for one in against})
    whom = f", for order {listed([str(one) for one in orders], 'and')}" if orders else ""
    whom += f", note {scanned.note_number}" if orders and isinstance(scanned.note_number, str) and (
        scanned.note_number) else ""
    lines = paper.wrap(f"{done}{whom}: {counted(len(note.rows), 'row')}")
    lines[0] = paper.heading(lines[0])
    of_scans = {one.scans: one for one in against}
    for row in note.rows:
        lot = f", lot {row.lot}" if row.lot else ""
        use_by = f", use by {row.use_by}" if row.use_by else ""
        one = of_scans.get(row.scans)
        stands = f": {_stands(one, scanned.bin is not None)}" if one else ""
        name = f" ({names[row.item]})" if names and row.item in names else ""
        what = f"{amount.show(row.quantity)} {row.unit} of {row.item}{name}"
        lines += paper.wrap(f"{what}{lot}{use_by}{stands}", 4, "  -")
    states = {one.order: one.state for one in against}
    if scanned.bin:
        lines += [line for order in orders for line in paper.wrap(f"Order {order} is {states[order]}.")]
    return "\n".join([*lines, *_faults(note, paper)]) + "\n"


def _stands(one: AgainstOrder, booked: bool) -> str:
    if one.takes == "booked before":
        return "booked in before with this note" + ("; nothing was done" if booked else "")
    back = f", return {one.proposed_return} is proposed" if booked and one.proposed_return else ""
    if one.takes == "wrong":
        return f"NOT ORDERED, {f'in quarantine as lot {one.lot}' if booked else 'goes into quarantine'}{back}"
    told = ["as ordered" if one.beyond == "0" else f"{one.beyond} {one.unit} MORE THAN ORDERED{back}"]
    if one.held:
        told.append(f"{'held' if booked else 'to be held'}: " + ", ".join(
            f"{held} for booking {number}" for number, held in sorted(one.held.items())))
    return "; ".join(told)


def _faults(note: DeliveryNote, paper: Paper) -> list[str]:
    if not note.faults:
        return []
    lines = ["", paper.heading(f"{counted(len(note.faults), 'line')} to look at; nothing was booked in")]
    for one in note.faults:
        lines += paper.wrap(f"line {one.scan}, {one.read}: {one.text.rstrip('.')}.", 4, "  -")
    return lines
