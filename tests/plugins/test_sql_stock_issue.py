"""What was taken is issued in the stock of record: once for its key, whatever breaks in between. On SQLite and on a
PostgreSQL server, through a connection that breaks before, at and after the commit."""

import os
import signal
import socket
import sqlite3
import subprocess
import sys
import textwrap
import threading
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

import kitbuilder_sql_stock
import pytest
from sqlalchemy import make_url

from kitbuilder import Context, IssueRequest, NotSent, SourceFailed, Wanted
from kitbuilder.testing import SourceCase, SourceChecks
from tests.plugins.installed import ROOT

AT = datetime(2026, 3, 10, 15, tzinfo=UTC)
QUERY = "SELECT part_no AS item, qty AS quantity FROM stock WHERE part_no IN :items"
ISSUE = ["UPDATE stock SET qty = qty - :quantity WHERE part_no = :item AND qty >= :quantity",
         "INSERT INTO moves (ref, part_no, qty, uom, lot, why, who, at) VALUES "
         "(:key, :item, -:quantity, :unit, :lot, :reference, :who, :at)"]
ISSUED = "SELECT count(*) FROM moves WHERE ref = :key"
RINGS = IssueRequest(key="marl|2026-03-10|main|now|1|N-1|RI-1||ab12", item="RI-1", unit="each", quantity=2000, lot="",
                     reference="order 3, note N-1", who="Ada", taken_at=AT)


class Record:
    """A stock of record: ten rings and ten and a half litres of oil."""

    def __init__(self, url: str, folder: Path) -> None:
        self.url, self.folder = url, folder
        self.do("CREATE TABLE stock (part_no TEXT, qty NUMERIC)")
        self.do("CREATE TABLE moves (ref TEXT, part_no TEXT, qty NUMERIC, uom TEXT, lot TEXT, why TEXT, who TEXT, "
                "at TEXT)")
        self.do("INSERT INTO stock VALUES ('RI-1', 10), ('OI-1', 10.5)")

    def connect(self):
        if self.url.startswith("sqlite"):
            return sqlite3.connect(self.folder / "stock.db", timeout=10)
        import psycopg

        return psycopg.connect(self.url)

    def do(self, sql: str) -> None:
        with closing(self.connect()) as connection, connection:
            connection.execute(sql)

    def ask(self, sql: str) -> list[tuple[object, ...]]:
        with closing(self.connect()) as connection:
            return [tuple(row) for row in connection.execute(sql).fetchall()]

    def left(self, item: str = "RI-1") -> float:
        return float(self.ask(f"SELECT qty FROM stock WHERE part_no = '{item}'")[0][0])

    def moves(self) -> int:
        return int(self.ask("SELECT count(*) FROM moves")[0][0])

    def stock(self, url: str = "", deadline_s: float = 5.0, **settings: object) -> kitbuilder_sql_stock.SqlStock:
        told = {"url": url or self.url, "query": QUERY, "issue": ISSUE, "issued": ISSUED, **settings}
        return kitbuilder_sql_stock.SqlStock(Context("main", told, self.folder, "EUR", deadline_s))


@pytest.fixture(params=["sqlite", "postgresql"])
def record(request: pytest.FixtureRequest, tmp_path: Path) -> Record:
    return Record("sqlite:///stock.db" if request.param == "sqlite"
                  else request.getfixturevalue("postgres").fresh(None), tmp_path)


@pytest.fixture
def server(postgres, tmp_path: Path) -> Record:
    return Record(postgres.fresh(None), tmp_path)


def test_what_was_taken_is_issued_with_what_is_told_of_it(record):
    stock = record.stock()
    assert stock.does == {"quote", "issue"}
    stock.issue(RINGS)
    assert record.left() == 8
    [row] = record.ask("SELECT ref, part_no, qty, uom, lot, why, who, at FROM moves")
    assert (*row[:2], float(row[2]), *row[3:]) == (
        RINGS.key, "RI-1", -2, "each", "", "order 3, note N-1", "Ada", "2026-03-10T15:00:00+00:00")


def test_under_one_key_it_is_issued_once_however_often_it_is_told(record):
    for _ in range(3):
        record.stock().issue(RINGS)
    assert (record.left(), record.moves()) == (8, 1)


def test_a_part_of_a_unit_is_issued_exactly(record):
    import msgspec

    record.stock().issue(msgspec.structs.replace(RINGS, item="OI-1", unit="L", quantity=1500))
    assert record.left("OI-1") == 9


