"""The crew: a code before the look-up, who has seen a revision, finished drills."""

import sqlalchemy as sa
from alembic import op
from sqlmodel.sql.sqltypes import UTCDateTime

revision = "0012"
down_revision = "0011"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "crew_code",
        sa.Column("agency_id", sa.Integer(), nullable=False),
        sa.Column("code_hash", sa.String(), nullable=False),
        sa.Column("set_at", UTCDateTime(), nullable=False),
        sa.Column("set_by", sa.Integer(), nullable=False),
        sa.CheckConstraint("code_hash <> ''", name=op.f("ck_crew_code_code_hash_filled")),
        sa.ForeignKeyConstraint(
            ["agency_id"], ["agency.id"], name=op.f("fk_crew_code_agency_id_agency")
        ),
        sa.ForeignKeyConstraint(["set_by"], ["person.id"], name=op.f("fk_crew_code_set_by_person")),
        sa.PrimaryKeyConstraint("agency_id", name=op.f("pk_crew_code")),
    )
    op.create_table(
        "acknowledgement",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("revision_id", sa.Integer(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("station", sa.String(), nullable=False),
        sa.Column("seen_at", UTCDateTime(), nullable=False),
        sa.CheckConstraint("station <> ''", name=op.f("ck_acknowledgement_station_filled")),
        sa.ForeignKeyConstraint(
            ["revision_id"], ["revision.id"], name=op.f("fk_acknowledgement_revision_id_revision")
        ),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_acknowledgement_person_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_acknowledgement")),
        sa.UniqueConstraint(
            "revision_id", "person_id", name=op.f("uq_acknowledgement_revision_id_person_id")
        ),
    )
    op.create_index(op.f("ix_acknowledgement_person_id"), "acknowledgement", ["person_id"])
    op.create_table(
        "drill",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("revision_id", sa.Integer(), nullable=False),
        sa.Column("seed", sa.String(), nullable=False),
        sa.Column("answers", sa.Text(), nullable=False),
        sa.Column("finished_on", sa.Date(), nullable=False),
        sa.CheckConstraint("seed <> ''", name=op.f("ck_drill_seed_filled")),
        sa.CheckConstraint("answers <> ''", name=op.f("ck_drill_answers_filled")),
        sa.ForeignKeyConstraint(
            ["revision_id"], ["revision.id"], name=op.f("fk_drill_revision_id_revision")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_drill")),
        sa.UniqueConstraint("revision_id", "seed", name=op.f("uq_drill_revision_id_seed")),
    )
