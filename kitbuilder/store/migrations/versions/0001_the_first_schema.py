"""The first schema."""
# ruff: noqa: E501 - lines as they were generated from the tables

import sqlalchemy as sa
from alembic import op

from kitbuilder.store.columns import Moment

revision = "0001"
down_revision = None


def upgrade() -> None:
    """Make the changes."""
    op.create_table(
        "site",
        sa.Column("name", sa.String(), nullable=False),
        sa.CheckConstraint("name <> ''", name=op.f("ck_site_told")),
        sa.PrimaryKeyConstraint("name", name=op.f("pk_site")),
    )
    op.create_table(
        "visit",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("diary", sa.String(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("registration", sa.String(), nullable=False),
        sa.CheckConstraint("diary <> '' AND name <> ''", name=op.f("ck_visit_told")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_visit")),
        sa.UniqueConstraint("diary", "name", name=op.f("uq_visit_diary_name")),
    )
    op.create_table(
        "bin",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("site", sa.String(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("waits", sa.String(), nullable=False),
        sa.CheckConstraint("name <> ''", name=op.f("ck_bin_told")),
        sa.CheckConstraint(
            "waits IN ('shelf', 'bulk point', 'tool store', 'flammables cupboard', 'bench stock')",
            name=op.f("ck_bin_waits"),
        ),
        sa.ForeignKeyConstraint(["site"], ["site.name"], name=op.f("fk_bin_site")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_bin")),
        sa.UniqueConstraint("id", "site", name=op.f("uq_bin_id_site")),
        sa.UniqueConstraint("site", "name", name=op.f("uq_bin_site_name")),
    )
    op.create_table(
        "booking",
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("diary", sa.String(), nullable=False),
        sa.Column("uid", sa.String(), nullable=False),
        sa.Column("recurrence", sa.String(), nullable=False),
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.Column("visit", sa.Integer(), autoincrement=False, nullable=True),
        sa.Column("site", sa.String(), nullable=False),
        sa.Column("job", sa.String(), nullable=False),
        sa.Column("registration", sa.String(), nullable=False),
        sa.Column("start_wall", sa.String(), nullable=False),
        sa.Column("zone", sa.String(), nullable=False),
        sa.Column("start", Moment(), nullable=False),
        sa.Column("state", sa.String(), nullable=False),
        sa.Column("priority", sa.String(), nullable=False),
        sa.Column("bay", sa.String(), nullable=False),
        sa.Column("technician", sa.String(), nullable=False),
        sa.Column("facts", sa.String(), nullable=False),
        sa.Column("told", sa.String(), nullable=False),
        sa.Column("missing_since", Moment(), nullable=True),
        sa.Column("actual_start", Moment(), nullable=True),
        sa.Column("changed_at", Moment(), nullable=False),
        sa.CheckConstraint(
            "diary <> '' AND uid <> '' AND job <> '' AND start_wall <> '' AND zone <> ''", name=op.f("ck_booking_told")
        ),
        sa.CheckConstraint("priority IN ('normal', 'VOR')", name=op.f("ck_booking_priority")),
        sa.CheckConstraint("state IN ('enquiry', 'authorised', 'cancelled')", name=op.f("ck_booking_state")),
        sa.CheckConstraint("revision >= 0", name=op.f("ck_booking_revision")),
        sa.ForeignKeyConstraint(["site"], ["site.name"], name=op.f("fk_booking_site")),
        sa.ForeignKeyConstraint(["visit"], ["visit.id"], name=op.f("fk_booking_visit")),
        sa.PrimaryKeyConstraint("number", name=op.f("pk_booking")),
        sa.UniqueConstraint("diary", "uid", "recurrence", name=op.f("uq_booking_diary_uid_recurrence")),
        sqlite_autoincrement=True,
    )
    with op.batch_alter_table("booking", schema=None) as batch_op:
        batch_op.create_index("ix_booking_site_start", ["site", "start"], unique=False)

    op.create_table(
        "lot",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("site", sa.String(), nullable=False),
        sa.Column("item", sa.String(), nullable=False),
        sa.Column("number", sa.String(), nullable=False),
        sa.Column("unit", sa.String(), nullable=False),
        sa.Column("use_by", sa.Date(), nullable=True),
        sa.Column("quarantine", sa.String(), nullable=False),
        sa.Column("received_at", Moment(), nullable=False),
        sa.CheckConstraint("item <> ''", name=op.f("ck_lot_told")),
        sa.CheckConstraint(
            "unit IN ('each', 'set', 'pair', 'L', 'mL', 'kg', 'g', 'm', 'mm')", name=op.f("ck_lot_unit")
        ),
        sa.ForeignKeyConstraint(["site"], ["site.name"], name=op.f("fk_lot_site")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_lot")),
        sa.UniqueConstraint("id", "site", name=op.f("uq_lot_id_site")),
        sa.UniqueConstraint("site", "item", "number", name=op.f("uq_lot_site_item_number")),
    )
    with op.batch_alter_table("lot", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_lot_item"), ["item"], unique=False)

    op.create_table(
        "run",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("site", sa.String(), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("state", sa.String(), nullable=False),
        sa.Column("now", Moment(), nullable=False),
        sa.Column("quotes", sa.String(), nullable=False),
        sa.Column("started_at", Moment(), nullable=False),
        sa.Column("finished_at", Moment(), nullable=True),
        sa.Column("report", sa.String(), nullable=False),
        sa.CheckConstraint("state = 'running' OR finished_at IS NOT NULL", name=op.f("ck_run_finished")),
        sa.CheckConstraint("state IN ('running', 'done')", name=op.f("ck_run_state")),
        sa.ForeignKeyConstraint(["site"], ["site.name"], name=op.f("fk_run_site")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_run")),
    )
    with op.batch_alter_table("run", schema=None) as batch_op:
        batch_op.create_index(
            "ix_run_running",
            ["site", "day"],
            unique=True,
            sqlite_where=sa.text("state = 'running'"),
            postgresql_where=sa.text("state = 'running'"),
        )
        batch_op.create_index("ix_run_site_day", ["site", "day"], unique=False)

    op.create_table(
        "supplier_order",
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
        sa.CheckConstraint("key <> '' AND source <> '' AND slot <> ''", name=op.f("ck_supplier_order_told")),
        sa.CheckConstraint(
            "state = 'proposed' OR (decided_by <> '' AND decided_at IS NOT NULL)",
            name=op.f("ck_supplier_order_decided"),
        ),
        sa.CheckConstraint(
            "state IN ('proposed', 'ordered', 'cancelled', 'received')", name=op.f("ck_supplier_order_state")
        ),
        sa.CheckConstraint(
            "state NOT IN ('ordered', 'received') OR expected_at IS NOT NULL", name=op.f("ck_supplier_order_expected")
        ),
        sa.CheckConstraint("fee >= 0", name=op.f("ck_supplier_order_fee")),
        sa.CheckConstraint("length(currency) = 3", name=op.f("ck_supplier_order_currency")),
        sa.ForeignKeyConstraint(["site"], ["site.name"], name=op.f("fk_supplier_order_site")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_supplier_order")),
        sa.UniqueConstraint("key", "sequence", name=op.f("uq_supplier_order_key_sequence")),
        sqlite_autoincrement=True,
    )
    with op.batch_alter_table("supplier_order", schema=None) as batch_op:
        batch_op.create_index(
            "ix_supplier_order_proposed",
            ["key"],
            unique=True,
            sqlite_where=sa.text("state = 'proposed'"),
            postgresql_where=sa.text("state = 'proposed'"),
        )
        batch_op.create_index("ix_supplier_order_site_state", ["site", "state"], unique=False)

    op.create_table(
        "edit",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("booking", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("action", sa.String(), nullable=False),
        sa.Column("role", sa.String(), nullable=False),
        sa.Column("filler", sa.String(), nullable=False),
        sa.Column("item", sa.String(), nullable=False),
        sa.Column("amount", sa.BigInteger(), nullable=True),
        sa.Column("unit", sa.String(), nullable=False),
        sa.Column("who", sa.String(), nullable=False),
        sa.Column("why", sa.String(), nullable=False),
        sa.Column("at", Moment(), nullable=False),
        sa.Column("undone_at", Moment(), nullable=True),
        sa.Column("undone_by", sa.String(), nullable=False),
        sa.CheckConstraint(
            "(amount IS NULL AND action <> 'amount') OR (amount IS NOT NULL AND amount > 0)",
            name=op.f("ck_edit_amount"),
        ),
        sa.CheckConstraint("action = 'add' OR filler <> ''", name=op.f("ck_edit_filler")),
        sa.CheckConstraint("action IN ('add', 'swap', 'strike', 'amount')", name=op.f("ck_edit_action")),
        sa.CheckConstraint("action NOT IN ('add', 'swap') OR item <> ''", name=op.f("ck_edit_item")),
        sa.CheckConstraint("role <> '' AND who <> '' AND why <> ''", name=op.f("ck_edit_told")),
        sa.ForeignKeyConstraint(["booking"], ["booking.number"], name=op.f("fk_edit_booking")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_edit")),
        sqlite_autoincrement=True,
    )
    with op.batch_alter_table("edit", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_edit_booking"), ["booking"], unique=False)

    op.create_table(
        "kit",
        sa.Column("booking", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("edition", sa.String(), nullable=False),
        sa.Column("fingerprint", sa.String(), nullable=False),
        sa.Column("kit", sa.String(), nullable=False),
        sa.Column("statements", sa.String(), nullable=False),
        sa.Column("built_at", Moment(), nullable=False),
        sa.ForeignKeyConstraint(["booking"], ["booking.number"], name=op.f("fk_kit_booking")),
        sa.PrimaryKeyConstraint("booking", name=op.f("pk_kit")),
    )
    op.create_table(
        "kit_check",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("booking", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("item", sa.String(), nullable=False),
        sa.Column("lot", sa.String(), nullable=False),
        sa.Column("quantity", sa.BigInteger(), nullable=False),
        sa.Column("who", sa.String(), nullable=False),
        sa.Column("at", Moment(), nullable=False),
        sa.CheckConstraint("item <> '' AND who <> ''", name=op.f("ck_kit_check_told")),
        sa.CheckConstraint("quantity > 0", name=op.f("ck_kit_check_quantity")),
        sa.ForeignKeyConstraint(["booking"], ["booking.number"], name=op.f("fk_kit_check_booking")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_kit_check")),
    )
    with op.batch_alter_table("kit_check", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_kit_check_booking"), ["booking"], unique=False)

    op.create_table(
        "order_line",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("order", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("item", sa.String(), nullable=False),
        sa.Column("unit", sa.String(), nullable=False),
        sa.Column("quantity", sa.BigInteger(), nullable=False),
        sa.Column("packs", sa.String(), nullable=False),
        sa.Column("minor", sa.BigInteger(), nullable=False),
        sa.CheckConstraint(
            "unit IN ('each', 'set', 'pair', 'L', 'mL', 'kg', 'g', 'm', 'mm')", name=op.f("ck_order_line_unit")
        ),
        sa.CheckConstraint("minor >= 0", name=op.f("ck_order_line_minor")),
        sa.CheckConstraint("quantity > 0", name=op.f("ck_order_line_quantity")),
        sa.ForeignKeyConstraint(["order"], ["supplier_order.id"], name=op.f("fk_order_line_order")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_order_line")),
        sa.UniqueConstraint("order", "item", name=op.f("uq_order_line_order_item")),
    )
    op.create_table(
        "run_step",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("run", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("at", Moment(), nullable=False),
        sa.Column("result", sa.String(), nullable=False),
        sa.ForeignKeyConstraint(["run"], ["run.id"], name=op.f("fk_run_step_run")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_run_step")),
        sa.UniqueConstraint("run", "name", name=op.f("uq_run_step_run_name")),
    )
    op.create_table(
        "stock",
        sa.Column("lot", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("bin", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("site", sa.String(), nullable=False),
        sa.Column("on_hand", sa.BigInteger(), nullable=False),
        sa.Column("held", sa.BigInteger(), nullable=False),
        sa.Column("changes", sa.BigInteger(), nullable=False),
        sa.CheckConstraint("held >= 0 AND held <= on_hand", name=op.f("ck_stock_held")),
        sa.CheckConstraint(
            "on_hand = CAST(on_hand AS BIGINT) AND held = CAST(held AS BIGINT) AND changes = CAST(changes AS BIGINT)",
            name=op.f("ck_stock_whole"),
        ),
        sa.CheckConstraint("on_hand >= 0", name=op.f("ck_stock_on_hand")),
        sa.ForeignKeyConstraint(["bin", "site"], ["bin.id", "bin.site"], name=op.f("fk_stock_bin_site")),
        sa.ForeignKeyConstraint(["lot", "site"], ["lot.id", "lot.site"], name=op.f("fk_stock_lot_site")),
        sa.PrimaryKeyConstraint("lot", "bin", name=op.f("pk_stock")),
    )
    op.create_table(
        "hold",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("promise", sa.String(), nullable=False),
        sa.Column("part", sa.Integer(), nullable=False),
        sa.Column("booking", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("need", sa.String(), nullable=False),
        sa.Column("lot", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("bin", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("quantity", sa.BigInteger(), nullable=False),
        sa.Column("state", sa.String(), nullable=False),
        sa.Column("changed_at", Moment(), nullable=False),
        sa.Column("changed_by", sa.String(), nullable=False),
        sa.CheckConstraint("promise <> '' AND need <> '' AND changed_by <> ''", name=op.f("ck_hold_told")),
        sa.CheckConstraint(
            "state IN ('planned', 'picking', 'picked', 'issued', 'released')", name=op.f("ck_hold_state")
        ),
        sa.CheckConstraint("quantity = CAST(quantity AS BIGINT)", name=op.f("ck_hold_whole")),
        sa.CheckConstraint("quantity > 0", name=op.f("ck_hold_quantity")),
        sa.ForeignKeyConstraint(["booking"], ["booking.number"], name=op.f("fk_hold_booking")),
        sa.ForeignKeyConstraint(["lot", "bin"], ["stock.lot", "stock.bin"], name=op.f("fk_hold_lot_bin")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_hold")),
        sa.UniqueConstraint("promise", "part", name=op.f("uq_hold_promise_part")),
    )
    with op.batch_alter_table("hold", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_hold_booking"), ["booking"], unique=False)
        batch_op.create_index("ix_hold_place", ["lot", "bin"], unique=False)

    op.create_table(
        "order_for",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("order", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("item", sa.String(), nullable=False),
        sa.Column("booking", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("need", sa.String(), nullable=False),
        sa.Column("quantity", sa.BigInteger(), nullable=False),
        sa.CheckConstraint("quantity > 0", name=op.f("ck_order_for_quantity")),
        sa.ForeignKeyConstraint(["booking"], ["booking.number"], name=op.f("fk_order_for_booking")),
        sa.ForeignKeyConstraint(
            ["order", "item"], ["order_line.order", "order_line.item"], name=op.f("fk_order_for_order_item")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_order_for")),
        sa.UniqueConstraint("order", "item", "booking", "need", name=op.f("uq_order_for_order_item_booking_need")),
    )
    with op.batch_alter_table("order_for", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_order_for_booking"), ["booking"], unique=False)

    op.create_table(
        "ledger",
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
        sa.CheckConstraint(
            "(action IN ('receive', 'return') AND on_hand > 0 AND held = 0) OR (action IN ('count') AND held = 0) OR (action IN ('move out', 'issue') AND on_hand < 0 AND held <= 0) OR (action IN ('move in') AND on_hand > 0 AND held >= 0) OR (action IN ('hold') AND on_hand = 0 AND held > 0) OR (action IN ('release') AND on_hand = 0 AND held < 0) OR (action IN ('planned', 'picking', 'picked', 'quarantine') AND on_hand = 0 AND held = 0)",
            name=op.f("ck_ledger_action"),
        ),
        sa.CheckConstraint(
            "NOT (action IN ('hold', 'release', 'planned', 'picking', 'picked')) OR (hold IS NOT NULL AND booking IS NOT NULL)",
            name=op.f("ck_ledger_hold"),
        ),
        sa.CheckConstraint("who <> ''", name=op.f("ck_ledger_told")),
        sa.CheckConstraint("held_after >= 0 AND held_after <= on_hand_after", name=op.f("ck_ledger_after")),
        sa.CheckConstraint("number > 0", name=op.f("ck_ledger_number")),
        sa.CheckConstraint(
            "on_hand = CAST(on_hand AS BIGINT) AND held = CAST(held AS BIGINT) AND on_hand_after = CAST(on_hand_after AS BIGINT) AND held_after = CAST(held_after AS BIGINT)",
            name=op.f("ck_ledger_whole"),
        ),
        sa.ForeignKeyConstraint(["booking"], ["booking.number"], name=op.f("fk_ledger_booking")),
        sa.ForeignKeyConstraint(["hold"], ["hold.id"], name=op.f("fk_ledger_hold")),
        sa.ForeignKeyConstraint(["lot", "bin"], ["stock.lot", "stock.bin"], name=op.f("fk_ledger_lot_bin")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_ledger")),
        sa.UniqueConstraint("lot", "bin", "number", name=op.f("uq_ledger_lot_bin_number")),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "short_pick",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("booking", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("hold", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("missing", sa.BigInteger(), nullable=False),
        sa.Column("who", sa.String(), nullable=False),
        sa.Column("at", Moment(), nullable=False),
        sa.Column("counted_at", Moment(), nullable=True),
        sa.CheckConstraint("who <> ''", name=op.f("ck_short_pick_told")),
        sa.CheckConstraint("missing > 0", name=op.f("ck_short_pick_missing")),
        sa.ForeignKeyConstraint(["booking"], ["booking.number"], name=op.f("fk_short_pick_booking")),
        sa.ForeignKeyConstraint(["hold"], ["hold.id"], name=op.f("fk_short_pick_hold")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_short_pick")),
    )
    with op.batch_alter_table("short_pick", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_short_pick_booking"), ["booking"], unique=False)
        batch_op.create_index(batch_op.f("ix_short_pick_hold"), ["hold"], unique=False)

