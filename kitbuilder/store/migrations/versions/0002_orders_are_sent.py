"""Orders are sent and answered; goods come in against them; things go back to suppliers."""
# ruff: noqa: E501 - lines as they were generated from the tables

from collections.abc import Callable

import sqlalchemy as sa
from alembic import op

from kitbuilder.store.columns import Moment

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    """Make the changes."""
    if op.get_bind().dialect.name == "sqlite":
        _in_sqlite()
    else:
        _in_place()
    _new_tables()


def _in_sqlite() -> None:
    """SQLite can't change a constraint, so the tables are made anew; whoever migrates has turned foreign keys off, and
    checks them after it."""
    _remake("supplier_order", _supplier_order, {"supplier_number": "''", "answer": "''", "said": "''"})
    op.create_index("ix_supplier_order_proposed", "supplier_order", ["key"], unique=True, sqlite_where=sa.text("state = 'proposed'"))
    op.create_index("ix_supplier_order_site_state", "supplier_order", ["site", "state"])
    _remake("order_line", _order_line, {"substitute": "''", "returnable": "1"})
    _remake("order_for", _order_for, {"coming": "quantity"})
    op.create_index("ix_order_for_booking", "order_for", ["booking"])
    _remake("ledger", _ledger, {})


def _remake(name: str, make: Callable[[str], None], more: dict[str, str]) -> None:
    """A table made anew with its rows; `more` are columns that it didn't have, and what stands in them then."""
    bind = op.get_bind()
    kept = [f'"{row[1]}"' for row in bind.exec_driver_sql(f"PRAGMA table_info({name})")]
    # the numbers that were given stay given, of rows that aren't there any more too
    given = bind.exec_driver_sql("SELECT seq FROM sqlite_sequence WHERE name = ?", (name,)).scalar()
    make(f"new_{name}")
    into, taken = ", ".join([*kept, *more]), ", ".join([*kept, *more.values()])
    bind.exec_driver_sql(f"INSERT INTO new_{name} ({into}) SELECT {taken} FROM {name} ORDER BY id")  # noqa: S608 - names of this file
    op.drop_table(name)
    op.rename_table(f"new_{name}", name)
    if given is not None:
        bind.exec_driver_sql("DELETE FROM sqlite_sequence WHERE name = ?", (name,))
        bind.exec_driver_sql("INSERT INTO sqlite_sequence (name, seq) VALUES (?, ?)", (name, given))


def _in_place() -> None:
    op.add_column("supplier_order", sa.Column("sent_at", Moment()))
    op.add_column("supplier_order", sa.Column("answered_at", Moment()))
    op.add_column("order_line", sa.Column("confirmed", sa.BigInteger()))
    op.add_column("order_line", sa.Column("confirmed_minor", sa.BigInteger()))
    for table, name in (("supplier_order", "supplier_number"), ("supplier_order", "answer"), ("supplier_order", "said"), ("order_line", "substitute")):
        op.add_column(table, sa.Column(name, sa.String(), nullable=False, server_default=""))
        op.alter_column(table, name, server_default=None)
    op.add_column("order_line", sa.Column("returnable", sa.Boolean(), nullable=False, server_default=sa.true()))
    op.alter_column("order_line", "returnable", server_default=None)
    op.add_column("order_for", sa.Column("coming", sa.BigInteger()))
    op.execute("UPDATE order_for SET coming = quantity")
    op.alter_column("order_for", "coming", nullable=False)
    for table, name, condition in (
        ("supplier_order", "state", "state IN ('proposed', 'approved', 'sending', 'ordered', 'confirmed', 'part', 'changed', 'unclear', 'refused', 'cancelled', 'received')"),
        ("supplier_order", "expected", "NOT (state IN ('ordered', 'confirmed', 'part', 'changed', 'received')) OR expected_at IS NOT NULL"),
        ("supplier_order", "sent", "NOT (state IN ('sending', 'confirmed', 'part', 'changed', 'unclear')) OR sent_at IS NOT NULL"),
        ("order_line", "confirmed", "confirmed >= 0"),
        ("order_line", "confirmed_minor", "confirmed_minor >= 0"),
        ("order_for", "coming", "coming >= 0 AND coming <= quantity"),
        ("ledger", "action", "(action IN ('receive', 'return') AND on_hand > 0 AND held = 0) OR (action IN ('count') AND held = 0) OR (action IN ('move out', 'issue', 'send back') AND on_hand < 0 AND held <= 0) OR (action IN ('move in') AND on_hand > 0 AND held >= 0) OR (action IN ('hold') AND on_hand = 0 AND held > 0) OR (action IN ('release') AND on_hand = 0 AND held < 0) OR (action IN ('planned', 'picking', 'picked', 'quarantine') AND on_hand = 0 AND held = 0)"),
    ):
        op.execute(f"ALTER TABLE {table} DROP CONSTRAINT IF EXISTS ck_{table}_{name}")
        op.create_check_constraint(op.f(f"ck_{table}_{name}"), table, condition)


