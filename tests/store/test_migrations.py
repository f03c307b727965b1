"""From an empty file to the newest revision, and what else may be found there."""

import os
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import create_engine
from sqlmodel import SQLModel

from kitbuilder.errors import StoreRefuses
from kitbuilder.store import database, postgres, tables
from kitbuilder.store.database import open_store
from tests.databases import is_postgresql
from tests.store.shelf import dump, raw, receive

FOLDER = database.__file__.replace("database.py", "migrations")


def test_an_empty_file_is_brought_to_the_newest_revision(file, store):
    with raw(file) as connection:
        assert connection.execute("SELECT version_num FROM alembic_version").fetchall() == [(database.HEAD,)]
    assert ScriptDirectory(FOLDER).get_heads() == [database.HEAD]


def test_after_the_migrations_autogenerate_finds_nothing_to_change(store):
    with store.engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        assert compare_metadata(context, tables.SQLModel.metadata) == []


def test_the_migrations_make_just_what_the_tables_say_checks_and_all(file, store, empty):
    """Autogenerate doesn't look at check constraints, so the schemas are compared as SQL."""
    engine = create_engine(postgres.with_driver(str(empty)) if is_postgresql(empty) else f"sqlite:///{empty}")
    SQLModel.metadata.create_all(engine)
    engine.dispose()
    migrated = {key: parts for key, parts in schema(file).items() if "alembic_version" not in key[1]}
    assert migrated == schema(empty)
    assert len(schema(empty)) > 20 and any("CHECK" in part for parts in schema(empty).values() for part in parts)


@pytest.fixture
def empty(request, file, tmp_path):
    """A second place of the same kind, with nothing in it."""
    return request.getfixturevalue("postgres").fresh(None) if is_postgresql(file) else tmp_path / "empty.db"


def schema(file):
    """Of each table and index its SQL in parts, since the order of columns' constraints doesn't matter."""
    with raw(file) as connection:
        if not is_postgresql(file):
            return {(kind, name): parts_of(sql) for kind, name, sql in connection.execute(
                "SELECT type, name, sql FROM sqlite_master WHERE sql <> ''") if not name.startswith("sqlite_")}
        found = {("index", name): [sql] for name, sql in connection.execute(
            "SELECT indexname, indexdef FROM pg_indexes WHERE schemaname = 'public'")}
        for table, column, kind, nullable in connection.execute(
                "SELECT table_name, column_name, data_type, is_nullable FROM information_schema.columns "
                "WHERE table_schema = 'public' ORDER BY table_name, column_name"):
            found.setdefault(("table", table), []).append(f"{column} {kind} {nullable}")
        for table, name, definition in connection.execute(
                "SELECT conrelid::regclass::text, conname, pg_get_constraintdef(oid) FROM pg_constraint "
                "WHERE connamespace = 'public'::regnamespace AND contype <> 'n' ORDER BY 1, 2"):
            found[("table", table)].append(f"{name} {definition}")
        return found


def parts_of(sql):
    """The columns and constraints of a table's SQL; a column that was added later stands behind the constraints."""
    begin, _, rest = " ".join(sql.split()).partition("(")
    parts, depth = [""], 0
    for sign in rest[:rest.rindex(")")]:
        depth += (sign == "(") - (sign == ")")
        if sign == "," and not depth:
            parts.append("")
        else:
            parts[-1] += sign
    # a table that was made anew has its name in quotes
    return [begin.replace('"', "").strip(), *sorted(part.strip() for part in parts)]


def test_opening_again_changes_nothing(file, store):
    receive(store)
    before = dump(file)
    open_store(file).close()
    assert dump(file) == before


def test_a_store_of_a_newer_kitbuilder_is_refused_in_plain_words_and_left_alone(file, store):
    store.close()
    with raw(file) as connection:
        connection.execute("UPDATE alembic_version SET version_num = '0999'")
    before = dump(file)
    with pytest.raises(StoreRefuses, match=r"written by a newer kitbuilder \(its revision is 0999"):
        open_store(file)
    assert dump(file) == before


def test_a_path_may_have_any_signs_in_it(tmp_path):
    file = tmp_path / "a folder #1?x=%20" / "the store;1%.db"
    store = open_store(file)
    receive(store)
    store.close()
    assert file.is_file() and [one.name for one in tmp_path.iterdir()] == ["a folder #1?x=%20"]


OPEN = """
import sys, time
from kitbuilder.store.database import open_store
import alembic.command, alembic.config, alembic.script
print("ready", flush=True)
sys.stdin.readline()
store = open_store(sys.argv[1])
with store.reading() as session:
    print(session.connection().exec_driver_sql("SELECT version_num FROM alembic_version").scalar())
"""


def test_processes_that_open_a_fresh_store_at_once_all_have_it(tmp_path):
    environment = os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)}
    for turn in range(2):
        file = tmp_path / f"{turn}.db"
        started = [
            subprocess.Popen([sys.executable, "-c", OPEN, str(file)], stdin=subprocess.PIPE, stdout=subprocess.PIPE,
                             stderr=subprocess.PIPE, text=True, env=environment)
            for _ in range(3)]
        for process in started:
            assert process.stdout.readline() == "ready\n"
        for process in started:
            process.stdin.write("go\n")
            process.stdin.flush()
        said = [process.communicate(timeout=60) for process in started]
        assert said == [(f"{database.HEAD}\n", "")] * 3


def test_who_opens_a_store_while_its_file_is_in_another_s_hands_waits_for_it(tmp_path):
    """A file without a write-ahead journal yet, which another reads or writes just then."""
    for number, (begin, read) in enumerate((("BEGIN", "SELECT * FROM t"), ("BEGIN EXCLUSIVE", "SELECT 1"))):
        file = tmp_path / f"{number}.db"
        with raw(file) as other:
            other.execute("CREATE TABLE t (a)")
            other.execute(begin)
            other.execute(read).fetchall()
            with pytest.raises(StoreRefuses, match=r"The store is busy: another program has held it for 0\.2 s"):
                open_store(file, busy_s=0.2)
            with ThreadPoolExecutor() as pool:
                opening = pool.submit(open_store, file)
                time.sleep(0.5)
                assert not opening.done()
                other.execute("COMMIT")
                opening.result().close()


#: Opens one fresh file after another, each at its own moment, which is the same for all processes.
OPEN_MANY = """
import sys, time
from kitbuilder.store.database import open_store
import alembic.command, alembic.config, alembic.script
start = float(sys.argv[1])
for number, file in enumerate(sys.argv[2:]):
    while time.time() < start + number * 0.25:
        pass
    try:
        open_store(file).close()
    except Exception as error:
        print(error)
print("done")
"""


@pytest.mark.long
def test_processes_that_open_one_fresh_store_after_another_at_the_same_moments_all_have_each(tmp_path):
    """The moment at which SQLite says "locked" without any waiting is short, so it is tried often."""
    files = [str(tmp_path / f"{number}.db") for number in range(100)]
    environment = os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)}
    started = [
        subprocess.Popen([sys.executable, "-c", OPEN_MANY, str(time.time() + 3), *files], stdout=subprocess.PIPE,
                         text=True, env=environment) for _ in range(4)]
    assert [process.communicate(timeout=120)[0] for process in started] == ["done\n"] * 4
