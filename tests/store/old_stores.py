"""Stores as earlier kitbuilders left them: at each released revision, with something in every table."""

from pathlib import Path

from alembic import command
from alembic.config import Config
from sqlalchemy import create_engine

from kitbuilder.store import database, postgres
from tests.databases import Address, is_postgresql, raw


def _workshop(order: str = "", line: str = "", wanted: str = "") -> tuple[str, ...]:
    """What a workshop had at the first revision: rows of all tables, those that others name first. What stands in the
    columns that orders, their lines and for whom they are have got since is told."""
    return (
        "INSERT INTO site VALUES ('Lauterfeld')",
        "INSERT INTO bin VALUES (1, 'Lauterfeld', 'A-01', 'shelf')",
        "INSERT INTO lot VALUES (1, 'Lauterfeld', 'XX-1', 'L1', 'each', '2027-01-31', '', '2026-03-09 08:00:00')",
        "INSERT INTO stock VALUES (1, 1, 'Lauterfeld', 5000, 2000, 2)",
        "INSERT INTO visit VALUES (1, 'office', 'V', 'DEMO 5')",
        "INSERT INTO booking VALUES (1, 'office', 'a', '', 0, 1, 'Lauterfeld', 'actuator', 'DEMO 5', "
        "'2026-03-11T08:00:00', 'Europe/Berlin', '2026-03-11 07:00:00', 'authorised', 'normal', '', '', '{}', '{}', "
        "NULL, NULL, '2026-03-09 08:00:00')",
        "INSERT INTO kit VALUES (1, 'e', 'f', '{}', '[]', '2026-03-09 08:00:00')",
        "INSERT INTO edit VALUES (1, 1, 'add', 'r', '', 'XX-1', 1000, 'each', 'Ada', 'why', '2026-03-09 08:00:00', "
        "NULL, '')",
        "INSERT INTO hold VALUES (1, 'k', 0, 1, '1/role:XX-1', 1, 1, 2000, 'planned', '2026-03-09 09:00:00', 'night')",
        "INSERT INTO ledger VALUES (1, '2026-03-09 08:00:00', 'receive', 1, 1, 1, 5000, 0, 5000, 0, NULL, NULL, 'Ada', "
        "'')",
        "INSERT INTO ledger VALUES (2, '2026-03-09 09:00:00', 'hold', 1, 1, 2, 0, 2000, 5000, 2000, 1, 1, 'night', "
        "'n')",
        # one of each state; a fifth was proposed and taken back, so its number is used
        *(f"INSERT INTO supplier_order VALUES ({number}, 'k{number}', 1, 'Lauterfeld', 'supplier', 'van', "
          f"'2026-03-11 08:00:00', NULL, 'EUR', 450, '{state}', '2026-03-09 09:00:00', {expected}, {decided}{order})"
          for number, state, expected, decided in (
              (1, "proposed", "NULL", "NULL, ''"),
              (2, "ordered", "'2026-03-11 08:00:00'", "'2026-03-09 10:00:00', 'Ada'"),
              (3, "cancelled", "NULL", "'2026-03-09 10:00:00', 'Ada'"),
              (4, "received", "'2026-03-11 08:00:00'", "'2026-03-09 10:00:00', 'Ada'"),
              (5, "proposed", "NULL", "NULL, ''"))),
        "DELETE FROM supplier_order WHERE id = 5",
        *(f"INSERT INTO order_line VALUES ({number}, {number}, 'XX-1', 'each', 4000, '[[1000, 4]]', 1680{line})"
          for number in (1, 2, 3, 4)),
        *(f"INSERT INTO order_for VALUES ({number}, {number}, 'XX-1', 1, '1/role:XX-1', 3000{wanted})"
          for number in (1, 2, 3, 4)),
        "INSERT INTO run VALUES (1, 'Lauterfeld', '2026-03-11', 'done', '2026-03-09 09:00:00', '[]', "
        "'2026-03-09 09:00:00', '2026-03-09 09:00:01', '{}')",
        "INSERT INTO run_step VALUES (1, 1, 'read', '2026-03-09 09:00:00', '{}')",
        "INSERT INTO kit_check VALUES (1, 1, 'XX-1', 'L1', 1000, 'Ada', '2026-03-09 11:00:00')",
        "INSERT INTO short_pick VALUES (1, 1, 1, 1000, 'Ada', '2026-03-09 11:00:00', NULL)",
    )


#: What a workshop had at each revision.
ROWS = {
    "0001": _workshop(),
    "0002": (
        *_workshop(", NULL, NULL, '', '', ''", ", NULL, NULL, '', true", ", 3000"),
        "INSERT INTO delivery VALUES (1, 4, 'N-1', 'XX-1', 'L1', 'XX-1', 4000, 'each', 'ordered', 'Ada', "
        "'2026-03-09 11:00:00')",
        "INSERT INTO order_event VALUES (1, 4, '2026-03-09 11:00:00', 'received', 'Ada', 'note N-1')",
        "INSERT INTO supplier_return VALUES (1, 'Lauterfeld', 'supplier', 4, 'XX-1', 'L1', 'A-01', 1000, 'each', "
        "'not needed', '2026-03-30', 'EUR', 42, 378, 'proposed', '', '2026-03-09 12:00:00', 'Ada')",
        "INSERT INTO exchange_return VALUES (1, 1, 1, 'XX-1', 1000, '2026-04-09', 'EUR', 5000, 'drained', 'due', '', "
        "'2026-03-09 12:00:00', 'Ada')",
        "INSERT INTO return_event VALUES (1, 1, NULL, '2026-03-09 12:00:00', 'proposed', 'Ada', '')",
    ),
}
def make(address: Address, revision: str) -> None:
    """An old store at an address where nothing is yet."""
    engine = create_engine(
        postgres.with_driver(str(address)) if is_postgresql(address) else f"sqlite:///{address}")
    config = Config()
    config.set_main_option("script_location", str(Path(database.__file__).parent / "migrations"))
    with engine.connect() as connection, connection.begin():
        config.attributes["connection"] = connection
        command.upgrade(config, revision)
    engine.dispose()
    with raw(address) as connection:
        for sql in ROWS[revision]:
            connection.execute(sql)
        if is_postgresql(address):
            # where the database numbers the rows, the numbers that were given go on
            for table, key in connection.execute(
                    "SELECT table_name, column_name FROM information_schema.columns "
                    "WHERE table_schema = 'public' AND column_default LIKE 'nextval(%'").fetchall():
                top = 5 if table == "supplier_order" else connection.execute(
                    f'SELECT max({key}) FROM "{table}"').fetchone()[0]
                connection.execute(f"SELECT setval(pg_get_serial_sequence('\"{table}\"', '{key}'), {top})")
