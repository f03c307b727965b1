"""What was taken is issued once, however often who tells it is killed: at any moment, on both databases."""

import os
import random
import signal
import subprocess
import sys
import textwrap
import time
from pathlib import Path

import pytest

from kitbuilder.model.order import Goods
from kitbuilder.plugins import load_plugins
from kitbuilder.settings import FILE, read_settings
from kitbuilder.stock.issuing import tell
from kitbuilder.store import deliveries, issues, orders
from tests.databases import KINDS, raw
from tests.store.shelf import LATER, NOW, book
from tests.store.test_orders_and_runs import order, propose

ROOT = Path(__file__).resolve().parents[2]
SETTINGS = """
[sources.supplier]
plugin = "sql-stock"
url = "{url}"
query = "SELECT no AS item, qty AS quantity FROM stock WHERE no IN :items"
issue = ["UPDATE stock SET qty = qty - :quantity WHERE no = :item", "INSERT INTO moves VALUES (:key, :quantity)"]
issued = "SELECT count(*) FROM moves WHERE ref = :key"
"""
TELLER = textwrap.dedent("""
    import sys
    from datetime import UTC, datetime
    from pathlib import Path
    from kitbuilder.plugins import load_plugins
    from kitbuilder.settings import read_settings
    from kitbuilder.stock.issuing import tell
    from kitbuilder.store.database import open_store
    import kitbuilder_sql_stock.issuing
    store, settings, plugins = open_store(sys.argv[1]), read_settings(Path(sys.argv[2])), load_plugins()
    print("ready", flush=True)
    sys.stdin.readline()
    tell(store, settings, plugins, "EUR", "night", datetime(2026, 3, 10, 16, tzinfo=UTC))
""")
TAKEN = 40


def rounds(kills: int) -> list[float]:
    """So many moments at which a teller is killed, in seconds: the same each time."""
    draw = random.Random(7)
    return [draw.uniform(0, 0.25) for _ in range(kills)]


@pytest.mark.parametrize("kills", [3, pytest.param(60, marks=pytest.mark.long)])
@pytest.mark.parametrize("there", KINDS)
def test_each_is_issued_once_however_often_the_teller_is_killed(store, file, tmp_path, request, there, kills):
    record = tmp_path / "record.db" if there == "sqlite" else request.getfixturevalue("postgres").fresh(None)
    with raw(record) as connection:
        # nothing in the record itself keeps a second move of one key out
        connection.execute("CREATE TABLE stock (no TEXT, qty NUMERIC)")
        connection.execute("CREATE TABLE moves (ref TEXT, qty NUMERIC)")
        connection.execute("INSERT INTO stock VALUES ('XX-1', 1000)")
    (tmp_path / FILE).write_text(SETTINGS.format(url=f"sqlite:///{record}" if there == "sqlite" else record), "utf-8")
    book(store)
    propose(store, order())
    orders.decide(store, 1, "ordered", "Ada", NOW)
    for note in range(TAKEN):
        deliveries.receive(store, 1, Goods(note=f"N-{note}", item="XX-1", quantity=1000, unit="each", bin="B-1"), "Ada",
                           NOW, tell=True)
    for moment in rounds(kills):
        teller = subprocess.Popen(
            [sys.executable, "-c", TELLER, str(file), str(tmp_path / FILE)], stdin=subprocess.PIPE,
            stdout=subprocess.PIPE, text=True, cwd=ROOT, env={**os.environ, "PYTHONPATH": str(ROOT)})
        assert teller.stdout.readline() == "ready\n"
        teller.stdin.write("\n")
        teller.stdin.flush()
        time.sleep(moment)
        teller.send_signal(signal.SIGKILL)
        teller.wait()
        teller.stdin.close()
        teller.stdout.close()
    deadline = time.monotonic() + 30
    while left := tell(store, read_settings(tmp_path / FILE), load_plugins(), "EUR", "night", LATER):
        assert time.monotonic() < deadline, left[0]
    with raw(record) as connection:
        [(qty,)] = connection.execute("SELECT qty FROM stock").fetchall()
        [(moves, keys)] = connection.execute("SELECT count(*), count(DISTINCT ref) FROM moves").fetchall()
    assert (int(qty), moves, keys) == (1000 - TAKEN, TAKEN, TAKEN)
    assert {one.request.key for one in issues.issues(store, states=("issued",))} == {
        one.request.key for one in issues.issues(store, states=("issued", *issues.OPEN))}
