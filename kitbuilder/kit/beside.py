"""What a kit tells beside its lines of the items that may fill them: hazards, and what exchange units ask for."""

from collections.abc import Sequence

from kitbuilder import amount
from kitbuilder.catalogue.edition import Edition
from kitbuilder.model.kit import ExchangeShown, HazardShown, HazardStatement, Line, Pictogram


def hazards_of(edition: Edition, lines: Sequence[Line]) -> tuple[HazardShown, ...]:
    """What safety data sheets say of the items that may fill some lines, in line order, each item once."""
    found = []
    for number in dict.fromkeys(number for line in lines for number in line.acceptable):
        one = edition.hazard(number)
        if one is not None:
            found.append(HazardShown(
                number, edition.item(number).name, one.sheet, one.revised.isoformat() if one.revised else None,
                one.signal or None, tuple(Pictogram(code, edition.codes[code]) for code in one.pictograms),
                tuple(HazardStatement(code, edition.codes[code]) for code in one.statements), one.note or None,
                one.row))
    return tuple(found)


def exchange_of(edition: Edition, lines: Sequence[Line]) -> tuple[ExchangeShown, ...]:
    """What is asked against the old units of the items that may fill some lines, in line order, each item once."""
    found = []
    currency = edition.heading.currency
    for number in dict.fromkeys(number for line in lines for number in line.acceptable):
        one = edition.exchange(number)
        if one is not None:
            item = edition.item(number)
            roles = dict.fromkeys(line.role for line in lines if number in line.acceptable)
            found.append(ExchangeShown(
                number, item.name, item.unit, tuple(roles), True,
                amount.show_money(one.deposit, currency) if one.deposit else None, currency if one.deposit else None,
                one.days or None, one.state, one.arrives or None, one.circuit or None, one.note or None, one.row))
    return tuple(found)
