"""Readings locked before they are compared, looks that settle a doubt."""

import sqlalchemy as sa
from alembic import op
from sqlmodel.sql.sqltypes import UTCDateTime

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None

_STATES = "'power-on', 'after-category', 'in-use', 'stored-preset'"
_TRIGGERS = (
    "'monthly check', 'reading of all', 'sample', 'after a new revision', 'after service', "
    "'after a correction', 'after an incident', 'new or loaned device', 'handover'"
)


def upgrade() -> None:
    _change_reports()
    _create_sessions()
    _create_looks()


def _change_reports() -> None:
    """What several looks bear out is a report of its own, of the time of the last of them."""
    old = op.f("uq_report_device_id_read_at_state_read_preset")
    new = op.f("uq_report_device_id_read_at_state_read_preset_origin")
    with op.batch_alter_table("report") as batch:
        batch.drop_constraint(op.f("ck_report_origin_known"), type_="check")
        batch.create_check_constraint(
            op.f("ck_report_origin_known"), "origin IN ('form', 'crew', 'settled', 'file', 'api')"
        )
        batch.drop_constraint(old, type_="unique")
        batch.create_unique_constraint(
            new, ["device_id", "read_at", "state_read", "preset", "origin"]
        )


def _create_sessions() -> None:
    op.create_table(
        "reading_session",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("agency_id", sa.Integer(), nullable=False),
        sa.Column("device_id", sa.Integer(), nullable=False),
        sa.Column("preset", sa.String(), nullable=False),
        sa.Column("state_read", sa.String(), nullable=False),
        sa.Column("trigger", sa.String(), nullable=False),
        sa.Column("software", sa.String(), nullable=False),
        sa.Column("minutes_off", sa.Integer(), nullable=True),
        sa.Column("device_clock", sa.String(), nullable=False),
        sa.Column("die", sa.Integer(), nullable=False),
        sa.Column("whole", sa.Boolean(), nullable=False),
        sa.Column("idempotency_key", sa.String(), nullable=False),
        sa.Column("opened_by", sa.Integer(), nullable=False),
        sa.Column("opened_at", UTCDateTime(), nullable=False),
        sa.Column("status", sa.String(), nullable=False),
        sa.Column("telling_report_id", sa.Integer(), nullable=True),
        sa.Column("flags", sa.Integer(), nullable=False),
        sa.Column("confirmed", sa.Integer(), nullable=False),
        sa.Column("compared", sa.Integer(), nullable=False),
        sa.Column("disagreed", sa.Integer(), nullable=False),
        *_checks_of_sessions(),
        *(_key_to(column, table) for column, table in _OWNERS),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_reading_session")),
        sa.UniqueConstraint(
            "agency_id",
            "idempotency_key",
            name=op.f("uq_reading_session_agency_id_idempotency_key"),
        ),
    )
    op.create_index(
        op.f("ix_reading_session_device_id_status"), "reading_session", ["device_id", "status"]
    )
    op.create_index(
        op.f("ix_reading_session_telling_report_id"), "reading_session", ["telling_report_id"]
    )


_OWNERS = (
    ("agency_id", "agency"),
    ("device_id", "device"),
    ("opened_by", "person"),
    ("telling_report_id", "report"),
)


def _key_to(column: str, table: str) -> sa.ForeignKeyConstraint:
    name = op.f(f"fk_reading_session_{column}_{table}")
    return sa.ForeignKeyConstraint([column], [f"{table}.id"], name=name)


def _checks_of_sessions() -> list[sa.CheckConstraint]:
    rules = {
        "state_read_known": f"state_read IN ({_STATES})",
        "trigger_known": f"trigger IN ({_TRIGGERS})",
        "status_known": "status IN ('waiting', 'settled', 'lapsed')",
        "preset_filled": "preset <> ''",
        "software_filled": "software <> ''",
        "idempotency_key_filled": "idempotency_key <> ''",
        "minutes_off_not_negative": "minutes_off >= 0",
        "die_is_a_percentage": "die >= 0 AND die < 100",
        "counts_fit": (
            "flags >= confirmed AND compared >= disagreed AND confirmed >= 0 AND disagreed >= 0"
        ),
    }
    return [
        sa.CheckConstraint(rule, name=op.f(f"ck_reading_session_{name}"))
        for name, rule in rules.items()
    ]


def _create_looks() -> None:
    op.create_table(
        "reading_look",
        sa.Column("session_id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("asked", sa.Text(), nullable=False),
        sa.Column("other_than", sa.String(), nullable=False),
        sa.Column("report_id", sa.Integer(), nullable=True),
        sa.CheckConstraint("asked <> ''", name=op.f("ck_reading_look_asked_filled")),
        sa.CheckConstraint("other_than <> ''", name=op.f("ck_reading_look_other_than_filled")),
        sa.CheckConstraint(
            "number >= 1 AND number <= 3", name=op.f("ck_reading_look_number_in_reach")
        ),
        sa.ForeignKeyConstraint(
            ["session_id"],
            ["reading_session.id"],
            name=op.f("fk_reading_look_session_id_reading_session"),
        ),
        sa.ForeignKeyConstraint(
            ["report_id"], ["report.id"], name=op.f("fk_reading_look_report_id_report")
        ),
        sa.PrimaryKeyConstraint("session_id", "number", name=op.f("pk_reading_look")),
        sa.UniqueConstraint("report_id", name=op.f("uq_reading_look_report_id")),
    )
