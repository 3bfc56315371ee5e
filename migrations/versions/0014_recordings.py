"""A library of recorded trends, and what replays of it found."""

import sqlalchemy as sa
from alembic import op
from sqlmodel.sql.sqltypes import UTCDateTime

revision = "0014"
down_revision = "0013"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "recording",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("agency_id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("category", sa.String(), nullable=False),
        sa.Column("origin", sa.String(), nullable=False),
        sa.Column("synthetic", sa.Text(), nullable=False),
        sa.Column("fingerprint", sa.String(), nullable=False),
        sa.Column("patients", sa.Integer(), nullable=False),
        sa.Column("row_count", sa.Integer(), nullable=False),
        sa.Column("step_s", sa.Integer(), nullable=False),
        sa.Column("vital_signs", sa.String(), nullable=False),
        sa.Column("content", sa.LargeBinary(), nullable=False),
        sa.Column("added_at", UTCDateTime(), nullable=False),
        sa.Column("added_by", sa.Integer(), nullable=False),
        sa.CheckConstraint("name <> ''", name=op.f("ck_recording_name_filled")),
        sa.CheckConstraint("category <> ''", name=op.f("ck_recording_category_filled")),
        sa.CheckConstraint("vital_signs <> ''", name=op.f("ck_recording_vital_signs_filled")),
        sa.CheckConstraint(
            "length(fingerprint) = 64", name=op.f("ck_recording_fingerprint_is_sha256")
        ),
        sa.CheckConstraint("number > 0", name=op.f("ck_recording_number_positive")),
        sa.CheckConstraint("patients > 0", name=op.f("ck_recording_patients_positive")),
        sa.CheckConstraint("row_count >= patients", name=op.f("ck_recording_rows_for_patients")),
        sa.CheckConstraint("step_s > 0", name=op.f("ck_recording_step_positive")),
        sa.CheckConstraint("length(content) > 0", name=op.f("ck_recording_content_filled")),
        sa.ForeignKeyConstraint(
            ["agency_id"], ["agency.id"], name=op.f("fk_recording_agency_id_agency")
        ),
        sa.ForeignKeyConstraint(
            ["added_by"], ["person.id"], name=op.f("fk_recording_added_by_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_recording")),
        sa.UniqueConstraint("agency_id", "number", name=op.f("uq_recording_agency_id_number")),
        sa.UniqueConstraint(
            "agency_id",
            "category",
            "fingerprint",
            name=op.f("uq_recording_agency_id_category_fingerprint"),
        ),
    )
    op.create_table(
        "evidence",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("agency_id", sa.Integer(), nullable=False),
        sa.Column("revision_id", sa.Integer(), nullable=False),
        sa.Column("category", sa.String(), nullable=False),
        sa.Column("question", sa.String(), nullable=False),
        sa.Column("policy", sa.String(), nullable=False),
        sa.Column("bounds", sa.String(), nullable=False),
        sa.Column("recordings", sa.String(), nullable=False),
        sa.Column("document", sa.LargeBinary(), nullable=False),
        sa.Column("made_at", UTCDateTime(), nullable=False),
        sa.Column("made_by", sa.Integer(), nullable=False),
        sa.CheckConstraint("category <> ''", name=op.f("ck_evidence_category_filled")),
        sa.CheckConstraint("length(question) = 64", name=op.f("ck_evidence_question_is_sha256")),
        sa.CheckConstraint("length(policy) = 64", name=op.f("ck_evidence_policy_is_sha256")),
        sa.CheckConstraint("length(bounds) = 64", name=op.f("ck_evidence_bounds_is_sha256")),
        sa.CheckConstraint(
            "length(recordings) = 64", name=op.f("ck_evidence_recordings_is_sha256")
        ),
        sa.CheckConstraint("length(document) > 0", name=op.f("ck_evidence_document_filled")),
        sa.ForeignKeyConstraint(
            ["agency_id"], ["agency.id"], name=op.f("fk_evidence_agency_id_agency")
        ),
        sa.ForeignKeyConstraint(
            ["revision_id"], ["revision.id"], name=op.f("fk_evidence_revision_id_revision")
        ),
        sa.ForeignKeyConstraint(
            ["made_by"], ["person.id"], name=op.f("fk_evidence_made_by_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_evidence")),
        sa.UniqueConstraint("agency_id", "question", name=op.f("uq_evidence_agency_id_question")),
    )
