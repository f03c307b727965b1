"""Loads plug-ins, and fences them: one that raises, hangs or answers rubbish is named, and the rest goes on."""

import contextlib
import sys
import threading
import time
from collections.abc import Callable, Mapping
from importlib.metadata import EntryPoint, entry_points
from typing import Any, Generic, TypeVar

import msgspec
import pluggy

from kitbuilder import hooks
from kitbuilder.errors import KitbuilderError, SourceFailed, one_of
from kitbuilder.hooks import Context, DiaryKind, RegisterKind, SourceKind

GROUP = "kitbuilder"
#: Seconds that a plug-in may take to be imported and to say what it registers.
DEADLINE_S = 5.0
#: What each hook's list holds.
KINDS: dict[str, type[SourceKind] | type[RegisterKind] | type[DiaryKind]] = {
    "stock_sources": SourceKind, "vehicle_registers": RegisterKind, "diaries": DiaryKind}

Kind = SourceKind | RegisterKind | DiaryKind
T = TypeVar("T")
K = TypeVar("K", SourceKind, RegisterKind, DiaryKind)


class Plugin(msgspec.Struct, frozen=True):
    """One plug-in: its entry point's name, distribution and version, what it registers, what went wrong ("" if
    nothing)."""

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
    diaries: dict[str, tuple[DiaryKind, str]] = {}

    def source(self, name: str) -> tuple[SourceKind, str]:
        """The kind of stock source of a name, and its distribution. Raises SourceFailed."""
        return self._kind(self.sources, name)

    def register(self, name: str) -> tuple[RegisterKind, str]:
        """The kind of vehicle register of a name, and its distribution. Raises SourceFailed."""
        return self._kind(self.registers, name)

    def diary(self, name: str) -> tuple[DiaryKind, str]:
        """The kind of diary of a name, and its distribution. Raises SourceFailed."""
        return self._kind(self.diaries, name)

    def _kind(self, known: Mapping[str, tuple[K, str]], name: str) -> tuple[K, str]:
        if name in known:
            return known[name]
        # the one that is missing may be among those that didn't load
        broken = "".join(f"; the plug-in {row.name} of {row.distribution} failed: {row.error}"
                         for row in self.rows if row.error)
        raise SourceFailed(f"no plug-in brings {name!r}; expected {one_of(name, list(known))}{broken}")


class Hangs(SourceFailed):
    """A plug-in that gave no answer within its deadline."""


class Fence(Generic[T]):
    """A call in a thread of its own, which begins at once. One that hangs is left behind and ends with the process."""

    def __init__(self, call: Callable[[], T]) -> None:
        self._call = call
        self._done: list[T] = []
        self._failed: list[tuple[BaseException, str]] = []
        self._began = self._ended = time.monotonic()
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def _run(self) -> None:
        try:
            self._done.append(self._call())
        except BaseException as error:  # a plug-in may raise anything, SystemExit too
            # worded here: the text of an error is the plug-in's as well, and may raise or hang
            self._failed.append((error, _reason(error)))
        self._ended = time.monotonic()

    def result(self, deadline_s: float) -> T:
        """What the call returns within so many seconds of its beginning. Raises SourceFailed with the reason if it
        raises anything, Hangs if it doesn't return by then."""
        self._thread.join(max(0.0, self._began + deadline_s - time.monotonic()))
        if self._failed:
            raise SourceFailed(self._failed[0][1]) from self._failed[0][0]
        if not self._done:
            raise Hangs(f"no answer within {deadline_s:g} s")
        return self._done[0]

    def took_s(self) -> float:
        """How many seconds the call took, or has taken up to now."""
        return (time.monotonic() if self._thread.is_alive() else self._ended) - self._began


def fenced(call: Callable[[], T], deadline_s: float) -> T:
    """What `call` returns, called in a thread of its own.

    Raises SourceFailed with the reason if it raises anything or doesn't return within the deadline; a
    thread that hangs is left behind and ends with the process.
    """
    return Fence(call).result(deadline_s)


