"""Devices with their history, models with what they can do, clearance."""

import sqlalchemy as sa
from alembic import op
from sqlmodel.sql.sqltypes import UTCDateTime

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None

_KINDS = (
    "'added', 'moved', 'software-changed', 'sent-to-service', 'back-from-service', "
    "'came-on-loan', 'loan-changed', 'put-in-service', 'made-a-spare', 'retired', "
    "'brought-back', 'corrected'"
)
_CAUSES = "'back-from-service', 'brought-back', 'came-on-loan', 'moved', 'software-changed'"
_STATUSES = "'in-service', 'spare', 'away-for-service', 'retired'"


def upgrade() -> None:
    _widen_devices()
    _create_changes()
    _create_overrides()
    _create_models()


def _widen_devices() -> None:
    """A device that was there before is in service, our own, and needs no reading for itself."""
    with op.batch_alter_table("device") as batch:
        for name, default in (("vehicle", ""), ("serial", ""), ("software", "")):
            batch.add_column(sa.Column(name, sa.String(), nullable=False, server_default=default))
        batch.add_column(
            sa.Column("status", sa.String(), nullable=False, server_default="in-service")
        )
        batch.add_column(sa.Column("note", sa.Text(), nullable=False, server_default=""))
        for name in ("owner", "cause"):
            batch.add_column(sa.Column(name, sa.String(), nullable=True))
        for name in ("loan_from", "loan_until"):
            batch.add_column(sa.Column(name, sa.Date(), nullable=True))
        for name in ("cause_at", "cleared_at"):
            batch.add_column(sa.Column(name, UTCDateTime(), nullable=True))
        batch.add_column(sa.Column("worker_id", sa.Integer(), nullable=True))
    with op.batch_alter_table("device") as batch:
        for name in ("vehicle", "serial", "software", "status", "note"):
            batch.alter_column(name, server_default=None)
        batch.create_foreign_key(
            op.f("fk_device_worker_id_person"), "person", ["worker_id"], ["id"]
        )
        for check, rule in (
            ("owner_filled", "owner <> ''"),
            ("status_known", f"status IN ({_STATUSES})"),
            ("cause_known", f"cause IN ({_CAUSES})"),
            ("owner_with_loan_from", "(owner IS NULL) = (loan_from IS NULL)"),
            ("loan_ends_later", "loan_until >= loan_from"),
            ("cause_with_cause_at", "(cause IS NULL) = (cause_at IS NULL)"),
            ("cleared_after_cause", "cleared_at >= cause_at"),
        ):
            batch.create_check_constraint(op.f(f"ck_device_{check}"), rule)


def _create_changes() -> None:
    op.create_table(
        "device_change",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("device_id", sa.Integer(), nullable=False),
        sa.Column("changed_at", UTCDateTime(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("changes", sa.Text(), nullable=False),
        sa.Column("why", sa.Text(), nullable=False),
        sa.Column("worker_id", sa.Integer(), nullable=True),
        sa.CheckConstraint(f"kind IN ({_KINDS})", name=op.f("ck_device_change_kind_known")),
        sa.CheckConstraint("changes <> ''", name=op.f("ck_device_change_changes_filled")),
        sa.CheckConstraint("name <> ''", name=op.f("ck_device_change_name_filled")),
        sa.ForeignKeyConstraint(
            ["device_id"], ["device.id"], name=op.f("fk_device_change_device_id_device")
        ),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_device_change_person_id_person")
        ),
        sa.ForeignKeyConstraint(
            ["worker_id"], ["person.id"], name=op.f("fk_device_change_worker_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_device_change")),
    )
    op.create_index(op.f("ix_device_change_device_id"), "device_change", ["device_id"])


def _create_overrides() -> None:
    op.create_table(
        "clearance_override",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("device_id", sa.Integer(), nullable=False),
        sa.Column("state", sa.String(), nullable=False),
        sa.Column("made_at", UTCDateTime(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("until", sa.Date(), nullable=False),
        sa.Column("ended_at", UTCDateTime(), nullable=True),
        sa.CheckConstraint(
            "state IN ('cleared', 'by-hand')", name=op.f("ck_clearance_override_state_known")
        ),
        sa.CheckConstraint("reason <> ''", name=op.f("ck_clearance_override_reason_filled")),
        sa.CheckConstraint("name <> ''", name=op.f("ck_clearance_override_name_filled")),
        sa.ForeignKeyConstraint(
            ["device_id"], ["device.id"], name=op.f("fk_clearance_override_device_id_device")
        ),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_clearance_override_person_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_clearance_override")),
    )
    op.create_index(op.f("ix_clearance_override_device_id"), "clearance_override", ["device_id"])


def _create_models() -> None:
    op.create_table(
        "model_record",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("agency_id", sa.Integer(), nullable=False),
        sa.Column("key", sa.String(), nullable=False),
        sa.Column("facts", sa.Text(), nullable=False),
        sa.Column("tested_on", sa.Date(), nullable=True),
        sa.Column("recorded_at", UTCDateTime(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.CheckConstraint("key <> ''", name=op.f("ck_model_record_key_filled")),
        sa.CheckConstraint("facts <> ''", name=op.f("ck_model_record_facts_filled")),
        sa.CheckConstraint("name <> ''", name=op.f("ck_model_record_name_filled")),
        sa.ForeignKeyConstraint(
            ["agency_id"], ["agency.id"], name=op.f("fk_model_record_agency_id_agency")
        ),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_model_record_person_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_model_record")),
    )
    op.create_index(op.f("ix_model_record_agency_id_key"), "model_record", ["agency_id", "key"])
