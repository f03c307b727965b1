"""Looks a vehicle up in the registers of the settings, each fenced."""

from collections.abc import Sequence

import msgspec

from kitbuilder.errors import SourceFailed, WrongUse, nearest, offered
from kitbuilder.hooks import Context, Entry
from kitbuilder.plugins import Plugins, fenced, made, printing_aside
from kitbuilder.settings import PluginSettings, Settings
from kitbuilder.vehicle.statements import REGISTER, Statement
from kitbuilder.vehicle.vin import is_vin, read_vin


class Found(msgspec.Struct, frozen=True):
    """What the registers know of a vehicle: statements, and what to warn of; `failed` if one didn't answer; its VINs,
    in the order of the registers (several only where registers disagree)."""

    statements: tuple[Statement, ...]
    warnings: tuple[str, ...]
    failed: bool
    vins: tuple[str, ...] = ()


def look_up(registration: str, settings: Settings, plugins: Plugins, currency: str) -> Found:
    """What all registers say of a registration or a VIN, in the order of the settings.

    Raises WrongUse, with the nearest registration, if none knows it and none failed.
    """
    if not settings.registers:
        raise WrongUse("There is no vehicle register; add [registers.NAME] with plugin = \"…\" to kitbuilder.toml, "
                       "or tell the facts with --fact.")
    entries: list[Entry] = []
    known: list[str] = []
    warnings: list[str] = []
    for one in settings.registers:
        try:
            found, names = _ask(one, registration, settings, plugins, currency)
        except SourceFailed as failed:
            warnings.append(f"The register {one.name} failed: {failed}; what it knows is missing.")
            continue
        entries += found
        known += names
    if not entries and not warnings:
        if is_vin(registration):
            raise WrongUse(f"No register knows the VIN {registration!r}. With --vin, what the catalogue tells of it "
                           "counts alone.")
        raise WrongUse(f"No register knows the registration {registration!r}. {_hint(registration, known)}")
    statements = tuple(
        Statement(fact, cell, REGISTER, place) for entry in entries for fact, cell, place in entry.cells)
    silent = bool(warnings)
    vins: dict[str, None] = {}
    for entry in entries:
        try:
            if entry.vin.strip():
                vins[read_vin(entry.vin)] = None
        except WrongUse as wrong:
            place = next((place for _, _, place in entry.cells if place), f"of {entry.registration}")
            warnings.append(f"{wrong} Set aside ({place}).")
    return Found(statements, tuple(warnings), silent, tuple(vins))


def _hint(registration: str, known: Sequence[str]) -> str:
    """The nearest registration; how they are spelled doesn't make them any nearer or farther."""
    bare = {_bare(name): name for name in reversed(known)}
    close = nearest(_bare(registration), list(bare))
    return f"Did you mean {bare[close]!r}?" if close else offered(registration, known)


def _bare(registration: str) -> str:
    return "".join(char for char in registration.casefold() if char.isalnum())


def _ask(one: PluginSettings, registration: str, settings: Settings, plugins: Plugins,
         currency: str) -> tuple[list[Entry], list[str]]:
    kind, distribution = plugins.register(one.plugin)
    context = Context(one.name, one.keys, settings.folder, currency, one.deadline_s)

    def look() -> tuple[list[Entry], list[str]]:
        register = made(kind.make, context, "registers")
        found = _checked(register.find(registration))
        return found, [] if found else [str(name) for name in register.registrations()]

    try:
        with printing_aside():
            return fenced(look, one.deadline_s)
    except SourceFailed as failed:
        raise SourceFailed(f"{one.plugin} of {distribution}: {failed}") from failed


def _checked(answer: object) -> list[Entry]:
    """The rows as they cross the seam. Refuses rubbish: another type, wrong types inside."""
    if not isinstance(answer, Sequence) or not all(isinstance(entry, Entry) for entry in answer):
        raise SourceFailed(f"it answered {type(answer).__name__}, expected a list of Entry")
    try:
        return msgspec.convert(msgspec.to_builtins(answer), list[Entry])
    except (msgspec.ValidationError, TypeError) as error:
        raise SourceFailed(f"it answered an Entry that is not one: {error}") from None
