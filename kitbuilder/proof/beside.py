"""Rows that say more of items (exchange.csv, hazards.csv, selling.csv) against what the kits use."""

from collections.abc import Collection, Iterator
from typing import Final

from kitbuilder.catalogue.edition import Edition
from kitbuilder.kinds.hazards import contradictions
from kitbuilder.kit.events import acceptable
from kitbuilder.model.catalogue import Fit
from kitbuilder.model.kit import RowPlace
from kitbuilder.proof.remark import Kind, Remark
from kitbuilder.proof.supersession import takes_its_place

#: Kinds whose items are chemicals: those who supply them owe a safety data sheet, or a word that none is needed.
CHEMICALS: Final = frozenset({
    "gear oil", "engine oil", "automatic transmission fluid", "hydraulic fluid", "glycol brake fluid",
    "silicone brake fluid", "mineral brake fluid", "coolant", "sealant"})


def beside_remarks(edition: Edition, used: Collection[str]) -> Iterator[Remark]:
    """The remarks on such rows. `used`: the items that a kit may name, and what takes their place."""
    as_units = _exchange_units(edition) if "exchange" in edition.more else frozenset()
    for unit in edition.exchanges():
        if unit.item not in used:
            yield _unused("exchange", "exchange.csv", unit.row, unit.item)
        elif unit.item not in as_units:
            yield _remark("exchange", "exchange.csv", unit.row, unit.item,
                          f"{unit.item} fills no role of the sort exchange unit")
    for hazard in edition.hazards():
        if hazard.item not in used:
            yield _unused("safety data sheet", "hazards.csv", hazard.row, hazard.item)
        for sentence in contradictions(hazard.pictograms, hazard.statements):
            yield _remark("safety data sheet", "hazards.csv", hazard.row, hazard.item, sentence.rstrip("."))
    yield from _without_sheet(edition, used)
    for price in edition.sold():
        if price.item not in used:
            yield _unused("selling price", "selling.csv", price.row, price.item)


def _without_sheet(edition: Edition, used: Collection[str]) -> Iterator[Remark]:
    """Chemicals of which no safety data sheet is named; where none is at all, told once."""
    bare = [item.number for item in edition.items()
            if item.kind in CHEMICALS and item.number in used and edition.hazard(item.number) is None]
    if bare and "hazards" not in edition.more:
        more = f" and {len(bare) - 5} more" if len(bare) > 5 else ""
        yield Remark("safety data sheet", "The catalogue names no safety data sheets (it has no rows in hazards.csv), "
                     f"and has chemicals: {', '.join(bare[:5])}{more}.")
        return
    for number in bare:
        yield Remark("safety data sheet", f"No safety data sheet is named for {number}, a chemical.", item=number)


def _exchange_units(edition: Edition) -> frozenset[str]:
    """The items that may fill a role of the sort exchange unit, and what takes their place."""
    sorts = {part.role.name: part.role.sort for part in edition.roles()}
    fits: list[Fit] = [fit for part in edition.roles() for fit in part.fits]
    keys = {fit.key for some in (fits, *(part.fits for part in edition.jobs())) for fit in some
            if sorts[fit.role] == "exchange unit" and not fit.nothing}
    numbers = {number for key in keys for number in acceptable(edition, key)}
    return frozenset(takes_its_place(numbers, edition.supersessions))


def _unused(kind: Kind, file: str, row: int, item: str) -> Remark:
    return _remark(kind, file, row, item, f"nothing uses the item {item}")


def _remark(kind: Kind, file: str, row: int, item: str, text: str) -> Remark:
    return Remark(kind, f"{file} line {row}: {text}.", (RowPlace(file, row),), item=item)
