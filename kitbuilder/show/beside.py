"""What stands beside a kit's lines as text: exchange units, what comes off, hazards; what a line says of itself."""

from collections.abc import Mapping
from typing import TYPE_CHECKING

from kitbuilder.model.kit import ComesOff, ExchangeShown, HazardShown, Kit, Line
from kitbuilder.show.paper import Paper, counted, listed
from kitbuilder.show.when import Groups, when_words

if TYPE_CHECKING:
    from kitbuilder.kit.why import Why

_FILLS = {
    "dry": "dry fill",
    "drain and refill": "drain and refill",
    "top-up": "top-up",
    "lost on the way": "for what is lost on the way",
}
#: From so many kg on whoever lifts it wants to know (common practice, no source); JSON has every weight.
_WORTH_SAYING_KG = 5
ADVISED = "advised while it is open: the customer's choice"


def line_words(line: Line) -> list[str]:
    """What a line says of itself below its columns: how it fills, what is selected, what is only advised, ports."""
    said = []
    fill = [_FILLS.get(line.fill, line.fill)] if isinstance(line.fill, str) else []
    if isinstance(line.least, str):
        fill.append(f"to level, {line.least} to {line.amount} {line.unit}")
    if fill:
        said.append(", ".join(fill))
    if isinstance(line.select, int):
        used = "1 is used" if line.select == 1 else f"{line.select} are used"
        said.append(f"several go along, {used}, the rest comes back")
    if line.advised is True:
        said.append(ADVISED)
    more = []
    if isinstance(line.weight, str) and float(line.weight) >= _WORTH_SAYING_KG:
        more.append(f"weighs {line.weight} kg")
    if isinstance(line.ports, tuple):
        ports = [one.thread if one.count == 1 else f"{one.count} {one.thread}" for one in line.ports]
        more.append(f"{counted(sum(one.count for one in line.ports), 'port')}: {listed(ports, 'and')}")
    if more:
        said.append("; ".join(more))
    return said


def beside_text(kit: "Kit | Why", groups: Groups, findings: Mapping[str, str], paper: Paper) -> list[list[str]]:
    """The sections beside the lines, each as its lines; empty ones too. `findings` are the titles of findings."""
    return [_exchange(kit, paper), _comes_off(kit, groups, findings, paper), _hazards(kit, paper)]


def _exchange(kit: "Kit | Why", paper: Paper) -> list[str]:
    """The exchange units, and what is asked of the old ones."""
    if not isinstance(kit.exchange, tuple):
        return []
    lines = [paper.heading("EXCHANGE UNITS")]
    lines += paper.wrap("The old unit returned must be the one taken off, like for like.", 2)
    for one in kit.exchange:
        lines += paper.wrap(_exchange_words(one), 4, "  -")
    return lines


def _exchange_words(one: ExchangeShown) -> str:
    state = f", {listed(one.state, 'and')}" if one.state else ""
    days = f" within {counted(one.days, 'day')}" if one.days else ""
    said = [f"{one.item} {one.name}: return the old unit{days}{state}."]
    if one.deposit is not None:
        said.append(f"Deposit {one.deposit} {one.currency} {'each' if one.unit == 'each' else 'per ' + one.unit}.")
    if one.arrives == "filled":
        said.append(f"It arrives filled ({one.circuit}).")
    elif one.arrives == "dry":
        said.append(f"It arrives dry and must be filled ({one.circuit}).")
    if one.note:
        said.append(one.note if one.note.endswith(".") else f"{one.note}.")
    return " ".join(said)


def _comes_off(kit: "Kit | Why", groups: Groups, findings: Mapping[str, str], paper: Paper) -> list[str]:
    """What comes off and has to be got rid of."""
    if not isinstance(kit.comes_off, tuple):
        return []
    lines = [paper.heading("WHAT COMES OFF")]
    for one in kit.comes_off:
        lines += paper.wrap(_waste_words(one), 4, "  -")
        lines += paper.wrap(f"waste code {one.code}: {one.title}", 6)
        if isinstance(one.findings, tuple):
            titles = [findings.get(name, name) for name in one.findings]
            lines += paper.wrap(f"on condition: {listed(titles)}", 6)
        if one.advised is True:
            lines += paper.wrap("only if the customer chooses what is advised", 6)
        if one.certainty == "possible":
            lines += paper.wrap(f"only if {when_words(one.when, groups, kit.facts)}", 6)
    if any(one.hazardous for one in kit.comes_off):
        lines += paper.wrap("Keep hazardous waste apart, unmixed and closed; local rules come first.", 2)
    return lines


def _waste_words(one: ComesOff) -> str:
    much = f", {one.amount} {one.unit}" if one.amount is not None else ""
    return f"{one.what}{much}{' (hazardous waste)' if one.hazardous else ''}"


def _hazards(kit: "Kit | Why", paper: Paper) -> list[str]:
    """What the products' safety data sheets say, in short."""
    if not isinstance(kit.hazards, tuple):
        return []
    lines = [paper.heading("HAZARDS, BY THE PRODUCTS' SAFETY DATA SHEETS")]
    lines += paper.wrap("The sheet itself comes first: read it before you open the product.", 2)
    for one in kit.hazards:
        lines += paper.wrap(_hazard_words(one), 4, "  -")
    return lines


def _hazard_words(one: HazardShown) -> str:
    revised = f", revised {one.revised}" if one.revised else ""
    signs = ", ".join(f"{sign.name} ({sign.code})" for sign in one.pictograms)
    label = ": ".join(part for part in ((one.signal or "").upper(), signs) if part)
    said = [f"{label}."] if label else []
    said += [f"{statement.text} ({statement.code})" for statement in one.statements]
    return f"{one.item} {one.name}: {' '.join(said) or 'it names no hazard.'} Sheet {one.sheet}{revised}."
