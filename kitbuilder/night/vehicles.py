"""What the vehicle registers and the catalogue's VINs say of the vehicles of a night."""

from collections.abc import Sequence

import msgspec

from kitbuilder.errors import WrongUse
from kitbuilder.plugins import Plugins
from kitbuilder.settings import Settings
from kitbuilder.vehicle.register import look_up
from kitbuilder.vehicle.statements import Statement
from kitbuilder.vehicle.vin import VinPattern, is_vin, of_vin, read_vin


class Vehicle(msgspec.Struct, frozen=True):
    """What is known of a registration, or of a VIN in its place: statements; what is wrong, in words; whether a
    register failed, so that more may be known than is told here."""

    statements: tuple[Statement, ...]
    wrong: tuple[str, ...]
    failed: bool


class Registers:
    """The registers during one run: each vehicle is asked for once, and a register that failed isn't asked again: a
    thousand bookings would else wait a thousand deadlines. `failed` says of each such one why; `vins` are the
    catalogue's patterns."""

    def __init__(self, settings: Settings, plugins: Plugins, currency: str, vins: Sequence[VinPattern] = ()) -> None:
        self._settings, self._plugins, self._currency, self._vins = settings, plugins, currency, vins
        self._known: dict[str, Vehicle] = {}
        self.failed: dict[str, str] = {}

    def find(self, registration: str) -> Vehicle:
        """A vehicle by its registration or VIN; none is known where there is neither, or no register that would know
        a registration."""
        if not registration or not (self._settings.registers or is_vin(registration)):
            return Vehicle((), (), False)
        if registration not in self._known:
            self._known[registration] = self._ask(registration)
        return self._known[registration]

    def _ask(self, registration: str) -> Vehicle:
        statements: list[Statement] = []
        vins = [read_vin(registration)] if is_vin(registration) else []
        unknown: list[str] = []
        odd: list[str] = []
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
                vins += found.vins
                odd += found.warnings
        built = of_vin(self._vins, vins[0]) if vins else []
        wrong = [*self.failed.values(), *odd]
        if not knows and not built and not self.failed:
            wrong = unknown[:1]
        return Vehicle((*statements, *built), tuple(wrong), bool(self.failed))
