"""When a fleet was last held against what."""

import sqlalchemy as sa
from alembic import op
from sqlmodel.sql.sqltypes import UTCDateTime

revision = "0017"
down_revision = "0016"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "reaudit",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("agency_id", sa.Integer(), nullable=False),
        sa.Column("revision_id", sa.Integer(), nullable=False),
        sa.Column("bounds", sa.String(), nullable=False),
        sa.Column("devices", sa.Integer(), nullable=False),
        sa.Column("run_at", UTCDateTime(), nullable=False),
        sa.Column("run_by", sa.Integer(), nullable=False),
        sa.CheckConstraint("bounds <> ''", name=op.f("ck_reaudit_bounds_filled")),
        sa.CheckConstraint("devices >= 0", name=op.f("ck_reaudit_devices_counted")),
        sa.ForeignKeyConstraint(
            ["agency_id"], ["agency.id"], name=op.f("fk_reaudit_agency_id_agency")
        ),
        sa.ForeignKeyConstraint(
            ["revision_id"], ["revision.id"], name=op.f("fk_reaudit_revision_id_revision")
        ),
        sa.ForeignKeyConstraint(["run_by"], ["person.id"], name=op.f("fk_reaudit_run_by_person")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_reaudit")),
    )
    op.create_index(op.f("ix_reaudit_agency_id"), "reaudit", ["agency_id"])
