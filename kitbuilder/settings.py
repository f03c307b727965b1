"""The settings of a workshop: the nearest kitbuilder.toml, in this folder or one above."""

from collections.abc import Mapping
from datetime import datetime
from pathlib import Path
from typing import Any

import msgspec

from kitbuilder.errors import BadData, WrongUse, offered

FILE = "kitbuilder.toml"
#: A folder that the demo made holds this file; only there may the settings fix the clock.
DEMO_MARK = ".kitbuilder-demo"

_KEYS = ("catalogue", "store", "now", "sources", "registers", "diaries", "sites", "labour", "on-condition", "quotes",
         "orders")


class PluginSettings(msgspec.Struct, frozen=True):
    """One `[sources.NAME]` or `[registers.NAME]`: the kind that its `plugin` names, the seconds it may take, the
    hours after which its answer counts as stale, and the keys that belong to the plug-in. Of a source also within how
    many days it takes things back (None: not told), and which percentage of the price it keeps then."""

    name: str
    plugin: str
    deadline_s: float
    stale_after_h: float
    keys: dict[str, Any]
    return_days: int | None = None
    return_fee_percent: int = 0


class Settings(msgspec.Struct, frozen=True):
    """Settings as read; `folder` is where relative paths start, `file` None where there is no settings file; `store`
    is the store's file or a database URL.

    `sites` is as written: `kitbuilder.calendar.reading.read_sites` reads it, for commands that need it; so is `labour`,
    which `kitbuilder.workshop.charges.read_charges` reads, `on_condition`
    (`kitbuilder.kit.conditions`) and `orders` (`kitbuilder.stock.approval`).
    `round_s`: the seconds after which a round of quotes ends, whoever hasn't answered by then (None: when each source
    has had its own deadline)."""

    folder: Path
    file: Path | None = None
    catalogue: Path | None = None
    now: datetime | None = None
    sources: tuple[PluginSettings, ...] = ()
    registers: tuple[PluginSettings, ...] = ()
    diaries: tuple[PluginSettings, ...] = ()
    store: str | None = None
    sites: object = {}
    labour: object = {}
    on_condition: object = None
    round_s: float | None = None
    orders: object = {}


def find_settings(start: Path) -> Settings:
    """The settings that hold for a folder; empty ones if no kitbuilder.toml is found. Raises BadData."""
    start = start.absolute()  # a relative path has no folders above it
    for folder in (start, *start.parents):
        file = folder / FILE
        if file.is_file():
            return read_settings(file)
    return Settings(start)


def read_settings(file: Path) -> Settings:
    """The settings in a file. Raises BadData, naming the key and the nearest known one."""
    import tomllib

    try:
        table = tomllib.loads(file.read_text("utf-8-sig"))
    except OSError as error:
        raise BadData(f"{file} can't be read: {error.strerror}.") from None
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise BadData(f"{file} is not TOML: {error}.") from None
    for key in table:
        if key not in _KEYS:
            raise BadData(f"{file}: there is no setting {key!r}. {offered(key, _KEYS)}")
    folder = file.parent
    catalogue = table.get("catalogue")
    if catalogue is not None and not isinstance(catalogue, str):
        raise BadData(f"{file}: catalogue = {catalogue!r}; expected the path of a catalogue folder as a text.")
    store = table.get("store")
    if store is not None and not isinstance(store, str):
        raise BadData(f"{file}: store = {store!r}; expected the path of the store's file as a text, or a database URL.")
    return Settings(
        folder, file, folder / catalogue if catalogue is not None else None, _now(file, table.get("now")),
        _plugin_settings(file, "sources", table.get("sources", {})),
        _plugin_settings(file, "registers", table.get("registers", {})),
        _plugin_settings(file, "diaries", table.get("diaries", {})),
        store if store is None or "://" in store else str(folder / store), table.get("sites", {}),
        labour=table.get("labour", {}), on_condition=table.get("on-condition"),
        round_s=_round_s(file, table.get("quotes", {})), orders=table.get("orders", {}))


def _round_s(file: Path, table: object) -> float | None:
    if not isinstance(table, Mapping):
        raise BadData(f"{file}: quotes = {table!r}; expected a table [quotes] with deadline_s.")
    for key in table:
        if key != "deadline_s":
            raise BadData(f"{file}: [quotes] has no key {key!r}. {offered(str(key), ('deadline_s',))}")
    return _seconds(file, "[quotes] deadline_s", table["deadline_s"]) if "deadline_s" in table else None


def _seconds(file: Path, where: str, value: object) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not 0 < value < 1e6:
        raise BadData(f"{file}: {where} = {value!r}; expected a number more than 0 and less than 1000000.")
    return float(value)


def _now(file: Path, now: object) -> datetime | None:
    if now is None:
        return None
    if not (file.parent / DEMO_MARK).exists():
        raise BadData(f"{file}: 'now' fixes the clock, which only a demo folder may; take the line out.")
    if not isinstance(now, datetime) or now.tzinfo is None:
        raise BadData(f"{file}: now = {now}; expected a day and time with its zone, as 2026-03-10T15:00:00+00:00.")
    return now


def _plugin_settings(file: Path, group: str, tables: object) -> tuple[PluginSettings, ...]:
    if not isinstance(tables, Mapping) or not all(isinstance(one, Mapping) for one in tables.values()):
        raise BadData(f"{file}: {group} = {tables!r}; expected tables [{group}.NAME].")
    found = []
    for name, table in tables.items():
        keys = dict(table)
        plugin = keys.pop("plugin", None)
        if not isinstance(plugin, str):
            raise BadData(f"{file}: [{group}.{name}] has no plugin = \"…\" (`kitbuilder plugins` shows the names).")
        numbers = [_seconds(file, f"[{group}.{name}] {key}", keys.pop(key, default))
                   for key, default in (("deadline_s", 5.0), ("stale_after_h", 24.0))]
        returns = [_whole(file, f"[{group}.{name}]", key, keys.pop(key, None), most) for key, most in (
            ("return_days", 3650), ("return_fee_percent", 100))] if group == "sources" else [None, None]
        found.append(PluginSettings(str(name), plugin, numbers[0], numbers[1], keys, returns[0], returns[1] or 0))
    return tuple(found)


def _whole(file: Path, where: str, key: str, value: object, most: int) -> int | None:
    if value is not None and (isinstance(value, bool) or not isinstance(value, int) or not 0 <= value <= most):
        raise BadData(f"{file}: {where} {key} = {value!r}; expected a whole number from 0 to {most}.")
    return value


def catalogue_folder(settings: Settings, named: Path | None) -> Path:
    """The catalogue to use: the one named, else the settings'. Raises WrongUse if neither is there."""
    if named is not None:
        return named
    if settings.catalogue is not None:
        return settings.catalogue
    where = f"{settings.file} names none" if settings.file else f"no {FILE} is in {settings.folder} or a folder above"
    raise WrongUse(
        f"Which catalogue? {where}. Name its folder with --catalogue, or make a demo workshop: kitbuilder demo FOLDER.")
