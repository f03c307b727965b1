"""What of the lines on condition goes along, as text: what, for what, what leaving it out would cost, what stays."""

from collections.abc import Mapping, Sequence

from kitbuilder.model.along import Along, SetAside
from kitbuilder.show.kit import chance_words
from kitbuilder.show.paper import Paper, counted, listed


def along_text(along: Along, findings: Mapping[str, str], paper: Paper) -> list[str]:
    """The section of a kit. `findings`: the titles of findings."""
    money = along.currency
    lines = [paper.heading("GOES ALONG ON CONDITION, as no shelf is at hand there")]
    if not along.take and not along.leave:
        return [*lines, *paper.wrap("No finding of this job brings anything.", 2)]
    percent = chance_words(along.complete)
    what = f"With {counted(len(along.take), 'thing')} along" if along.take else "With nothing along"
    lines += paper.wrap(f"{what} the job can be completed with a chance of {percent}; expected cost {along.cost} "
                        f"{money} (carrying, and {along.stopped} for a stopped job by its chance).", 2)
    if along.take:
        lines += paper.wrap(f"With nothing along it would be {along.empty} {money}.", 2)
    lines += paper.wrap("No other choice costs less." if along.proven else
                        f"A better choice may exist; none costs less than {along.bound} {money}.", 2)
    for one in along.take:
        number = one.item or "see its line"
        lines += paper.wrap(f"{one.amount} {one.unit} {one.name} ({number})", 4, "  +")
        lines += paper.wrap(f"for: {'; '.join(findings.get(name, name) for name in one.findings)}", 8)
        lines += paper.wrap(f"left out: {one.left_out} {money} more", 8)
    if along.leave:
        lines.append(paper.heading("STAYS HERE"))
    for left in along.leave:
        things = listed(left.things, "and") if left.things else "what it needs"
        lines += paper.wrap(f"{things}", 4, "  -")
        lines += paper.wrap(f"for: {findings.get(left.finding, left.finding)} (chance {chance_words(left.chance)})", 8)
        lines += paper.wrap("it can't be taken: no item will do, or the van can't carry it too" if left.taking is None
                            else f"taken as well: {_more(left.taking, money)}", 8)
    if along.ask_first:
        lines += paper.wrap(f"Ask first, as it decides what may turn out: {listed(along.ask_first, 'and')}. This is "
                            "the best choice over all open answers; once they are known another may be better.", 2)
    if along.unknown:
        lines += paper.wrap(f"Not counted against what the van may carry, as it isn't known of them: "
                            f"{listed(along.unknown, 'and')}.", 2)
    return lines


def _more(taking: str, money: str) -> str:
    return f"{taking[1:]} {money} less" if taking.startswith("-") else f"{taking} {money} more"


def set_aside_text(rows: Sequence[SetAside], paper: Paper) -> list[str]:
    """What to have at hand for findings of the day, shared by its bookings."""
    lines = [paper.heading("SET ASIDE FOR FINDINGS OF THE DAY: its bookings share it")]
    for one in rows:
        numbers = listed([str(number) for number in one.bookings], "and")
        whom = f"booking{'s' if len(one.bookings) > 1 else ''} {numbers}"
        doubt = "" if one.proven else " (a good amount, not proven to be the best)"
        if one.amount == "0":
            lines += paper.wrap(f"{one.name} ({one.item}): the shelf has none to spare", 4, "  -")
            lines += paper.wrap(f"{one.more} {one.unit} would be worth having for {whom}; without, waiting is expected "
                                f"to cost {one.cost} {one.currency}{doubt}", 8)
            continue
        bins = f", in {listed(one.bins, 'and')}" if one.bins else ""
        lines += paper.wrap(f"{one.amount} of {one.most} {one.unit} {one.name} ({one.item}){bins}", 4, "  -")
        lines += paper.wrap(f"for {whom}: expected cost {one.cost} {one.currency}, without it {one.left_out} "
                            f"more{doubt}", 8)
        if one.more != "0":
            lines += paper.wrap(f"{one.more} {one.unit} more would be worth having; the shelf has no more to spare", 8)
    return lines
