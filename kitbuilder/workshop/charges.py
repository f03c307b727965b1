"""What a customer is charged: the table [labour] of the settings, and the price of a line.

    [labour]
    rate = "92.00"               # an hour, before tax, in the catalogue's currency
    tax = "20"                   # per cent, on parts and labour
    deposit_tax = "when kept"    # a rule of the house: "when kept" (a deposit is taxed only if it is kept) or "at once"

Money is whole minor units, rounded half up: once for each line, each stage, each tax. Nothing here is a float.
"""

import re
from collections.abc import Callable, Mapping
from fractions import Fraction
from typing import Final, NamedTuple

import msgspec

from kitbuilder import amount
from kitbuilder.catalogue.edition import Edition
from kitbuilder.errors import BadData, offered
from kitbuilder.kit.events import acceptable
from kitbuilder.model.catalogue import Key

_KEYS: Final = ("rate", "tax", "deposit_tax")
DEPOSIT_TAX: Final = ("when kept", "at once")
_PERCENT: Final = re.compile(r"[0-9]{1,2}(\.[0-9]{1,4})?")


class Charges(msgspec.Struct, frozen=True):
    """`rate`: minor units an hour, None where none is set; `tax`: per cent as written, empty where none is set."""

    rate: int | None = None
    tax: str = ""
    deposit_tax: str = DEPOSIT_TAX[0]

    def labour(self, minutes: int) -> int:
        """What some minutes cost, in minor units; nothing where no rate is set."""
        return half_up((self.rate or 0) * minutes, 60)

    def tax_on(self, net: int) -> int:
        """The tax on an amount, both in minor units; nothing where no tax is set."""
        share = Fraction(self.tax or "0") / 100
        return half_up(net * share.numerator, share.denominator)

    def with_tax(self, net: int) -> int:
        """An amount with the tax on it."""
        return net + self.tax_on(net)

    def deposit_taxed(self, deposit: int) -> int:
        """The tax that is asked with a deposit."""
        return self.tax_on(deposit) if self.deposit_tax == "at once" else 0


class Price(NamedTuple):
    """What is charged for a line, in minor units: `least` for the least of a fill to level, else as `most`; the item
    that it is for."""

    least: int
    most: int
    item: str


PriceOf = Callable[[Key], Price | None]
"""The price of a line; None where no price is told, which is never the same as nothing."""


def half_up(over: int, under: int) -> int:
    """A ratio of whole numbers (none below zero) rounded to a whole one, half up."""
    return (2 * over + under) // (2 * under)


def read_charges(file: str, table: object, currency: str) -> Charges:
    """The charges, from what a settings file has under `labour`; `file` is its name for messages. Raises BadData."""
    if not isinstance(table, Mapping):
        raise BadData(f"{file}: labour = {table!r}; expected a table [labour].")
    for key in table:
        if key not in _KEYS:
            raise BadData(f"{file}: [labour] has no key {key!r}. {offered(str(key), _KEYS)}")
    rate, tax = table.get("rate"), table.get("tax", "")
    if rate is not None:
        try:
            rate = amount.parse_money(rate if isinstance(rate, str) else "", currency)
        except ValueError:
            raise BadData(f"{file}: [labour] rate = {rate!r}; expected what an hour costs in {currency} as a text, "
                          "such as \"92.00\".") from None
    if not isinstance(tax, str) or ("tax" in table and not _PERCENT.fullmatch(tax)):
        raise BadData(f"{file}: [labour] tax = {tax!r}; expected per cent as a text, such as \"20\" or \"5.5\".")
    deposit_tax = table.get("deposit_tax", DEPOSIT_TAX[0])
    if deposit_tax not in DEPOSIT_TAX:
        raise BadData(f"{file}: [labour] deposit_tax = {deposit_tax!r}; expected \"when kept\" or \"at once\".")
    return Charges(rate, tax, deposit_tax)


def selling_prices(edition: Edition) -> PriceOf:
    """Prices by selling.csv: for a requirement those of the first acceptable item that has one."""

    def price_of(key: Key) -> Price | None:
        for number in acceptable(edition, key):
            selling = edition.selling(number)
            if selling is not None:
                unit = edition.item(number).unit
                return Price(priced(selling.price, selling.per, unit, key.least or key.amount, key.unit),
                             priced(selling.price, selling.per, unit, key.amount, key.unit), number)
        return None

    return price_of


def priced(minor: int, per: int, per_unit: str, milli: int, unit: str) -> int:
    """What an amount costs at `minor` for `per` milli-units of `per_unit`, both of one quantity; rounded half up."""
    return half_up(minor * smallest(milli, unit), smallest(per, per_unit))


def smallest(milli: int, unit: str) -> int:
    """Thousandths of the quantity's smallest unit, in which litres and millilitres add up exactly."""
    return milli * amount.MEASURED[unit][1] if unit in amount.MEASURED else milli