def _reason(error: BaseException) -> str:
    name = type(error).__name__
    try:
        text = " ".join(str(error).split())
    except BaseException:
        return name
    if isinstance(error, KitbuilderError) and text:
        return text.rstrip(".")
    return f"{name}: {text}" if text else name


def printing_aside() -> contextlib.AbstractContextManager[object]:
    """While it holds, what plug-ins print goes to standard error: standard output is the answer's."""
    return contextlib.redirect_stdout(sys.stderr)


def made(make: Callable[[Context], T], context: Context, group: str) -> T:
    """What a kind makes of its settings. A bare ValueError is its word for settings it can't use."""
    try:
        return make(context)
    except ValueError as error:
        if type(error) is not ValueError:
            raise
        raise SourceFailed(f"in [{group}.{context.name}] it expected {error}") from error


def load_plugins(points: list[EntryPoint] | None = None, deadline_s: float | None = None) -> Plugins:
    """Load every entry point of the group, each in its own fence, and gather what they register.

    A plug-in that raises, hangs or registers rubbish brings nothing; of kinds with one name the first stands.
    """
    rows: list[Plugin] = []
    brought: dict[type[Kind], dict[str, Any]] = {kind: {} for kind in KINDS.values()}
    found = sorted(entry_points(group=GROUP), key=lambda point: (point.name, point.value)) if points is None else points
    for point in found:
        of, version = (point.dist.name or "?", point.dist.version or "?") if point.dist else ("?", "?")
        named: list[str] = []
        errors: list[str] = []
        try:
            with printing_aside():
                kinds = fenced(lambda point=point: _registered(point), deadline_s or DEADLINE_S)  # type: ignore[misc]
        except SourceFailed as failed:
            kinds = []
            errors.append(str(failed))
        for kind in kinds:
            known = brought[type(kind)]
            if kind.name in known:
                errors.append(f"{kind.name!r} is registered by {known[kind.name][1]} already")
                continue
            known[kind.name] = kind, of
            named.append(kind.name)
        rows.append(Plugin(point.name, of, version, tuple(named), "; ".join(errors)))
    return Plugins(tuple(rows), brought[SourceKind], brought[RegisterKind], brought[DiaryKind])


def _registered(point: EntryPoint) -> list[Kind]:
    """Import a plug-in and call its hooks: the kinds it registers. Raises whatever it does."""
    plugin = point.load()
    # a manager for each: pluggy would go on complaining of an unknown hook at every later plug-in
    manager = pluggy.PluginManager("kitbuilder")
    manager.add_hookspecs(hooks)
    manager.register(plugin, name=point.name)
    kinds: list[Kind] = []
    for caller in manager.get_hookcallers(plugin) or ():
        if not caller.has_spec() and all(impl.optionalhook for impl in caller.get_hookimpls()):
            continue
        if caller.name not in KINDS:
            raise SourceFailed(f"there is no hook {caller.name!r}; expected {one_of(caller.name, list(KINDS))}")
        for impl in caller.get_hookimpls():
            kinds += _checked(caller.name, impl.function())
    for hook in KINDS:
        if callable(getattr(plugin, hook, None)) and not getattr(manager.hook, hook).get_hookimpls():
            raise SourceFailed(f"{hook} is not marked with @hookimpl of kitbuilder, so it would never be called")
    return kinds


def _checked(hook: str, answer: object) -> list[Kind]:
    expected = KINDS[hook]
    if not isinstance(answer, list | tuple):
        raise SourceFailed(f"{hook} returned {type(answer).__name__}, expected a list of {expected.__name__}")
    for one in answer:
        if type(one) is not expected:
            raise SourceFailed(f"{hook} returned a list with {type(one).__name__}, expected {expected.__name__} only")
        if not (isinstance(one.name, str) and one.name and isinstance(one.help, str) and callable(one.make)):
            raise SourceFailed(f"{hook} returned {expected.__name__} with wrong types inside, expected a name and a "
                               "help as text, and what makes one as a function")
    return list(answer)
