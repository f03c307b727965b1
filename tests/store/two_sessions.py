"""Walks through every order in which two sessions can take their steps, each order once.

A session is a thread that stops before each step (the beginning of a transaction, a statement, its end) until it is
let go. Where both stand before a step, either may be next: the walk takes one, and comes back from the start for the
other. A session whose statement waits for the other's lock can't be next; whether it waits is asked of the database. So
what is walked is the tree of what can happen, to its last leaf, and nothing is drawn.

Of orders that differ only in the turn of two steps that can't feel each other one is enough. Which these are says
`commute`; that none is lost by it is what sleep sets are for (P. Godefroid, Partial-Order Methods for the Verification
of Concurrent Systems, Springer 1996, chapter 5).
"""

import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

from sqlalchemy import event

from kitbuilder.store.database import Store
from kitbuilder.store.prepared import Prepared

TOGETHER, ALONE, LOOK, CHANGE, END = "begins together", "begins alone", "looks", "changes", "ends"
#: Seconds after which a session that is neither done nor waiting has gone astray.
ASTRAY_S = 30

_mine = threading.local()


def commute(one: str, other: str) -> bool:
    """Whether two steps of two sessions come to the same in either order, on a server that shows a statement what was
    committed before it (READ COMMITTED).

    A look takes no lock on rows and sees nothing of the other but what it has ended; beginning together takes a lock
    that only beginning alone, and the end of who began so, know of. All else is taken to matter.
    """
    pair = {one, other}
    return END not in pair and (LOOK in pair or (TOGETHER in pair and ALONE not in pair))


def never(one: str, other: str) -> bool:
    """As `commute`, where nothing is taken for granted."""
    return False


def every_order(play: Callable[[], Any], same: Callable[[str, str], bool]) -> Iterator[tuple[str, Any]]:
    """Play every order of two sessions, and say of each its steps, and what was played.

    `play` starts from the beginning: what it makes has `ready()`, which steps could be next by session, and
    `step(session)`, `finish()`. Orders that are the `same` as one that was played are left out.
    """
    to_do: list[tuple[str, frozenset[str]]] = [("", frozenset())]
    while to_do:
        order, asleep = to_do.pop()
        game = play()
        for who in order:
            game.step(who)
        whole = True
        while ready := game.ready():
            awake = sorted(ready.keys() - asleep)
            if not awake:
                whole = False  # what comes from here on has been played in another order
                break
            first, *others = awake
            for other in others:
                slept = {one for one in asleep | {first} if same(ready[one], ready[other])}
                to_do.append((order + other, frozenset(slept)))
            asleep = frozenset(one for one in asleep if same(ready[one], ready[first]))
            game.step(first)
            order += first
        game.finish()
        if whole:
            yield order, game


class Session:
    """What one of the two does, in a thread that stops before each step."""

    def __init__(self, store: Store, act: Callable[[Store], Any], bell: threading.Condition) -> None:
        self.kind = ""
        self.running, self.done, self.inside, self.free = True, False, False, False
        self.result: Any = None
        self._store, self._act, self._bell = store, act, bell
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def stop(self, kind: str) -> None:
        """Stand before a step until it is let go."""
        with self._bell:
            self.inside = self.kind in (TOGETHER, ALONE, LOOK, CHANGE)
            self.kind, self.running = kind, self.free
            self._bell.notify_all()
            self._bell.wait_for(lambda: self.running)

    def go(self, free: bool = False) -> None:
        """Let it take its step; all of them, if it is `free`."""
        with self._bell:
            self.free, self.running = free, True
            self.inside = self.inside and self.kind != END
            self._bell.notify_all()

    def end(self) -> None:
        """Wait until its thread has ended."""
        self._thread.join(ASTRAY_S)
        assert not self._thread.is_alive()

    def _run(self) -> None:
        _mine.session = self
        self.result = self._act(self._store)
        with self._bell:
            self.running, self.done, self.inside = False, True, False
            self._bell.notify_all()


class Game:
    """Two sessions, each at a step."""

    def __init__(self, stores: list[Store], acts: list[Callable[[Store], Any]],
                 waits: Callable[[int, bool], bool]) -> None:
        """`waits` asks the database whether a session waits for the other, whose transaction is open or not."""
        self._bell, self._waits = threading.Condition(), waits
        self.sessions = [Session(store, act, self._bell) for store, act in zip(stores, acts, strict=True)]
        self._settle()

    def ready(self) -> dict[str, str]:
        """Who could go on, with which kind of step."""
        return {who: one.kind for who, one in zip("AB", self.sessions, strict=True) if not (one.done or one.running)}

    def step(self, who: str) -> None:
        """Have one of them take its step, and wait until nothing moves any more."""
        self.sessions["AB".index(who)].go()
        self._settle()

    def finish(self) -> None:
        """Let both run to their ends."""
        for one in self.sessions:
            one.go(free=True)
        for one in self.sessions:
            one.end()

    @property
    def results(self) -> list[Any]:
        """What each came to."""
        return [one.result for one in self.sessions]

    def _settle(self) -> None:
        end = time.monotonic() + ASTRAY_S
        while True:
            with self._bell:
                if self._bell.wait_for(lambda: not any(one.running for one in self.sessions), 0.003):
                    return
                running = [place for place, one in enumerate(self.sessions) if one.running]
            if all(self._waits(place, self.sessions[1 - place].inside) for place in running):
                assert len(running) == 1, "they wait for each other"
                assert not self.sessions[1 - running[0]].done, "it waits, and nobody is there"
                return
            assert time.monotonic() < end, f"{running} went astray"


class Stepped(Store):
    """A store that stops before each step of a session's transactions."""

    def _at_hand(self, work: Any) -> Any:
        _stop(ALONE if self.engine.dialect.name == "sqlite" else TOGETHER)

        def stepped(hand: Any) -> Any:
            try:
                return work(hand)
            finally:
                _stop(END)

        return super()._at_hand(stepped)

    @contextmanager
    def writing(self) -> Iterator[Any]:
        """As the store's own; each statement stops by itself."""
        with super().writing() as session:
            try:
                yield session
                session.flush()
            finally:
                _stop(END)


def stepped(store: Store, patch: Any) -> Store:
    """Have a store stop before each statement of a session, as far as `patch` reaches."""
    store.__class__ = Stepped
    plain = Prepared.run

    def run(self: Any, hand: Any, **values: Any) -> Any:
        _stop(kind_of(str(self._statement)))
        return plain(self, hand, **values)

    if not getattr(plain, "stops", False):
        run.stops = True  # type: ignore[attr-defined]
        patch.setattr(Prepared, "run", run)
    event.listen(store.engine, "before_cursor_execute", lambda _1, _2, sql, *_: _stop(kind_of(sql)))
    return store


def kind_of(sql: str) -> str:
    """What kind of step a statement is."""
    if "advisory" in sql or sql.startswith("BEGIN"):
        return ALONE
    return LOOK if sql.lstrip().startswith("SELECT") and "FOR UPDATE" not in sql else CHANGE


def _stop(kind: str) -> None:
    session = getattr(_mine, "session", None)
    if session is not None:
        session.stop(kind)
