"""What the vehicle registers say of the vehicles of a night."""

import msgspec

from kitbuilder.errors import WrongUse
from kitbuilder.plugins import Plugins
from kitbuilder.settings import Settings
from kitbuilder.vehicle.register import look_up
from kitbuilder.vehicle.statements import Statement


class Vehicle(msgspec.Struct, frozen=True):
    """What is known of a registration: statements; what is wrong, in words; whether a register failed, so that more
    may be known than is told here."""

    statements: tuple[Statement, ...]
    wrong: tuple[str, ...]
    failed: bool


class Registers:
    """The registers during one run: each vehicle is asked for once, and a register that failed isn't asked again: a
    thousand bookings would else wait a thousand deadlines. `failed` says of each such one why."""

    def __init__(self, settings: Settings, plugins: Plugins, currency: str) -> None:
        self._settings, self._plugins, self._currency = settings, plugins, currency
        self._known: dict[str, Vehicle] = {}
        self.failed: dict[str, str] = {}

    def find(self, registration: str) -> Vehicle:
        """A vehicle by its registration; none is known where there is no registration, or no register."""
        if not registration or not self._settings.registers:
            return Vehicle((), (), False)
        if registration not in self._known:
            self._known[registration] = self._ask(registration)
        return self._known[registration]

    def _ask(self, registration: str) -> Vehicle:
        statements: list[Statement] = []
        unknown: list[str] = []
        knows = False
        for one in self._settings.registers:
            if one.name in self.failed:
                continue
            alone = msgspec.structs.replace(self._settings, registers=(one,))
            try:
                found = look_up(registration, alone, self._plugins, self._currency)
            except WrongUse as error:
                unknown.append(str(error))
                continue
            if found.failed:
                self.failed[one.name] = found.warnings[0]
            else:
                knows = True
                statements += found.statements
        wrong = list(self.failed.values())
        if not knows and not self.failed:
            wrong = unknown[:1]
        return Vehicle(tuple(statements), tuple(wrong), bool(self.failed))