@pytest.mark.parametrize(("changes", "words"), [
    ({"issue": [ISSUE[0].replace(":item", "'NO-1'"), ISSUE[1]]}, "changed no row for RI-1: is it in their stock?"),
    ({"issue": [ISSUE[1], ISSUE[0].replace("qty >= :quantity", "qty >= 99 * :quantity")]}, "changed no row"),
    ({"issue": [ISSUE[0], ISSUE[1].replace("moves", "movements")]}, "the database refuses .*movements"),
    ({"issue": [ISSUE[0], ISSUE[1].replace("(:key,", "('x' || :key,")]}, "issued counts nothing under :key after"),
    ({"issued": "SELECT part_no FROM stock WHERE :key = :key LIMIT 1"}, "issued has to count"),
    ({"issued": "SELECT count(*) FROM gone WHERE ref = :key"}, "the database refuses .*gone"),
    ({"url": "", "url_env": "NO_SUCH_URL"}, "NO_SUCH_URL is empty or not there"),
    ({"url": "sqlite:///gone.db"}, "there is no database file gone.db"),
    ({"url": "postgresql://127.0.0.1:1/x"}, "the database refuses"),
])
def test_what_fails_for_certain_does_nothing_at_all_and_says_so(record, monkeypatch, changes, words):
    monkeypatch.delenv("NO_SUCH_URL", raising=False)
    told = {"url": record.url, "query": QUERY, "issue": ISSUE, "issued": ISSUED, **changes}
    stock = kitbuilder_sql_stock.SqlStock(
        Context("main", {key: value for key, value in told.items() if value}, record.folder, "EUR"))
    with pytest.raises(NotSent, match=words):
        stock.issue(RINGS)
    assert (record.left(), record.moves()) == (10, 0)


@pytest.mark.parametrize(("settings", "words"), [
    ({"issue": ISSUE}, "issue and issued together"), ({"issued": ISSUED}, "issue and issued together"),
    ({"issue": [], "issued": ISSUED}, "issue as a statement, or a list"),
    ({"issue": [7], "issued": ISSUED}, "issue as a statement, or a list"),
    ({"issue": ISSUE, "issued": "SELECT count(*) FROM moves"}, "with :key in them"),
    ({"issue": ISSUE[0], "issued": ISSUED}, "with :key in them"),
])
def test_settings_that_could_issue_twice_are_refused(tmp_path, settings, words):
    with pytest.raises(ValueError, match=words):
        kitbuilder_sql_stock.SqlStock(
            Context("main", {"url": "sqlite:///a", "query": QUERY, **settings}, tmp_path, "EUR"))


def test_a_lock_that_is_held_long_is_a_failure_for_certain(record):
    blocker = record.connect()
    try:
        if record.url.startswith("sqlite"):
            blocker.execute("BEGIN IMMEDIATE")
        else:
            blocker.execute("SELECT * FROM stock FOR UPDATE")
        with pytest.raises(NotSent, match="the database refuses"):
            record.stock(deadline_s=1.5).issue(RINGS)
    finally:
        blocker.rollback()
        blocker.close()
    assert (record.left(), record.moves()) == (10, 0)


def test_many_who_tell_the_same_at_once_issue_it_once(record):
    """No unique index helps here: the row of the stock is what they wait for one another at."""
    met = threading.Barrier(6, timeout=20)

    def tell(_: int) -> str:
        met.wait()
        try:
            record.stock(deadline_s=20).issue(RINGS)
        except NotSent as failed:
            return str(failed)
        return ""

    with ThreadPoolExecutor(6) as pool:
        said = list(pool.map(tell, range(6)))
    assert (record.left(), record.moves()) == (8, 1), said
    record.stock().issue(RINGS)
    assert (record.left(), record.moves()) == (8, 1)


