"""Tokens of programs, answers by idempotency key, column maps of files from other systems."""

import sqlalchemy as sa
from alembic import op
from sqlmodel.sql.sqltypes import UTCDateTime

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None


def upgrade() -> None:
    _tokens()
    _answers()
    _column_maps()


def _tokens() -> None:
    op.create_table(
        "api_token",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("agency_id", sa.Integer(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("token_hash", sa.String(), nullable=False),
        sa.Column("scopes", sa.String(), nullable=False),
        sa.Column("created_by", sa.Integer(), nullable=False),
        sa.Column("created_at", UTCDateTime(), nullable=False),
        sa.Column("expires_at", UTCDateTime(), nullable=False),
        sa.Column("last_used_at", UTCDateTime(), nullable=True),
        sa.Column("revoked_at", UTCDateTime(), nullable=True),
        sa.CheckConstraint("name <> ''", name=op.f("ck_api_token_name_filled")),
        sa.CheckConstraint("scopes <> ''", name=op.f("ck_api_token_scopes_filled")),
        sa.CheckConstraint(
            "length(token_hash) = 64", name=op.f("ck_api_token_token_hash_is_sha256")
        ),
        sa.CheckConstraint("expires_at > created_at", name=op.f("ck_api_token_expires_later")),
        sa.ForeignKeyConstraint(
            ["agency_id"], ["agency.id"], name=op.f("fk_api_token_agency_id_agency")
        ),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_api_token_person_id_person")
        ),
        sa.ForeignKeyConstraint(
            ["created_by"], ["person.id"], name=op.f("fk_api_token_created_by_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_api_token")),
        sa.UniqueConstraint("agency_id", "name", name=op.f("uq_api_token_agency_id_name")),
        sa.UniqueConstraint("person_id", name=op.f("uq_api_token_person_id")),
        sa.UniqueConstraint("token_hash", name=op.f("uq_api_token_token_hash")),
    )


def _answers() -> None:
    op.create_table(
        "answered_request",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("key", sa.String(), nullable=False),
        sa.Column("fingerprint", sa.String(), nullable=False),
        sa.Column("answer", sa.Text(), nullable=False),
        sa.Column("answered_at", UTCDateTime(), nullable=False),
        sa.CheckConstraint("key <> ''", name=op.f("ck_answered_request_key_filled")),
        sa.CheckConstraint("answer <> ''", name=op.f("ck_answered_request_answer_filled")),
        sa.CheckConstraint(
            "length(fingerprint) = 64", name=op.f("ck_answered_request_fingerprint_is_sha256")
        ),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_answered_request_person_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_answered_request")),
        sa.UniqueConstraint("person_id", "key", name=op.f("uq_answered_request_person_id_key")),
    )
    op.create_index(op.f("ix_answered_request_answered_at"), "answered_request", ["answered_at"])


def _column_maps() -> None:
    op.create_table(
        "column_map",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("agency_id", sa.Integer(), nullable=False),
        sa.Column("source", sa.String(), nullable=False),
        sa.Column("signature", sa.String(), nullable=False),
        sa.Column("document", sa.Text(), nullable=False),
        sa.Column("changed_by", sa.Integer(), nullable=False),
        sa.Column("changed_at", UTCDateTime(), nullable=False),
        sa.CheckConstraint("source <> ''", name=op.f("ck_column_map_source_filled")),
        sa.CheckConstraint("document <> ''", name=op.f("ck_column_map_document_filled")),
        sa.CheckConstraint(
            "length(signature) = 64", name=op.f("ck_column_map_signature_is_sha256")
        ),
        sa.ForeignKeyConstraint(
            ["agency_id"], ["agency.id"], name=op.f("fk_column_map_agency_id_agency")
        ),
        sa.ForeignKeyConstraint(
            ["changed_by"], ["person.id"], name=op.f("fk_column_map_changed_by_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_column_map")),
        sa.UniqueConstraint("agency_id", "source", name=op.f("uq_column_map_agency_id_source")),
        sa.UniqueConstraint(
            "agency_id", "signature", name=op.f("uq_column_map_agency_id_signature")
        ),
    )
