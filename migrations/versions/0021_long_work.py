"""Work that is done outside requests."""

import sqlalchemy as sa
from alembic import op
from sqlmodel.sql.sqltypes import UTCDateTime

revision = "0021"
down_revision = "0020"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "long_work",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("agency_id", sa.Integer(), nullable=False),
        sa.Column("asked_by", sa.Integer(), nullable=False),
        sa.Column("scopes", sa.String(), nullable=True),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("about", sa.Text(), nullable=False),
        sa.Column("content", sa.LargeBinary(), nullable=True),
        sa.Column("state", sa.String(), nullable=False),
        sa.Column("tries", sa.Integer(), nullable=False),
        sa.Column("asked_at", UTCDateTime(), nullable=False),
        sa.Column("began_at", UTCDateTime(), nullable=True),
        sa.Column("ended_at", UTCDateTime(), nullable=True),
        sa.Column("outcome", sa.Text(), nullable=True),
        sa.Column("failure", sa.Text(), nullable=True),
        sa.CheckConstraint(
            "kind IN ('take-in-readings', 're-audit')", name=op.f("ck_long_work_kind_known")
        ),
        sa.CheckConstraint(
            "state IN ('waiting', 'running', 'done', 'failed')",
            name=op.f("ck_long_work_state_known"),
        ),
        sa.CheckConstraint("tries >= 0", name=op.f("ck_long_work_tries_not_negative")),
        sa.CheckConstraint(
            "(state IN ('done', 'failed')) = (ended_at IS NOT NULL)",
            name=op.f("ck_long_work_ended_when_over"),
        ),
        sa.CheckConstraint(
            "(state = 'done') = (outcome IS NOT NULL)",
            name=op.f("ck_long_work_outcome_when_done"),
        ),
        sa.CheckConstraint(
            "(state = 'failed') = (failure IS NOT NULL)",
            name=op.f("ck_long_work_failure_when_failed"),
        ),
        sa.ForeignKeyConstraint(
            ["agency_id"], ["agency.id"], name=op.f("fk_long_work_agency_id_agency")
        ),
        sa.ForeignKeyConstraint(
            ["asked_by"], ["person.id"], name=op.f("fk_long_work_asked_by_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_long_work")),
    )
    op.create_index(op.f("ix_long_work_agency_id"), "long_work", ["agency_id"])
