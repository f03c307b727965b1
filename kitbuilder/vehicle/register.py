"""Looks a vehicle up in the registers of the settings, each fenced."""

import msgspec

from kitbuilder.errors import SourceFailed, WrongUse, nearest, one_of
from kitbuilder.hooks import Context, Entry
from kitbuilder.plugins import Plugins, fenced
from kitbuilder.settings import PluginSettings, Settings
from kitbuilder.vehicle.statements import REGISTER, Statement


class Found(msgspec.Struct, frozen=True):
    """What the registers know of a vehicle: statements, and what to warn of; `failed` if one didn't answer."""

    statements: tuple[Statement, ...]
    warnings: tuple[str, ...]
    failed: bool


def look_up(registration: str, settings: Settings, plugins: Plugins, currency: str) -> Found:
    """What all registers say of a registration.

    Raises WrongUse, with the nearest registration, if none knows it and none failed.
    """
    if not settings.registers:
        raise WrongUse("There is no vehicle register; add [registers.NAME] to kitbuilder.toml, or tell the facts with --fact.")
    entries: list[Entry] = []
    known: list[str] = []
    warnings: list[str] = []
    for one in settings.registers:
        try:
            found, names = _ask(one, registration, settings, plugins, currency)
        except SourceFailed as failed:
            warnings.append(f"The register {one.name} failed ({one.plugin}: {failed}); what it knows is missing.")
            continue
        entries += found
        known += names
    if not entries and not warnings:
        close = nearest(registration, known)
        hint = f"Did you mean {close!r}?" if close else f"Expected {one_of(registration, known)}."
        raise WrongUse(f"No register knows the registration {registration!r}. {hint}")
    statements = tuple(
        Statement(fact, cell, REGISTER, place) for entry in entries for fact, cell, place in entry.cells)
    return Found(statements, tuple(warnings), bool(warnings))


def _ask(one: PluginSettings, registration: str, settings: Settings, plugins: Plugins,
         currency: str) -> tuple[list[Entry], list[str]]:
    if one.plugin not in plugins.registers:
        raise SourceFailed(f"no plug-in brings it; expected {one_of(one.plugin, list(plugins.registers))}")
    kind = plugins.registers[one.plugin][0]
    context = Context(one.name, one.keys, settings.folder, currency)

    def look() -> tuple[list[Entry], list[str]]:
        register = kind.make(context)
        found = list(register.find(registration))
        return found, [] if found else [str(name) for name in register.registrations()]

    found, names = fenced(look, one.deadline_s)
    try:
        entries = msgspec.convert(msgspec.to_builtins(found), list[Entry])
    except (msgspec.ValidationError, TypeError) as error:
        raise SourceFailed(f"it answered rubbish: {error}") from None
    return entries, names
