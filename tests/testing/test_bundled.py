"""The bundled plug-ins, and a stranger's, under the checks that authors get."""

import sys
from collections.abc import Iterator, Sequence
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import kitbuilder_diary_file
import kitbuilder_fleet_file
import kitbuilder_http_supplier
import kitbuilder_price_file
import kitbuilder_shelf
import pytest

from kitbuilder import DiaryEntry, ShelfLot, Wanted
from kitbuilder.demo.supplier import DemoSupplier
from kitbuilder.testing import DiaryCase, DiaryChecks, RegisterCase, RegisterChecks, SourceCase, SourceChecks
from tests.plugins.http_servers import serving
from tests.plugins.installed import ROOT

sys.path.insert(0, str(ROOT / "tests/downstream/chalk_board"))
import workshop_chalk_board  # it isn't installed

NOW = datetime(2026, 3, 10, 15, tzinfo=UTC)
TOLD = NOW - timedelta(minutes=30)
RING, OIL, GREASE, WASHER = Wanted("RI-1", "each"), Wanted("OI-1", "L"), Wanted("GR-1", "g"), Wanted("WA-1", "each")
HEAD = "item,quantity,unit,ready,price,per,currency,as_of\n"


class TestPriceFile(SourceChecks):
    @pytest.fixture
    def case(self, tmp_path: Path) -> SourceCase:
        file = tmp_path / "prices.csv"
        at = TOLD.isoformat()
        file.write_text(
            f"{HEAD}RI-1,4,each,{at},11.80,1,EUR,{at}\nRI-1,2,each,2026-03-12T08:00:00Z,,,EUR,{at}\n"
            f"OI-1,1500.5,mL,{at},0.02,2.5,EUR,{at}\nGR-1,0,g,{at},,,EUR,{at}\nBAD-1,4,barrels,{at},,,EUR,{at}\n")
        return SourceCase(
            kind=kitbuilder_price_file.stock_sources()[0], settings={"file": "prices.csv"}, folder=tmp_path,
            has={RING: "6", OIL: "1.5005", GREASE: "0"}, prices={"RI-1": "11.80", "OI-1": "8.00"},
            unreadable=(Wanted("BAD-1", "each"),), told_at=TOLD, breaks=file.unlink)


class TestShelf(SourceChecks):
    @pytest.fixture
    def case(self, tmp_path: Path) -> SourceCase:
        class View:
            broken = False

            def lots(self, items: Sequence[str]) -> Sequence[ShelfLot]:
                if self.broken:
                    raise OSError("the store is gone")
                return [lot for lot in (
                    ShelfLot("here", "OI-1", "B-7", "A-1", 20_000, 500, "L", date(2027, 1, 1)),
                    ShelfLot("here", "OI-1", "B-8", "A-1", 7_000, 0, "L", None, "leaking"),
                    ShelfLot("here", "RI-1", "", "A-2", 3_000, 3_000, "each")) if lot.item in items]

        view = View()
        return SourceCase(
            kind=kitbuilder_shelf.stock_sources()[0], settings={}, folder=tmp_path, shelf=view,
            has={OIL: "19.5", RING: "0"}, told_at=NOW, breaks=lambda: setattr(view, "broken", True))


class TestHttpSupplier(SourceChecks):
    @pytest.fixture
    def case(self, tmp_path: Path) -> Iterator[SourceCase]:
        file = tmp_path / "list.csv"
        ready = "2026-03-11T08:00:00Z,,EUR," + TOLD.isoformat()
        file.write_text(
            "item,quantity,unit,ready,cut_off,currency,as_of,price,per\n"
            f"RI-1,4,each,{ready},11.80,1\nOI-1,1500,mL,{ready},8.00,1000\nWA-1,any,each,{ready},4.20,100\n")
        with DemoSupplier(file) as supplier, serving(lambda connection, *_: connection.recv(1) and None) as hung:
            settings = {"url": supplier.url}

            def hangs() -> None:
                settings["url"] = hung.url

            yield SourceCase(
                kind=kitbuilder_http_supplier.stock_sources()[0], settings=settings, folder=tmp_path, deadline_s=1,
                has={RING: "4", OIL: "1.5", WASHER: None, GREASE: "0"}, prices={"RI-1": "11.80", "OI-1": "8.00"},
                told_at=TOLD, breaks=lambda: file.write_text("nonsense"), hangs=hangs)


class TestChalkBoard(SourceChecks):
    @pytest.fixture
    def case(self, tmp_path: Path) -> SourceCase:
        board = tmp_path / "board.txt"
        board.write_text("RI-1 2 each\nOI-1 7500 mL\nWA-1 ?\n")
        return SourceCase(
            kind=workshop_chalk_board.stock_sources()[0], settings={"file": "board.txt"}, folder=tmp_path,
            has={RING: "2", OIL: "7.5", GREASE: "0"}, unreadable=(WASHER,), told_at=NOW, breaks=board.unlink)


class TestChalkBoardsRegister(RegisterChecks):
    @pytest.fixture
    def case(self, tmp_path: Path) -> RegisterCase:
        board = tmp_path / "board.txt"
        board.write_text("DEMO 001: gearbox = Osmerby manual 9; axles = 4x2\n")
        return RegisterCase(
            kind=workshop_chalk_board.vehicle_registers()[0], settings={"file": "board.txt"}, folder=tmp_path,
            knows={"DEMO 001": {"gearbox": "Osmerby manual 9", "axles": "4x2"}}, breaks=board.unlink)


class TestFleetFile(RegisterChecks):
    @pytest.fixture
    def case(self, tmp_path: Path) -> RegisterCase:
        file = tmp_path / "fleet.csv"
        file.write_text("registration,vin,gearbox,axles\nDEMO 001,WDBVIN00000000001,manual,4x2\nDEMO-2,,manual,\n")
        return RegisterCase(
            kind=kitbuilder_fleet_file.vehicle_registers()[0], settings={"file": "fleet.csv"}, folder=tmp_path,
            knows={"DEMO 001": {"gearbox": "manual", "axles": "4x2"}, "DEMO-2": {"gearbox": "manual"},
                   "WDBVIN00000000001": {"axles": "4x2"}}, breaks=file.unlink)


class TestDiaryFile(DiaryChecks):
    @pytest.fixture
    def case(self, tmp_path: Path) -> DiaryCase:
        file = tmp_path / "diary.csv"
        file.write_text("id,recurrence,start,site,job,state\nA,1,2026-03-11T07:30,here,work,\n"
                        "A,2,2026-03-12T07:30,here,work,enquiry\n")
        first = DiaryEntry(id="A", recurrence="1", start=datetime(2026, 3, 11, 7, 30), site="here", job="work")
        second = DiaryEntry(
            id="A", recurrence="2", start=datetime(2026, 3, 12, 7, 30), site="here", job="work", state="enquiry")
        return DiaryCase(
            kind=kitbuilder_diary_file.diaries()[0], settings={"file": "diary.csv"}, folder=tmp_path,
            holds=(first, second), breaks=file.unlink)
