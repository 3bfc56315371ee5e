"""Of the reports of a file the input is kept once for all that found the same.

What was stored before keeps its own input, byte for byte.
"""

import sqlalchemy as sa
from alembic import op
from sqlmodel.sql.sqltypes import UTCDateTime

revision = "0019"
down_revision = "0018"
branch_labels = None
depends_on = None


def upgrade() -> None:
    _create_inputs()
    _create_files()
    with op.batch_alter_table("report") as changed:
        changed.alter_column("raw", existing_type=sa.LargeBinary(), nullable=True)
        for column in ("input_id", "file_id"):
            changed.add_column(sa.Column(column, sa.Integer(), nullable=True))
        changed.add_column(sa.Column("file_lines", sa.Text(), nullable=True))
        for column, table in (("input_id", "report_input"), ("file_id", "sent_file")):
            name = op.f(f"fk_report_{column}_{table}")
            changed.create_foreign_key(name, table, [column], ["id"])
        for name, rule in (
            ("raw_or_input", "(raw IS NULL) <> (input_id IS NULL)"),
            ("input_id_with_file_id", "(input_id IS NULL) = (file_id IS NULL)"),
            ("file_id_with_file_lines", "(file_id IS NULL) = (file_lines IS NULL)"),
        ):
            changed.create_check_constraint(op.f(f"ck_report_{name}"), rule)


def _create_inputs() -> None:
    op.create_table(
        "report_input",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("agency_id", sa.Integer(), nullable=False),
        sa.Column("digest", sa.String(), nullable=False),
        sa.Column("content", sa.LargeBinary(), nullable=False),
        sa.CheckConstraint("length(digest) = 64", name=op.f("ck_report_input_digest_is_sha256")),
        sa.CheckConstraint("length(content) > 0", name=op.f("ck_report_input_content_filled")),
        sa.ForeignKeyConstraint(
            ["agency_id"], ["agency.id"], name=op.f("fk_report_input_agency_id_agency")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_report_input")),
        sa.UniqueConstraint("agency_id", "digest", name=op.f("uq_report_input_agency_id_digest")),
    )


def _create_files() -> None:
    op.create_table(
        "sent_file",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("agency_id", sa.Integer(), nullable=False),
        sa.Column("fingerprint", sa.String(), nullable=False),
        sa.Column("received_at", UTCDateTime(), nullable=False),
        sa.Column("sent_by", sa.Integer(), nullable=False),
        sa.CheckConstraint(
            "length(fingerprint) = 64", name=op.f("ck_sent_file_fingerprint_is_sha256")
        ),
        sa.ForeignKeyConstraint(
            ["agency_id"], ["agency.id"], name=op.f("fk_sent_file_agency_id_agency")
        ),
        sa.ForeignKeyConstraint(
            ["sent_by"], ["person.id"], name=op.f("fk_sent_file_sent_by_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_sent_file")),
        sa.UniqueConstraint(
            "agency_id", "fingerprint", name=op.f("uq_sent_file_agency_id_fingerprint")
        ),
    )
