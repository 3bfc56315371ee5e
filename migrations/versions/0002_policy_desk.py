"""Waivers, comments and review dates of revisions; outer bounds edited row by row."""

from datetime import date, datetime

import sqlalchemy as sa
from alembic import op
from sqlmodel.sql.sqltypes import UTCDateTime

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None

_REVISION = sa.table(
    "revision",
    sa.column("id"),
    sa.column("in_force_at", UTCDateTime()),
    sa.column("review_by", sa.Date()),
)


def upgrade() -> None:
    _change_revisions()
    _create_waivers()
    _create_comments()
    _count_edits_of_bounds()


def _change_revisions() -> None:
    with op.batch_alter_table("revision") as batch:
        batch.add_column(sa.Column("review_by", sa.Date(), nullable=True))
        batch.add_column(sa.Column("emergency", sa.Text(), nullable=True))
    _give_review_dates()
    with op.batch_alter_table("revision") as batch:
        batch.create_check_constraint(op.f("ck_revision_emergency_filled"), "emergency <> ''")
        batch.create_check_constraint(
            op.f("ck_revision_emergency_is_signed"), "emergency IS NULL OR signed_at IS NOT NULL"
        )
        batch.create_check_constraint(
            op.f("ck_revision_signed_at_with_review_by"),
            "(signed_at IS NULL) = (review_by IS NULL)",
        )


def _give_review_dates() -> None:
    """A year from coming into force, as a signer gets who chooses nothing else."""
    bind = op.get_bind()
    wanted = sa.select(_REVISION.c.id, _REVISION.c.in_force_at)
    for row, began in bind.execute(wanted.where(_REVISION.c.in_force_at.is_not(None))).all():
        changed = sa.update(_REVISION).where(_REVISION.c.id == row)
        bind.execute(changed.values(review_by=_year_later(began)))


def _year_later(began: datetime) -> date:
    day = began.date()
    leap_day = (day.month, day.day) == (2, 29)
    return day.replace(year=day.year + 1, day=28 if leap_day else day.day)


def _create_waivers() -> None:
    op.create_table(
        "waiver",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("revision_id", sa.Integer(), nullable=False),
        sa.Column("finding", sa.String(), nullable=False),
        sa.Column("rule", sa.String(), nullable=False),
        sa.Column("category", sa.String(), nullable=True),
        sa.Column("alarms", sa.String(), nullable=False),
        sa.Column("circumstance", sa.String(), nullable=False),
        sa.Column("ages", sa.String(), nullable=False),
        sa.Column("message", sa.Text(), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("waived_at", UTCDateTime(), nullable=False),
        sa.Column("until", sa.Date(), nullable=False),
        sa.CheckConstraint("length(finding) = 64", name=op.f("ck_waiver_finding_is_sha256")),
        sa.CheckConstraint("rule <> ''", name=op.f("ck_waiver_rule_filled")),
        sa.CheckConstraint("message <> ''", name=op.f("ck_waiver_message_filled")),
        sa.CheckConstraint("reason <> ''", name=op.f("ck_waiver_reason_filled")),
        sa.CheckConstraint("name <> ''", name=op.f("ck_waiver_name_filled")),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_waiver_person_id_person")
        ),
        sa.ForeignKeyConstraint(
            ["revision_id"], ["revision.id"], name=op.f("fk_waiver_revision_id_revision")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_waiver")),
        sa.UniqueConstraint("revision_id", "finding", name=op.f("uq_waiver_revision_id_finding")),
    )


def _create_comments() -> None:
    op.create_table(
        "revision_comment",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("revision_id", sa.Integer(), nullable=False),
        sa.Column("category", sa.String(), nullable=True),
        sa.Column("alarm", sa.String(), nullable=True),
        sa.Column("text", sa.Text(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("written_at", UTCDateTime(), nullable=False),
        sa.Column("resolved_by", sa.Integer(), nullable=True),
        sa.Column("resolver", sa.String(), nullable=True),
        sa.Column("resolved_at", UTCDateTime(), nullable=True),
        sa.Column("done", sa.Text(), nullable=True),
        sa.CheckConstraint("text <> ''", name=op.f("ck_revision_comment_text_filled")),
        sa.CheckConstraint("name <> ''", name=op.f("ck_revision_comment_name_filled")),
        sa.CheckConstraint("done <> ''", name=op.f("ck_revision_comment_done_filled")),
        sa.CheckConstraint(
            "(category IS NULL) = (alarm IS NULL)",
            name=op.f("ck_revision_comment_category_with_alarm"),
        ),
        *(
            sa.CheckConstraint(
                f"({column} IS NULL) = (resolved_at IS NULL)",
                name=op.f(f"ck_revision_comment_{column}_with_resolved_at"),
            )
            for column in ("resolved_by", "resolver", "done")
        ),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_revision_comment_person_id_person")
        ),
        sa.ForeignKeyConstraint(
            ["resolved_by"], ["person.id"], name=op.f("fk_revision_comment_resolved_by_person")
        ),
        sa.ForeignKeyConstraint(
            ["revision_id"], ["revision.id"], name=op.f("fk_revision_comment_revision_id_revision")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_revision_comment")),
    )
    op.create_index(
        op.f("ix_revision_comment_revision_id"), "revision_comment", ["revision_id"], unique=False
    )


def _count_edits_of_bounds() -> None:
    with op.batch_alter_table("outer_bounds") as batch:
        batch.add_column(
            sa.Column("edit_version", sa.Integer(), server_default="1", nullable=False)
        )
    with op.batch_alter_table("outer_bounds") as batch:
        batch.alter_column("edit_version", server_default=None)
