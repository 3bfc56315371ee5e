"""Samples that can be drawn again."""

import sqlalchemy as sa
from alembic import op
from sqlmodel.sql.sqltypes import UTCDateTime

revision = "0009"
down_revision = "0008"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "draw",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("agency_id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("drawn_at", UTCDateTime(), nullable=False),
        sa.Column("drawn_by", sa.Integer(), nullable=False),
        sa.Column("purpose", sa.String(), nullable=False),
        sa.Column("strata", sa.String(), nullable=False),
        sa.Column("confidence", sa.String(), nullable=False),
        sa.Column("seed", sa.String(), nullable=False),
        sa.Column("fingerprint", sa.String(), nullable=False),
        sa.Column("listed", sa.Text(), nullable=False),
        sa.Column("chosen", sa.Text(), nullable=False),
        sa.CheckConstraint(
            "strata IN ('none', 'station', 'model')", name=op.f("ck_draw_strata_known")
        ),
        sa.CheckConstraint("listed <> ''", name=op.f("ck_draw_listed_filled")),
        sa.CheckConstraint("chosen <> ''", name=op.f("ck_draw_chosen_filled")),
        sa.CheckConstraint("seed <> ''", name=op.f("ck_draw_seed_filled")),
        sa.CheckConstraint("confidence <> ''", name=op.f("ck_draw_confidence_filled")),
        sa.CheckConstraint("length(fingerprint) = 64", name=op.f("ck_draw_fingerprint_is_sha256")),
        sa.CheckConstraint("number > 0", name=op.f("ck_draw_number_positive")),
        sa.ForeignKeyConstraint(
            ["agency_id"], ["agency.id"], name=op.f("fk_draw_agency_id_agency")
        ),
        sa.ForeignKeyConstraint(["drawn_by"], ["person.id"], name=op.f("fk_draw_drawn_by_person")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_draw")),
        sa.UniqueConstraint("agency_id", "number", name=op.f("uq_draw_agency_id_number")),
    )