class Line:
    """A line to a PostgreSQL server that breaks at the commit: before it has reached the server, or after it, before
    the server's answer is back."""

    def __init__(self, url: str, arrives: bool) -> None:
        there = make_url(url)
        # the tests' own server listens on a socket in a folder
        self._to = f"{there.query['host']}/.s.PGSQL.{there.port or 5432}"
        self._arrives, self.cut = arrives, threading.Event()
        self._listening = socket.create_server(("127.0.0.1", 0))
        self.url = there.set(query={}, host="127.0.0.1", port=self._listening.getsockname()[1]).render_as_string(False)
        threading.Thread(target=self._serve, daemon=True).start()

    def _serve(self) -> None:
        while True:
            try:
                near, _ = self._listening.accept()
            except OSError:
                return
            far = socket.socket(socket.AF_UNIX)
            far.connect(self._to)
            threading.Thread(target=self._up, args=(near, far), daemon=True).start()
            threading.Thread(target=self._down, args=(near, far), daemon=True).start()

    def _up(self, near: socket.socket, far: socket.socket) -> None:
        while data := _some(near):
            if b"COMMIT" in data:
                self.cut.set()
                if self._arrives:
                    far.sendall(data)
                    time.sleep(0.3)  # the server has done it by then
                _shut(near, far)
                return
            far.sendall(data)
        _shut(near, far)

    def _down(self, near: socket.socket, far: socket.socket) -> None:
        while data := _some(far):
            if self.cut.is_set():
                return
            near.sendall(data)
        _shut(near)

    def close(self) -> None:
        self._listening.close()


def _some(end: socket.socket) -> bytes:
    try:
        return end.recv(65536)
    except OSError:
        return b""


def _shut(*ends: socket.socket) -> None:
    for end in ends:
        try:
            end.shutdown(socket.SHUT_RDWR)
        except OSError:
            pass
        end.close()


@pytest.fixture(params=[False, True], ids=["before", "after"])
def broken(request: pytest.FixtureRequest, server: Record) -> Iterator[tuple[Record, Line, bool]]:
    line = Line(server.url, request.param)
    yield server, line, request.param
    line.close()


def test_a_line_that_breaks_at_the_commit_leaves_it_unclear_and_told_again_it_is_issued_once(broken):
    record, line, arrives = broken
    with pytest.raises(SourceFailed, match="the connection broke at the commit") as told:
        record.stock(line.url).issue(RINGS)
    assert not isinstance(told.value, NotSent)
    assert line.cut.is_set()
    assert record.moves() == (1 if arrives else 0)
    record.stock().issue(RINGS)
    assert (record.left(), record.moves()) == (8, 1)


TELLER = textwrap.dedent("""
    import sys
    from pathlib import Path
    from tests.plugins.test_sql_stock_issue import ISSUE, ISSUED, QUERY, RINGS
    from kitbuilder import Context
    import kitbuilder_sql_stock
    told = {"url": sys.argv[1], "query": QUERY, "issue": ISSUE, "issued": ISSUED}
    stock = kitbuilder_sql_stock.SqlStock(Context("main", told, Path(sys.argv[2]), "EUR"))
    import kitbuilder_sql_stock.issuing
    print("ready", flush=True)
    sys.stdin.readline()
    stock.issue(RINGS)
    print("done", flush=True)
""")


@pytest.mark.parametrize("after_ms", [0, 5, 10, 15, 20, 30, 45])
def test_a_teller_killed_at_any_moment_has_issued_all_of_it_or_nothing(record, after_ms):
    teller = subprocess.Popen(
        [sys.executable, "-c", TELLER, record.url, str(record.folder)], stdin=subprocess.PIPE, stdout=subprocess.PIPE,
        text=True, cwd=ROOT, env={**os.environ, "PYTHONPATH": str(ROOT)})
    assert teller.stdout.readline() == "ready\n"
    teller.stdin.write("\n")
    teller.stdin.flush()
    time.sleep(after_ms / 1000)
    teller.send_signal(signal.SIGKILL)
    teller.wait()
    teller.stdin.close()
    teller.stdout.close()
    deadline = time.monotonic() + 10  # a server takes a moment to see that somebody is gone
    while (found := (record.left(), record.moves())) not in ((10, 0), (8, 1)) and time.monotonic() < deadline:
        time.sleep(0.05)
    assert found in ((10, 0), (8, 1))
    record.stock(deadline_s=15).issue(RINGS)
    assert (record.left(), record.moves()) == (8, 1)


class TestUnderTheChecks(SourceChecks):
    @pytest.fixture
    def case(self, record: Record) -> SourceCase:
        return SourceCase(
            kind=kitbuilder_sql_stock.stock_sources()[0], folder=record.folder,
            settings={"url": record.url, "query": QUERY, "issue": ISSUE, "issued": ISSUED},
            has={Wanted("RI-1", "each"): "10", Wanted("OI-1", "L"): "10.5"}, told_at=AT,
            breaks=lambda: record.do("DROP TABLE stock"))
