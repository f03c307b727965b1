"""What was taken from stock that is kept elsewhere is issued there; what is set aside for findings is held."""
# ruff: noqa: E501 - lines as they were generated from the tables

import sqlalchemy as sa
from alembic import op

from kitbuilder.store.columns import Moment

revision = "0003"
down_revision = "0002"


def upgrade() -> None:
    """Make the changes."""
    _issue_elsewhere()
    op.add_column("order_line", sa.Column("expected_at", Moment(), nullable=True))
    _reserve()
    if op.get_bind().dialect.name == "sqlite":
        _ledger_in_sqlite()
    else:
        _ledger_in_place()


def _issue_elsewhere() -> None:
    op.create_table(
        "issue_elsewhere",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("delivery", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("key", sa.String(), nullable=False),
        sa.Column("state", sa.String(), nullable=False),
        sa.Column("said", sa.String(), nullable=False),
        sa.Column("changed_at", Moment(), nullable=False),
        sa.Column("changed_by", sa.String(), nullable=False),
        sa.CheckConstraint("key <> '' AND changed_by <> ''", name=op.f("ck_issue_elsewhere_told")),
        sa.CheckConstraint("state IN ('waiting', 'issuing', 'unclear', 'issued')", name=op.f("ck_issue_elsewhere_state")),
        sa.ForeignKeyConstraint(["delivery"], ["delivery.id"], name=op.f("fk_issue_elsewhere_delivery")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_issue_elsewhere")),
        sa.UniqueConstraint("delivery", name=op.f("uq_issue_elsewhere_delivery")),
        sa.UniqueConstraint("key", name=op.f("uq_issue_elsewhere_key")),
        sqlite_autoincrement=True,
    )
    with op.batch_alter_table("issue_elsewhere", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_issue_elsewhere_state"), ["state"], unique=False)


def _reserve() -> None:
    op.create_table(
        "reserve",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("site", sa.String(), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("lot", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("bin", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("quantity", sa.BigInteger(), nullable=False),
        sa.Column("state", sa.String(), nullable=False),
        sa.Column("bookings", sa.String(), nullable=False),
        sa.Column("changed_at", Moment(), nullable=False),
        sa.Column("changed_by", sa.String(), nullable=False),
        sa.CheckConstraint("bookings <> '' AND changed_by <> ''", name=op.f("ck_reserve_told")),
        sa.CheckConstraint("quantity = CAST(quantity AS BIGINT)", name=op.f("ck_reserve_whole")),
        sa.CheckConstraint("quantity > 0", name=op.f("ck_reserve_quantity")),
        sa.CheckConstraint("state IN ('set aside', 'given back')", name=op.f("ck_reserve_state")),
        sa.ForeignKeyConstraint(["bin", "site"], ["bin.id", "bin.site"], name=op.f("fk_reserve_bin_site")),
        sa.ForeignKeyConstraint(["lot", "bin"], ["stock.lot", "stock.bin"], name=op.f("fk_reserve_lot_bin")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_reserve")),
        sqlite_autoincrement=True,
    )
    op.create_index("ix_reserve_set_aside", "reserve", ["day", "lot", "bin"], unique=True, sqlite_where=sa.text("state = 'set aside'"), postgresql_where=sa.text("state = 'set aside'"))
    op.create_index("ix_reserve_site_state", "reserve", ["site", "state"])
    op.create_index("ix_reserve_place", "reserve", ["lot", "bin"])


def _ledger_in_sqlite() -> None:
    """SQLite can't change a constraint, so the table is made anew; whoever migrates has turned foreign keys off, and
    checks them after it."""
    bind = op.get_bind()
    kept = ", ".join(f'"{row[1]}"' for row in bind.exec_driver_sql("PRAGMA table_info(ledger)"))
    # the numbers that were given stay given, of rows that aren't there any more too
    given = bind.exec_driver_sql("SELECT seq FROM sqlite_sequence WHERE name = 'ledger'").scalar()
    _ledger("new_ledger")
    bind.exec_driver_sql(f"INSERT INTO new_ledger ({kept}) SELECT {kept} FROM ledger ORDER BY id")  # noqa: S608 - names of this file
    op.drop_table("ledger")
    op.rename_table("new_ledger", "ledger")
    if given is not None:
        bind.exec_driver_sql("DELETE FROM sqlite_sequence WHERE name = 'ledger'")
        bind.exec_driver_sql("INSERT INTO sqlite_sequence (name, seq) VALUES ('ledger', ?)", (given,))


def _ledger_in_place() -> None:
    op.add_column("ledger", sa.Column("reserve", sa.Integer(), autoincrement=False, nullable=True))
    op.create_foreign_key(op.f("fk_ledger_reserve"), "ledger", "reserve", ["reserve"], ["id"])
    op.execute("ALTER TABLE ledger DROP CONSTRAINT ck_ledger_action")
    for name, condition in (
        ("action", "(action IN ('receive', 'return') AND on_hand > 0 AND held = 0) OR (action IN ('count') AND held = 0) OR (action IN ('move out', 'issue', 'send back') AND on_hand < 0 AND held <= 0) OR (action IN ('move in') AND on_hand > 0 AND held >= 0) OR (action IN ('hold', 'set aside') AND on_hand = 0 AND held > 0) OR (action IN ('release', 'give back') AND on_hand = 0 AND held < 0) OR (action IN ('planned', 'picking', 'picked', 'quarantine') AND on_hand = 0 AND held = 0)"),
        ("reserve", "(action IN ('set aside', 'give back')) = (reserve IS NOT NULL)"),
    ):
        op.create_check_constraint(op.f(f"ck_ledger_{name}"), "ledger", condition)


def _ledger(name: str) -> None:
    op.create_table(
        name,
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("at", Moment(), nullable=False),
        sa.Column("action", sa.String(), nullable=False),
        sa.Column("lot", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("bin", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("number", sa.BigInteger(), nullable=False),
        sa.Column("on_hand", sa.BigInteger(), nullable=False),
        sa.Column("held", sa.BigInteger(), nullable=False),
        sa.Column("on_hand_after", sa.BigInteger(), nullable=False),
        sa.Column("held_after", sa.BigInteger(), nullable=False),
        sa.Column("booking", sa.Integer(), autoincrement=False, nullable=True),
        sa.Column("hold", sa.Integer(), autoincrement=False, nullable=True),
        sa.Column("who", sa.String(), nullable=False),
        sa.Column("why", sa.String(), nullable=False),
        sa.Column("reserve", sa.Integer(), autoincrement=False, nullable=True),
        sa.CheckConstraint("(action IN ('receive', 'return') AND on_hand > 0 AND held = 0) OR (action IN ('count') AND held = 0) OR (action IN ('move out', 'issue', 'send back') AND on_hand < 0 AND held <= 0) OR (action IN ('move in') AND on_hand > 0 AND held >= 0) OR (action IN ('hold', 'set aside') AND on_hand = 0 AND held > 0) OR (action IN ('release', 'give back') AND on_hand = 0 AND held < 0) OR (action IN ('planned', 'picking', 'picked', 'quarantine') AND on_hand = 0 AND held = 0)", name=op.f("ck_ledger_action")),
        sa.CheckConstraint("NOT (action IN ('hold', 'release', 'planned', 'picking', 'picked')) OR (hold IS NOT NULL AND booking IS NOT NULL)", name=op.f("ck_ledger_hold")),
        sa.CheckConstraint("(action IN ('set aside', 'give back')) = (reserve IS NOT NULL)", name=op.f("ck_ledger_reserve")),
        sa.CheckConstraint("who <> ''", name=op.f("ck_ledger_told")),
        sa.CheckConstraint("held_after >= 0 AND held_after <= on_hand_after", name=op.f("ck_ledger_after")),
        sa.CheckConstraint("number > 0", name=op.f("ck_ledger_number")),
        sa.CheckConstraint("on_hand = CAST(on_hand AS BIGINT) AND held = CAST(held AS BIGINT) AND on_hand_after = CAST(on_hand_after AS BIGINT) AND held_after = CAST(held_after AS BIGINT)", name=op.f("ck_ledger_whole")),
        sa.ForeignKeyConstraint(["booking"], ["booking.number"], name=op.f("fk_ledger_booking")),
        sa.ForeignKeyConstraint(["hold"], ["hold.id"], name=op.f("fk_ledger_hold")),
        sa.ForeignKeyConstraint(["reserve"], ["reserve.id"], name=op.f("fk_ledger_reserve")),
        sa.ForeignKeyConstraint(["lot", "bin"], ["stock.lot", "stock.bin"], name=op.f("fk_ledger_lot_bin")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_ledger")),
        sa.UniqueConstraint("lot", "bin", "number", name=op.f("uq_ledger_lot_bin_number")),
        sqlite_autoincrement=True,
    )
