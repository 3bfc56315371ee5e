"""Shift checks, and a device read for one."""

import sqlalchemy as sa
from alembic import op
from sqlmodel.sql.sqltypes import UTCDateTime

revision = "0013"
down_revision = "0012"
branch_labels = None
depends_on = None

_TRIGGERS = (
    "'monthly check', 'reading of all', 'sample', 'after a new revision', 'after service', "
    "'after a correction', 'after an incident', 'new or loaned device', 'handover', 'shift check'"
)
_CHECKS = {
    "idempotency_key_filled": "idempotency_key <> ''",
    "answers_filled": "answers <> ''",
    "found_filled": "found <> ''",
    "phone_filled": "phone <> ''",
    "put_right_note_filled": "put_right_note <> ''",
    "fingerprint_is_sha256": "length(fingerprint) = 64",
    "unread_not_negative": "unread >= 0",
    "not_fitted_not_negative": "not_fitted >= 0",
    "number_positive": "number >= 1",
    "read_before_received": "read_at <= received_at",
    "put_right_by_another": "put_right_by <> person_id",
    "phone_with_number": "(phone IS NULL) = (number IS NULL)",
    "locked_at_with_number": "(locked_at IS NULL) = (number IS NULL)",
    "sent_at_with_number": "(sent_at IS NULL) = (number IS NULL)",
    "put_right_by_with_put_right_at": "(put_right_by IS NULL) = (put_right_at IS NULL)",
    "put_right_note_with_put_right_at": "(put_right_note IS NULL) = (put_right_at IS NULL)",
}
_OWNERS = {
    "agency_id": "agency",
    "device_id": "device",
    "session_id": "reading_session",
    "person_id": "person",
    "put_right_by": "person",
}


def upgrade() -> None:
    with op.batch_alter_table("reading_session") as batch:
        batch.drop_constraint(op.f("ck_reading_session_trigger_known"), type_="check")
        batch.create_check_constraint(
            op.f("ck_reading_session_trigger_known"), f'"trigger" IN ({_TRIGGERS})'
        )
    op.create_table(
        "shift_check",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("agency_id", sa.Integer(), nullable=False),
        sa.Column("device_id", sa.Integer(), nullable=False),
        sa.Column("session_id", sa.Integer(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("idempotency_key", sa.String(), nullable=False),
        sa.Column("fingerprint", sa.String(), nullable=False),
        sa.Column("answers", sa.Text(), nullable=False),
        sa.Column("found", sa.Text(), nullable=False),
        sa.Column("remark", sa.Text(), nullable=False),
        sa.Column("unread", sa.Integer(), nullable=False),
        sa.Column("not_fitted", sa.Integer(), nullable=False),
        sa.Column("phone", sa.String(), nullable=True),
        sa.Column("number", sa.Integer(), nullable=True),
        sa.Column("locked_at", UTCDateTime(), nullable=True),
        sa.Column("sent_at", UTCDateTime(), nullable=True),
        sa.Column("read_at", UTCDateTime(), nullable=False),
        sa.Column("received_at", UTCDateTime(), nullable=False),
        sa.Column("put_right_by", sa.Integer(), nullable=True),
        sa.Column("put_right_at", UTCDateTime(), nullable=True),
        sa.Column("put_right_note", sa.Text(), nullable=True),
        *(
            sa.CheckConstraint(rule, name=op.f(f"ck_shift_check_{name}"))
            for name, rule in _CHECKS.items()
        ),
        *(
            sa.ForeignKeyConstraint(
                [column], [f"{table}.id"], name=op.f(f"fk_shift_check_{column}_{table}")
            )
            for column, table in _OWNERS.items()
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_shift_check")),
        sa.UniqueConstraint(
            "agency_id", "idempotency_key", name=op.f("uq_shift_check_agency_id_idempotency_key")
        ),
        sa.UniqueConstraint(
            "agency_id", "phone", "number", name=op.f("uq_shift_check_agency_id_phone_number")
        ),
        sa.UniqueConstraint("session_id", name=op.f("uq_shift_check_session_id")),
    )
    op.create_index(
        op.f("ix_shift_check_device_id_read_at"), "shift_check", ["device_id", "read_at"]
    )
