"""Print runs of pocket cards."""

import sqlalchemy as sa
from alembic import op
from sqlmodel.sql.sqltypes import UTCDateTime

revision = "0010"
down_revision = "0009"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "card_print",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("agency_id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("revision_id", sa.Integer(), nullable=False),
        sa.Column("size", sa.String(), nullable=False),
        sa.Column("model", sa.String(), nullable=False),
        sa.Column("copies", sa.Integer(), nullable=False),
        sa.Column("place", sa.String(), nullable=False),
        sa.Column("printed_at", UTCDateTime(), nullable=False),
        sa.Column("printed_by", sa.Integer(), nullable=False),
        sa.Column("collected_at", UTCDateTime(), nullable=True),
        sa.Column("collected_by", sa.Integer(), nullable=True),
        sa.Column("collected_note", sa.String(), nullable=False),
        sa.CheckConstraint(
            "size IN ('a6', 'a5', 'folded-a4')", name=op.f("ck_card_print_size_known")
        ),
        sa.CheckConstraint(
            "(collected_by IS NULL) = (collected_at IS NULL)",
            name=op.f("ck_card_print_collected_by_with_collected_at"),
        ),
        sa.CheckConstraint("number > 0", name=op.f("ck_card_print_number_positive")),
        sa.CheckConstraint("copies > 0", name=op.f("ck_card_print_copies_positive")),
        sa.CheckConstraint(
            "collected_at >= printed_at", name=op.f("ck_card_print_collected_after_printing")
        ),
        sa.ForeignKeyConstraint(
            ["agency_id"], ["agency.id"], name=op.f("fk_card_print_agency_id_agency")
        ),
        sa.ForeignKeyConstraint(
            ["revision_id"], ["revision.id"], name=op.f("fk_card_print_revision_id_revision")
        ),
        sa.ForeignKeyConstraint(
            ["printed_by"], ["person.id"], name=op.f("fk_card_print_printed_by_person")
        ),
        sa.ForeignKeyConstraint(
            ["collected_by"], ["person.id"], name=op.f("fk_card_print_collected_by_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_card_print")),
        sa.UniqueConstraint("agency_id", "number", name=op.f("uq_card_print_agency_id_number")),
    )
