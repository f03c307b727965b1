"""Reads `[on-condition]` of the settings: where no shelf is at hand, and what carrying and a stopped job cost."""

from collections.abc import Callable, Mapping
from fractions import Fraction
from typing import Final

import msgspec

from kitbuilder import amount
from kitbuilder.errors import BadData, offered
from kitbuilder.settings import FILE, Settings
from kitbuilder.vehicle.worlds import Space

_KEYS: Final = ("place", "away", "stopped", "handling", "per_kg", "most_weight", "most_value", "hour", "reserve",
                "fetch")


class Conditions(msgspec.Struct, frozen=True):
    """What decides which lines on condition go along or are set aside. Money in minor units of the catalogue.

    `place`: the job fact that says where the work is done, `away` its values where no shelf is at hand. `stopped`: a
    job stopped and a second trip. `handling`: carrying one line along and bringing it back, and `per_kg` of it more.
    `most_weight` (grams) and `most_value`: what the van may carry. `hour`: a stopped bay's hour (None: nothing is set
    aside in the workshop); `reserve`: setting one line aside for a day; `fetch`: minutes from the shelf to the bay.
    """

    place: str
    away: tuple[str, ...]
    stopped: int
    handling: int = 0
    per_kg: int = 0
    most_weight: int | None = None
    most_value: int | None = None
    hour: int | None = None
    reserve: int = 0
    fetch: int = 10

    def carrying(self, grams: int) -> Fraction:
        """What it costs to carry a line of some weight along and bring it back."""
        return self.handling + Fraction(self.per_kg * grams, 1000)


def read_conditions(settings: Settings, space: Space, currency: str, *, others: bool = False) -> Conditions | None:
    """The conditions of a workshop; None where its settings have none, or where the catalogue is another's (`others`)
    and has no such fact. Raises BadData, naming the key."""
    table = settings.on_condition
    if table is None:
        return None
    file = settings.file or FILE
    if not isinstance(table, Mapping):
        raise BadData(f"{file}: on-condition = {table!r}; expected a table [on-condition].")
    for key in table:
        if key not in _KEYS:
            raise BadData(f"{file}: [on-condition] has no key {key!r}. {offered(key, _KEYS)}")
    read = _Reader(f"{file}: [on-condition]", table)
    place = read.text("place")
    facts = [fact for fact in space.facts if fact.of == "job"]
    fact = next((one for one in facts if one.name == place), None)
    if fact is None and others:
        return None
    if fact is None:
        raise BadData(f"{read.where} place = {place!r}: there is no such job fact. "
                      f"{offered(place, [one.name for one in facts])}")
    away = table.get("away")
    known = fact.cells(fact.everything)
    if not isinstance(away, list) or not away:
        raise BadData(f"{read.where} away = {away!r}; expected a list of values of {place}, such as [{known[-1]!r}].")
    for value in away:
        if value not in known:
            raise BadData(f"{read.where} away names {value!r}, no value of {place}. {offered(str(value), known)}")
    stopped = read.money("stopped", currency)
    if stopped is None:
        raise BadData(f'{read.where} lacks stopped, what a stopped job costs with its second trip, such as "600.00".')
    return Conditions(
        place, tuple(away), stopped, read.money("handling", currency) or 0, read.money("per_kg", currency) or 0,
        read.kilograms("most_weight"), read.money("most_value", currency), read.money("hour", currency),
        read.money("reserve", currency) or 0, read.minutes("fetch", 10))


class _Reader:
    def __init__(self, where: str, table: Mapping[str, object]) -> None:
        self.where, self._table = where, table

    def text(self, key: str) -> str:
        value = self._table.get(key)
        if not isinstance(value, str) or not value:
            raise BadData(f"{self.where} {key} = {value!r}; expected a text.")
        return value

    def money(self, key: str, currency: str) -> int | None:
        return self._decimal(key, lambda text: amount.parse_money(text, currency))

    def kilograms(self, key: str) -> int | None:
        return self._decimal(key, lambda text: amount.parse(text, "kg", "kg"))

    def minutes(self, key: str, default: int) -> int:
        value = self._table.get(key, default)
        if isinstance(value, bool) or not isinstance(value, int) or not 0 <= value < 10_000:
            raise BadData(f"{self.where} {key} = {value!r}; expected whole minutes.")
        return value

    def _decimal(self, key: str, parse: Callable[[str], int]) -> int | None:
        value = self._table.get(key)
        if value is None:
            return None
        try:
            if not isinstance(value, str):
                raise ValueError('a decimal as a text, such as "1.50"')
            return parse(value)
        except ValueError as error:
            raise BadData(f"{self.where} {key} = {value!r}; expected {error}.") from None
