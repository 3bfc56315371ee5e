"""Links by which somebody sets their own password."""

import sqlalchemy as sa
from alembic import op
from sqlmodel.sql.sqltypes import UTCDateTime

revision = "0018"
down_revision = "0017"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "invitation",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("token_hash", sa.String(), nullable=False),
        sa.Column("created_at", UTCDateTime(), nullable=False),
        sa.Column("expires_at", UTCDateTime(), nullable=False),
        sa.Column("used_at", UTCDateTime(), nullable=True),
        sa.CheckConstraint("expires_at > created_at", name=op.f("ck_invitation_expires_later")),
        sa.CheckConstraint(
            "length(token_hash) = 64", name=op.f("ck_invitation_token_hash_is_sha256")
        ),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_invitation_person_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_invitation")),
        sa.UniqueConstraint("person_id", name=op.f("uq_invitation_person_id")),
        sa.UniqueConstraint("token_hash", name=op.f("uq_invitation_token_hash")),
    )
