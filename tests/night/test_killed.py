"""A run that is killed, at any point, and started again ends where one that nobody disturbed would."""

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from kitbuilder.night.run import STEPS
from tests.night.shop import Shop

ROOT = Path(__file__).resolve().parents[2]
POINTS = [*(f"after {step}" for step in STEPS), *(f"before {step}" for step in STEPS), "paper 1", "paper 4", "paper 9"]


def busy(folder: Path, store: str | None = None) -> Shop:
    """A workshop in which every step has something to do."""
    shop = Shop(folder, store=store)
    shop.receive("S-5", "3")
    shop.receive("W-1", "8")
    shop.receive("O-1", "4", "L", lot="L7")
    shop.receive("P-1", "1")
    shop.supplier("S-6,4,each,2026-03-11T07:00:00+00:00,3.10,1", "U-1,2,each,2026-03-11T12:00:00+00:00,900,1",
                  "S-5,4,each,2026-03-11T07:00:00+00:00,2.80,1")
    shop.diary(
        "a,,0,,2026-03-11T08:00,marl,seal-change,DEMO 5,authorised,normal,",
        "b,,0,,2026-03-11T09:00,marl,seal-change,DEMO 6,authorised,normal,",
        "c,,0,v1,2026-03-11T09:00,marl,oil-change,DEMO 0,authorised,normal,",
        "d,,0,v1,2026-03-11T13:00,marl,seal-change,,authorised,normal,Euro V",
        "e,,0,,2026-03-12T08:00,marl,unit-change,,enquiry,normal,",
        "f,,0,,2026-03-12T08:00,marl,unit-change,,authorised,VOR,",
        "g,,0,,2026-03-12T08:00,marl,no-such-job,,authorised,normal,",
        "h,,0,,2026-03-12T09:00,marl,seal-change,DEMO 9,authorised,normal,")
    return shop


def again(shop: Shop) -> None:
    """Another run was there the day before: there are kits to compare and holds to move."""
    shop.run()
    shop.diary(*(
        line.replace("DEMO 5", "DEMO 6") for line in (shop.folder / "diary.csv").read_text("utf-8").splitlines()[1:]))
    shop.receive("S-6", "1")


def drive(shop: Shop, point: str) -> int:
    """The night in a process of its own; how it ended."""
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    return subprocess.run([sys.executable, "-m", "tests.night.driver", str(shop.folder), point], env=environment,
                          cwd=ROOT, timeout=60, check=False).returncode


@pytest.fixture(scope="module", params=[False, True], ids=["the first night", "a later night"])
def unbroken(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> tuple[bool, Shop]:
    """The same night, undisturbed."""
    shop = busy(tmp_path_factory.mktemp("unbroken") / "shop")
    if request.param:
        again(shop)
    assert drive(shop, "none") == 0
    return request.param, shop


@pytest.mark.parametrize("point", POINTS)
@pytest.mark.long
def test_ends_as_an_unbroken_run_would(tmp_path: Path, unbroken: tuple[bool, Shop], point: str) -> None:
    later, whole = unbroken
    shop = busy(tmp_path / "shop")
    if later:
        again(shop)
    assert drive(shop, point) == -signal.SIGKILL
    assert drive(shop, "none") == 0
    if point == "after report":  # it was all done: the second run is another one
        assert shop.dump() == whole.dump()
    else:
        assert shop.dump(()) == whole.dump(())
    papers = shop.documents()
    for path in [path for path in papers if "/." in path]:
        papers.pop(path)  # what was written beside, and never renamed
    expected = whole.documents()
    if later and point == "after report":
        # what changed since the run before was told by the first of the two
        papers = {path: data for path, data in papers.items() if "report" not in path}
        expected = {path: data for path, data in expected.items() if "report" not in path}
    assert papers == expected
    shop.sound()


def test_is_killed_and_ends_all_the_same(tmp_path: Path) -> None:
    """One point of those above, for the quick suite: holds made, and nothing noted yet."""
    shop, whole = busy(tmp_path / "shop"), busy(tmp_path / "whole")
    assert drive(shop, "before hold") == -signal.SIGKILL
    assert shop.held() == {}
    assert drive(whole, "none") == drive(shop, "none") == 0
    assert shop.dump(()) == whole.dump(())
    shop.sound()


@pytest.mark.parametrize("step", ["source", "hold"])
def test_goes_on_with_the_quotes_it_had(tmp_path: Path, step: str) -> None:
    """What the supplier says meanwhile is for the next run."""
    shop, whole = busy(tmp_path / "shop"), busy(tmp_path / "whole")

    class PowerCut(Exception):
        pass

    def cut(name: str) -> None:
        if name == step:
            raise PowerCut

    with pytest.raises(PowerCut):
        shop.run(after=cut)
    shop.supplier()
    report = shop.run()
    expected = whole.run()
    assert report == expected
    assert shop.dump(()) == whole.dump(())
    assert len(shop.orders()) == 2
    shop.run()
    assert shop.orders() == []


def test_goes_on_at_the_moment_at_which_it_began(tmp_path: Path) -> None:
    """Its moment is frozen too: a lot isn't past its use-by day because the machine was off over midnight."""
    from datetime import date, timedelta

    shop = Shop(tmp_path / "shop")
    shop.receive("S-5", "2", use_by=date(2026, 3, 11))
    shop.receive("W-1", "2")
    number = shop.book("seal-change", facts={"emissions": "Euro V"})

    class PowerCut(Exception):
        pass

    def cut(name: str) -> None:
        if name == "build":
            raise PowerCut

    began = shop.now
    with pytest.raises(PowerCut):
        shop.run(after=cut)
    shop.now = began + timedelta(days=3)
    report = shop.run()
    assert report.now == began
    assert shop.held(number) == {f"{number}/seal:S-5 S-5": 2000, f"{number}/wipes:W-1 W-1": 2000}
