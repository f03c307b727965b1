"""Loads plug-ins, and fences them: one that raises, hangs or answers rubbish is named, and the rest goes on."""

import threading
from collections.abc import Callable
from importlib.metadata import EntryPoint, entry_points
from typing import Any, TypeVar

import msgspec
import pluggy

from kitbuilder import hooks
from kitbuilder.errors import SourceFailed
from kitbuilder.hooks import RegisterKind, SourceKind

GROUP = "kitbuilder"
#: Seconds that loading a plug-in, or one call of its hooks, may take.
DEADLINE_S = 5.0

T = TypeVar("T")


class Plugin(msgspec.Struct, frozen=True):
    """One plug-in: its entry point's name, distribution and version, what it registers, what went wrong ("" if nothing)."""

    name: str
    distribution: str
    version: str
    registers: tuple[str, ...]
    error: str


class Plugins(msgspec.Struct, frozen=True):
    """What the loaded plug-ins registered; each kind comes with the distribution that brought it."""

    rows: tuple[Plugin, ...]
    sources: dict[str, tuple[SourceKind, str]]
    registers: dict[str, tuple[RegisterKind, str]]


def fenced(call: Callable[[], T], deadline_s: float) -> T:
    """What `call` returns, called in a thread of its own.

    Raises SourceFailed with the reason if it raises anything or doesn't return within the deadline; a
    thread that hangs is left behind and ends with the process.
    """
    done: list[T] = []
    failed: list[BaseException] = []

    def run() -> None:
        try:
            done.append(call())
        except BaseException as error:  # a plug-in may raise anything, SystemExit too
            failed.append(error)

    thread = threading.Thread(target=run, daemon=True)
    thread.start()
    thread.join(deadline_s)
    if failed:
        raise SourceFailed(_reason(failed[0])) from failed[0]
    if not done:
        raise SourceFailed(f"no answer within {deadline_s:g} s")
    return done[0]


def _reason(error: BaseException) -> str:
    text = " ".join(str(error).split())
    return f"{type(error).__name__}: {text}" if text else type(error).__name__


def load_plugins(points: list[EntryPoint] | None = None) -> Plugins:
    """Load every entry point of the group, each in its own try, and gather what they register."""
    manager = pluggy.PluginManager("kitbuilder")
    manager.add_hookspecs(hooks)
    rows: list[Plugin] = []
    sources: dict[str, tuple[SourceKind, str]] = {}
    registers: dict[str, tuple[RegisterKind, str]] = {}
    found = sorted(entry_points(group=GROUP), key=lambda point: point.name) if points is None else points
    for point in found:
        of = point.dist.name if point.dist else "?"
        version = point.dist.version if point.dist else "?"
        named: list[str] = []
        error = ""
        try:
            module = fenced(point.load, DEADLINE_S)
            manager.register(module, name=f"{of}:{point.name}")
            manager.check_pending()
            for hook, kind, known in (
                ("stock_sources", SourceKind, sources), ("vehicle_registers", RegisterKind, registers),
            ):
                for one in _registered(manager, hook, module, kind):
                    if one.name in known:
                        raise SourceFailed(f"{one.name!r} is registered by {known[one.name][1]} already")
                    known[one.name] = one, of  # type: ignore[index]
                    named.append(one.name)
        except SourceFailed as failed:
            error = str(failed)
        except Exception as failed:  # pluggy's complaints about hooks it doesn't know
            error = _reason(failed)
        rows.append(Plugin(point.name, of, version, tuple(named), error))
    return Plugins(tuple(rows), sources, registers)


def _registered(manager: pluggy.PluginManager, hook: str, module: Any, kind: type[Any]) -> list[Any]:
    caller = getattr(manager.hook, hook)
    answers = []
    for impl in caller.get_hookimpls():
        if impl.plugin is module:
            answer = fenced(impl.function, DEADLINE_S)
            if not isinstance(answer, list | tuple) or not all(isinstance(one, kind) for one in answer):
                raise SourceFailed(f"{hook} returned {answer!r}, expected a list of {kind.__name__}")
            answers += answer
    return answers

