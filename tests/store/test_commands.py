"""What a person is told of the store by the commands, the same on both databases."""

import json

import pytest

from kitbuilder.store.database import HEAD
from tests.cli.running import run
from tests.databases import begin_alone, dump, is_postgresql, laid, raw, server
from tests.night.shop import Shop


@pytest.fixture
def shop(tmp_path, file):
    """A workshop with goods on the shelf, whose store is a file or a database of a server."""
    made = Shop(tmp_path / "shop", store=str(file))
    made.receive("S-5", "4")
    made.receive("W-1", "8")
    made.receive("S-5", "1")
    made.store.close()
    return made


def says(ran, code):
    """How a command ended, and what it said in words."""
    assert ran.code == code and "Traceback" not in ran.err, ran
    assert all(len(line) <= 80 for line in ran.err.splitlines() if "://" not in line)
    return ran.said if code else " ".join(ran.out.split())


def test_the_audit_names_the_first_wrong_row(shop, file):
    assert says(run(shop.folder, "stock", "audit"), 0) == "Every balance is proved by the ledger."
    with raw(file) as other:
        other.execute("UPDATE ledger SET on_hand_after = 9000 WHERE id = 3")
    ran = run(shop.folder, "stock", "audit")
    assert ran.code == 1 and " ".join(ran.out.split()).startswith(
        "S-5 in A-1: this row says that 9 are there then and 0 promised, but the rows up to it come to 5 and 0 "
        "(ledger row 3)")


def test_a_store_of_a_newer_kitbuilder_is_refused(shop, file):
    with raw(file) as other:
        other.execute("UPDATE alembic_version SET version_num = '0999'")
    before = dump(file)
    for words in (("stock", "list"), ("stock", "receive", "S-5", "5", "--bin", "A-1")):
        assert says(run(shop.folder, *words), 5) == (
            "The store was written by a newer kitbuilder (its revision is 0999, this one knows "
            f"{HEAD}). Use that one, or a back-up.")
    assert dump(file) == before


def test_a_back_up_goes_into_the_other_kind_of_database(shop, file, tmp_path):
    assert " rows are in monday.db." in says(run(shop.folder, "store", "backup", "monday.db"), 0)
    listed = json.loads(run(shop.folder, "stock", "list", "--json").out)
    other = laid(tmp_path / "other.db") if is_postgresql(file) else server().fresh()
    shop.settings((f'store = "{file}"', f'store = "{other}"'))
    assert says(run(shop.folder, "store", "restore", "monday.db"), 0).endswith("rows are back.")
    assert json.loads(run(shop.folder, "stock", "list", "--json").out) == listed and len(listed["lots"]) == 2
    assert "isn't empty" in says(run(shop.folder, "store", "restore", "monday.db"), 2)


@pytest.mark.long
def test_who_keeps_the_store_for_long_is_told(shop, file):
    before = dump(file)
    with raw(file) as other:
        if is_postgresql(file):
            other.execute("SET application_name = 'stock-take'")
        other.execute(begin_alone(file))
        said = says(run(shop.folder, "stock", "receive", "S-5", "5", "--bin", "A-1"), 5)
        other.execute("ROLLBACK")
    assert said.startswith("The store is busy: another program has held it for 10 s (") and "Nothing was chang" in said
    assert ("(stock-take, user postgres, process " if is_postgresql(file) else "(python") in said
    assert dump(file) == before


@pytest.mark.parametrize("file", ["postgresql"], indirect=True)
def test_a_server_without_room_is_told(shop, file):
    with raw(file) as keeper:
        keeper.execute("CREATE FUNCTION full_disk() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN "
                       "RAISE 'could not extend file' USING ERRCODE = 'disk_full'; END $$")
        keeper.execute("CREATE TRIGGER full_disk AFTER INSERT ON ledger FOR EACH ROW EXECUTE FUNCTION full_disk()")
    before = dump(file)
    assert says(run(shop.folder, "stock", "receive", "S-5", "5", "--bin", "A-1"), 5) == (
        "There is no room left on the disk of the store's database server. Nothing was changed; make room and try "
        "again.")
    assert dump(file) == before
