"""What an agency decides for itself, in one document; the check interval moves into it."""

import json

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None

_AGENCY = sa.table(
    "agency", sa.column("id"), sa.column("check_interval_days"), sa.column("choices")
)


def upgrade() -> None:
    with op.batch_alter_table("agency") as batch:
        batch.add_column(sa.Column("choices", sa.Text(), nullable=False, server_default="{}"))
        batch.create_check_constraint(op.f("ck_agency_choices_filled"), "choices <> ''")
    bind = op.get_bind()
    for agency, days in bind.execute(sa.select(_AGENCY.c.id, _AGENCY.c.check_interval_days)).all():
        kept = json.dumps({"check_interval_days": days})
        bind.execute(sa.update(_AGENCY).where(_AGENCY.c.id == agency).values(choices=kept))
    with op.batch_alter_table("agency") as batch:
        batch.drop_constraint(op.f("ck_agency_check_interval_positive"), type_="check")
        batch.drop_column("check_interval_days")
        batch.alter_column("choices", server_default=None)