def _supplier_order(name: str) -> None:
    op.create_table(
        name,
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("key", sa.String(), nullable=False),
        sa.Column("sequence", sa.Integer(), nullable=False),
        sa.Column("site", sa.String(), nullable=False),
        sa.Column("source", sa.String(), nullable=False),
        sa.Column("slot", sa.String(), nullable=False),
        sa.Column("ready", Moment(), nullable=False),
        sa.Column("cut_off", Moment(), nullable=True),
        sa.Column("currency", sa.String(), nullable=False),
        sa.Column("fee", sa.BigInteger(), nullable=False),
        sa.Column("state", sa.String(), nullable=False),
        sa.Column("proposed_at", Moment(), nullable=False),
        sa.Column("expected_at", Moment(), nullable=True),
        sa.Column("decided_at", Moment(), nullable=True),
        sa.Column("decided_by", sa.String(), nullable=False),
        sa.Column("sent_at", Moment(), nullable=True),
        sa.Column("answered_at", Moment(), nullable=True),
        sa.Column("supplier_number", sa.String(), nullable=False),
        sa.Column("answer", sa.String(), nullable=False),
        sa.Column("said", sa.String(), nullable=False),
        sa.CheckConstraint("NOT (state IN ('ordered', 'confirmed', 'part', 'changed', 'received')) OR expected_at IS NOT NULL", name=op.f("ck_supplier_order_expected")),
        sa.CheckConstraint("NOT (state IN ('sending', 'confirmed', 'part', 'changed', 'unclear')) OR sent_at IS NOT NULL", name=op.f("ck_supplier_order_sent")),
        sa.CheckConstraint("key <> '' AND source <> '' AND slot <> ''", name=op.f("ck_supplier_order_told")),
        sa.CheckConstraint("state = 'proposed' OR (decided_by <> '' AND decided_at IS NOT NULL)", name=op.f("ck_supplier_order_decided")),
        sa.CheckConstraint("state IN ('proposed', 'approved', 'sending', 'ordered', 'confirmed', 'part', 'changed', 'unclear', 'refused', 'cancelled', 'received')", name=op.f("ck_supplier_order_state")),
        sa.CheckConstraint("fee >= 0", name=op.f("ck_supplier_order_fee")),
        sa.CheckConstraint("length(currency) = 3", name=op.f("ck_supplier_order_currency")),
        sa.ForeignKeyConstraint(["site"], ["site.name"], name=op.f("fk_supplier_order_site")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_supplier_order")),
        sa.UniqueConstraint("key", "sequence", name=op.f("uq_supplier_order_key_sequence")),
        sqlite_autoincrement=True,
    )


def _order_line(name: str) -> None:
    op.create_table(
        name,
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("order", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("item", sa.String(), nullable=False),
        sa.Column("unit", sa.String(), nullable=False),
        sa.Column("quantity", sa.BigInteger(), nullable=False),
        sa.Column("packs", sa.String(), nullable=False),
        sa.Column("minor", sa.BigInteger(), nullable=False),
        sa.Column("confirmed", sa.BigInteger(), nullable=True),
        sa.Column("confirmed_minor", sa.BigInteger(), nullable=True),
        sa.Column("substitute", sa.String(), nullable=False),
        sa.Column("returnable", sa.Boolean(), nullable=False),
        sa.CheckConstraint("unit IN ('each', 'set', 'pair', 'L', 'mL', 'kg', 'g', 'm', 'mm')", name=op.f("ck_order_line_unit")),
        sa.CheckConstraint("confirmed >= 0", name=op.f("ck_order_line_confirmed")),
        sa.CheckConstraint("confirmed_minor >= 0", name=op.f("ck_order_line_confirmed_minor")),
        sa.CheckConstraint("minor >= 0", name=op.f("ck_order_line_minor")),
        sa.CheckConstraint("quantity > 0", name=op.f("ck_order_line_quantity")),
        sa.ForeignKeyConstraint(["order"], ["supplier_order.id"], name=op.f("fk_order_line_order")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_order_line")),
        sa.UniqueConstraint("order", "item", name=op.f("uq_order_line_order_item"))
    )


def _order_for(name: str) -> None:
    op.create_table(
        name,
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("order", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("item", sa.String(), nullable=False),
        sa.Column("booking", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("need", sa.String(), nullable=False),
        sa.Column("quantity", sa.BigInteger(), nullable=False),
        sa.Column("coming", sa.BigInteger(), nullable=False),
        sa.CheckConstraint("coming >= 0 AND coming <= quantity", name=op.f("ck_order_for_coming")),
        sa.CheckConstraint("quantity > 0", name=op.f("ck_order_for_quantity")),
        sa.ForeignKeyConstraint(["booking"], ["booking.number"], name=op.f("fk_order_for_booking")),
        sa.ForeignKeyConstraint(["order", "item"], ["order_line.order", "order_line.item"], name=op.f("fk_order_for_order_item")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_order_for")),
        sa.UniqueConstraint("order", "item", "booking", "need", name=op.f("uq_order_for_order_item_booking_need"))
    )


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
        sa.CheckConstraint("(action IN ('receive', 'return') AND on_hand > 0 AND held = 0) OR (action IN ('count') AND held = 0) OR (action IN ('move out', 'issue', 'send back') AND on_hand < 0 AND held <= 0) OR (action IN ('move in') AND on_hand > 0 AND held >= 0) OR (action IN ('hold') AND on_hand = 0 AND held > 0) OR (action IN ('release') AND on_hand = 0 AND held < 0) OR (action IN ('planned', 'picking', 'picked', 'quarantine') AND on_hand = 0 AND held = 0)", name=op.f("ck_ledger_action")),
        sa.CheckConstraint("NOT (action IN ('hold', 'release', 'planned', 'picking', 'picked')) OR (hold IS NOT NULL AND booking IS NOT NULL)", name=op.f("ck_ledger_hold")),
        sa.CheckConstraint("who <> ''", name=op.f("ck_ledger_told")),
        sa.CheckConstraint("held_after >= 0 AND held_after <= on_hand_after", name=op.f("ck_ledger_after")),
        sa.CheckConstraint("number > 0", name=op.f("ck_ledger_number")),
        sa.CheckConstraint("on_hand = CAST(on_hand AS BIGINT) AND held = CAST(held AS BIGINT) AND on_hand_after = CAST(on_hand_after AS BIGINT) AND held_after = CAST(held_after AS BIGINT)", name=op.f("ck_ledger_whole")),
        sa.ForeignKeyConstraint(["booking"], ["booking.number"], name=op.f("fk_ledger_booking")),
        sa.ForeignKeyConstraint(["hold"], ["hold.id"], name=op.f("fk_ledger_hold")),
        sa.ForeignKeyConstraint(["lot", "bin"], ["stock.lot", "stock.bin"], name=op.f("fk_ledger_lot_bin")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_ledger")),
        sa.UniqueConstraint("lot", "bin", "number", name=op.f("uq_ledger_lot_bin_number")),
        sqlite_autoincrement=True,
    )


def _new_tables() -> None:
    op.create_table(
        "delivery",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("order", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("note", sa.String(), nullable=False),
        sa.Column("item", sa.String(), nullable=False),
        sa.Column("lot", sa.String(), nullable=False),
        sa.Column("line", sa.String(), nullable=False),
        sa.Column("quantity", sa.BigInteger(), nullable=False),
        sa.Column("unit", sa.String(), nullable=False),
        sa.Column("takes", sa.String(), nullable=False),
        sa.Column("who", sa.String(), nullable=False),
        sa.Column("at", Moment(), nullable=False),
        sa.CheckConstraint("note <> '' AND item <> '' AND who <> ''", name=op.f("ck_delivery_told")),
        sa.CheckConstraint("takes IN ('ordered', 'instead', 'wrong', 'beyond')", name=op.f("ck_delivery_takes")),
        sa.CheckConstraint("unit IN ('each', 'set', 'pair', 'L', 'mL', 'kg', 'g', 'm', 'mm')", name=op.f("ck_delivery_unit")),
        sa.CheckConstraint("quantity > 0", name=op.f("ck_delivery_quantity")),
        sa.ForeignKeyConstraint(["order"], ["supplier_order.id"], name=op.f("fk_delivery_order")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_delivery")),
        sa.UniqueConstraint("order", "note", "item", "lot", name=op.f("uq_delivery_order_note_item_lot"))
    )
    op.create_table(
        "order_event",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("order", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("at", Moment(), nullable=False),
        sa.Column("state", sa.String(), nullable=False),
        sa.Column("who", sa.String(), nullable=False),
        sa.Column("text", sa.String(), nullable=False),
        sa.CheckConstraint("state IN ('proposed', 'approved', 'sending', 'ordered', 'confirmed', 'part', 'changed', 'unclear', 'refused', 'cancelled', 'received')", name=op.f("ck_order_event_state")),
        sa.CheckConstraint("who <> ''", name=op.f("ck_order_event_told")),
        sa.ForeignKeyConstraint(["order"], ["supplier_order.id"], name=op.f("fk_order_event_order")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_order_event")),
        sqlite_autoincrement=True,
    )
    with op.batch_alter_table("order_event", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_order_event_order"), ["order"], unique=False)

    op.create_table(
        "supplier_return",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("site", sa.String(), nullable=False),
        sa.Column("source", sa.String(), nullable=False),
        sa.Column("order", sa.Integer(), autoincrement=False, nullable=True),
        sa.Column("item", sa.String(), nullable=False),
        sa.Column("lot", sa.String(), nullable=False),
        sa.Column("bin", sa.String(), nullable=False),
        sa.Column("quantity", sa.BigInteger(), nullable=False),
        sa.Column("unit", sa.String(), nullable=False),
        sa.Column("why", sa.String(), nullable=False),
        sa.Column("until", sa.Date(), nullable=True),
        sa.Column("currency", sa.String(), nullable=False),
        sa.Column("fee", sa.BigInteger(), nullable=False),
        sa.Column("credit", sa.BigInteger(), nullable=True),
        sa.Column("state", sa.String(), nullable=False),
        sa.Column("said", sa.String(), nullable=False),
        sa.Column("changed_at", Moment(), nullable=False),
        sa.Column("changed_by", sa.String(), nullable=False),
        sa.CheckConstraint("source <> '' AND item <> '' AND bin <> '' AND why <> '' AND changed_by <> ''", name=op.f("ck_supplier_return_told")),
        sa.CheckConstraint("state IN ('proposed', 'sent', 'credit awaited', 'credited', 'refused', 'dropped')", name=op.f("ck_supplier_return_state")),
        sa.CheckConstraint("unit IN ('each', 'set', 'pair', 'L', 'mL', 'kg', 'g', 'm', 'mm')", name=op.f("ck_supplier_return_unit")),
        sa.CheckConstraint("credit >= 0", name=op.f("ck_supplier_return_credit")),
        sa.CheckConstraint("fee >= 0", name=op.f("ck_supplier_return_fee")),
        sa.CheckConstraint("length(currency) = 3", name=op.f("ck_supplier_return_currency")),
        sa.CheckConstraint("quantity > 0", name=op.f("ck_supplier_return_quantity")),
        sa.ForeignKeyConstraint(["order"], ["supplier_order.id"], name=op.f("fk_supplier_return_order")),
        sa.ForeignKeyConstraint(["site"], ["site.name"], name=op.f("fk_supplier_return_site")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_supplier_return")),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "exchange_return",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("hold", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("booking", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("item", sa.String(), nullable=False),
        sa.Column("quantity", sa.BigInteger(), nullable=False),
        sa.Column("due", sa.Date(), nullable=True),
        sa.Column("currency", sa.String(), nullable=False),
        sa.Column("deposit", sa.BigInteger(), nullable=False),
        sa.Column("wanted", sa.String(), nullable=False),
        sa.Column("state", sa.String(), nullable=False),
        sa.Column("said", sa.String(), nullable=False),
        sa.Column("changed_at", Moment(), nullable=False),
        sa.Column("changed_by", sa.String(), nullable=False),
        sa.CheckConstraint("item <> '' AND changed_by <> ''", name=op.f("ck_exchange_return_told")),
        sa.CheckConstraint("state IN ('due', 'sent', 'deposit back', 'refused')", name=op.f("ck_exchange_return_state")),
        sa.CheckConstraint("deposit >= 0", name=op.f("ck_exchange_return_deposit")),
        sa.CheckConstraint("length(currency) = 3", name=op.f("ck_exchange_return_currency")),
        sa.CheckConstraint("quantity > 0", name=op.f("ck_exchange_return_quantity")),
        sa.ForeignKeyConstraint(["booking"], ["booking.number"], name=op.f("fk_exchange_return_booking")),
        sa.ForeignKeyConstraint(["hold"], ["hold.id"], name=op.f("fk_exchange_return_hold")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_exchange_return")),
        sa.UniqueConstraint("hold", name=op.f("uq_exchange_return_hold")),
        sqlite_autoincrement=True,
    )
    with op.batch_alter_table("exchange_return", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_exchange_return_booking"), ["booking"], unique=False)

    op.create_table(
        "return_event",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("supplier_return", sa.Integer(), autoincrement=False, nullable=True),
        sa.Column("exchange_return", sa.Integer(), autoincrement=False, nullable=True),
        sa.Column("at", Moment(), nullable=False),
        sa.Column("state", sa.String(), nullable=False),
        sa.Column("who", sa.String(), nullable=False),
        sa.Column("text", sa.String(), nullable=False),
        sa.CheckConstraint("state <> '' AND who <> ''", name=op.f("ck_return_event_told")),
        sa.CheckConstraint("(supplier_return IS NULL) <> (exchange_return IS NULL)", name=op.f("ck_return_event_of_one")),
        sa.ForeignKeyConstraint(["exchange_return"], ["exchange_return.id"], name=op.f("fk_return_event_exchange_return")),
        sa.ForeignKeyConstraint(["supplier_return"], ["supplier_return.id"], name=op.f("fk_return_event_supplier_return")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_return_event")),
        sqlite_autoincrement=True,
    )
    with op.batch_alter_table("return_event", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_return_event_exchange_return"), ["exchange_return"], unique=False)
        batch_op.create_index(batch_op.f("ix_return_event_supplier_return"), ["supplier_return"], unique=False)
