"""A run whose database server is killed says so, has done nothing by halves, and goes on when it is back to where an
unbroken run ends."""

from collections.abc import Callable, Iterator
from contextlib import ExitStack
from pathlib import Path
from typing import Any

import pytest

from kitbuilder.errors import StoreRefuses
from kitbuilder.night.run import STEPS
from kitbuilder.store import runs
from kitbuilder.store.prepared import Prepared
from tests.databases import Server, numberless
from tests.night.shop import RECORD, Shop
from tests.night.test_killed import busy

#: In a step: all of it is done, and its transaction isn't committed yet. While holding: some are held, others not.
POINTS = [*(f"in {step}" for step in STEPS), *(f"after {step}" for step in STEPS), "while holding"]


@pytest.fixture(scope="module")
def own() -> Iterator[Server]:
    """A server that a test may kill."""
    started = Server()
    yield started
    started.close()


def rows(shop: Shop, address: str) -> list[str]:
    """What the store holds, without the runs' own record."""
    return [line for line in numberless(address) if line.partition(" ")[0] not in RECORD]


@pytest.fixture(scope="module")
def unbroken(own: Server, tmp_path_factory: pytest.TempPathFactory) -> tuple[list[str], dict[str, bytes]]:
    """What the store and the papers are after the same night undisturbed."""
    address = own.fresh()
    shop = busy(tmp_path_factory.mktemp("unbroken") / "shop", address)
    shop.run()
    assert len(shop.held()) > 5 and len(shop.orders()) == 2
    shop.store.close()
    return rows(shop, address), shop.documents()


def kill_at(point: str, own: Server, patch: pytest.MonkeyPatch) -> Callable[[str], None]:
    """Have the server killed at a point of the next run; what is called after each of its steps."""
    when, _, which = point.partition(" ")
    noted, run, left = runs.step_done, Prepared.run, [3]

    def note(session: Any, number: int, name: str, *rest: Any) -> None:
        noted(session, number, name, *rest)
        session.flush()
        if when == "in" and name == which:
            own.kill()

    def statement(self: Prepared, *told: Any, **values: Any) -> Any:
        left[0] -= str(self._statement).startswith("INSERT INTO ledger")
        if when == "while" and left[0] == 0:
            own.kill()
        return run(self, *told, **values)

    def after(step: str) -> None:
        if when == "after" and step == which:
            own.kill()

    patch.setattr(runs, "step_done", note)
    patch.setattr(Prepared, "run", statement)
    return after


@pytest.mark.parametrize("point", [
    point if point == "while holding" else pytest.param(point, marks=pytest.mark.long) for point in POINTS])
def test_ends_as_an_unbroken_run_would_when_the_server_is_back(
        tmp_path: Path, own: Server, unbroken: tuple[list[str], dict[str, bytes]], point: str,
        monkeypatch: pytest.MonkeyPatch) -> None:
    address = own.fresh()
    shop = busy(tmp_path / "shop", address)
    held = rows(shop, address)
    with monkeypatch.context() as patch, ExitStack() as at_the_end:
        at_the_end.callback(own.start)
        after = kill_at(point, own, patch)
        if point == "after report":
            shop.run(after=after)  # all of it was done
        else:
            with pytest.raises(StoreRefuses, match=(
                    r"^The store's database server can't be reached \(.*\)\. (Nothing was changed; try again when it "
                    r"is there|It isn't known whether what was being done was done; look, or do the same again: what "
                    r"has a key is never done twice)\.$")) as refused:
                shop.run(after=after)
            # of the report there is more to write after it
            assert ("isn't known" in str(refused.value)) is (point.startswith("in ") and point != "in report")
    if point in ("in read", "while holding"):
        assert shop.held() == {} and shop.orders() == []
    if point == "in read":
        assert rows(shop, address) == held  # nothing by halves
    shop.run()
    assert (rows(shop, address), shop.documents()) == unbroken
    shop.sound()
    shop.store.close()
