"""The first schema: people, policy, fleet and ledger."""

import sqlalchemy as sa
from alembic import op
from sqlmodel.sql.sqltypes import UTCDateTime

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "agency",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("key", sa.String(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("time_zone", sa.String(), nullable=False),
        sa.Column("check_interval_days", sa.Integer(), nullable=False),
        sa.Column("created_at", UTCDateTime(), nullable=False),
        sa.CheckConstraint("key <> ''", name=op.f("ck_agency_key_filled")),
        sa.CheckConstraint("name <> ''", name=op.f("ck_agency_name_filled")),
        sa.CheckConstraint("time_zone <> ''", name=op.f("ck_agency_time_zone_filled")),
        sa.CheckConstraint(
            "check_interval_days > 0", name=op.f("ck_agency_check_interval_positive")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_agency")),
        sa.UniqueConstraint("key", name=op.f("uq_agency_key")),
    )
    op.create_table(
        "ledger",
        sa.Column("agency", sa.String(), nullable=False),
        sa.Column("seq", sa.Integer(), nullable=False),
        sa.Column("body", sa.Text(), nullable=False),
        sa.Column("prev", sa.String(), nullable=False),
        sa.Column("hash", sa.String(), nullable=False),
        sa.CheckConstraint("agency <> ''", name=op.f("ck_ledger_agency_filled")),
        sa.CheckConstraint("body <> ''", name=op.f("ck_ledger_body_filled")),
        sa.CheckConstraint("length(hash) = 64", name=op.f("ck_ledger_hash_is_sha256")),
        sa.CheckConstraint("length(prev) = 64", name=op.f("ck_ledger_prev_is_sha256")),
        sa.CheckConstraint("seq > 0", name=op.f("ck_ledger_seq_positive")),
        sa.PrimaryKeyConstraint("agency", "seq", name=op.f("pk_ledger")),
        sa.UniqueConstraint("hash", name=op.f("uq_ledger_hash")),
    )
    op.create_table(
        "ledger_head",
        sa.Column("agency", sa.String(), nullable=False),
        sa.Column("seq", sa.Integer(), nullable=False),
        sa.Column("hash", sa.String(), nullable=False),
        sa.CheckConstraint("agency <> ''", name=op.f("ck_ledger_head_agency_filled")),
        sa.CheckConstraint("length(hash) = 64", name=op.f("ck_ledger_head_hash_is_sha256")),
        sa.CheckConstraint("seq >= 0", name=op.f("ck_ledger_head_seq_not_negative")),
        sa.PrimaryKeyConstraint("agency", name=op.f("pk_ledger_head")),
    )
    op.create_table(
        "setup_link",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("token_hash", sa.String(), nullable=False),
        sa.Column("created_at", UTCDateTime(), nullable=False),
        sa.Column("expires_at", UTCDateTime(), nullable=False),
        sa.Column("used_at", UTCDateTime(), nullable=True),
        sa.CheckConstraint("expires_at > created_at", name=op.f("ck_setup_link_expires_later")),
        sa.CheckConstraint(
            "length(token_hash) = 64", name=op.f("ck_setup_link_token_hash_is_sha256")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_setup_link")),
        sa.UniqueConstraint("token_hash", name=op.f("uq_setup_link_token_hash")),
    )
    op.create_table(
        "sign_in_failure",
        sa.Column("subject", sa.String(), nullable=False),
        sa.Column("failures", sa.Integer(), nullable=False),
        sa.Column("last_at", UTCDateTime(), nullable=False),
        sa.CheckConstraint("failures > 0", name=op.f("ck_sign_in_failure_failures_positive")),
        sa.CheckConstraint(
            "length(subject) = 64", name=op.f("ck_sign_in_failure_subject_is_sha256")
        ),
        sa.PrimaryKeyConstraint("subject", name=op.f("pk_sign_in_failure")),
    )
    with op.batch_alter_table("sign_in_failure", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_sign_in_failure_last_at"), ["last_at"], unique=False)

    op.create_table(
        "device",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("agency_id", sa.Integer(), nullable=False),
        sa.Column("tag", sa.String(), nullable=False),
        sa.Column("model", sa.String(), nullable=False),
        sa.Column("station", sa.String(), nullable=False),
        sa.Column("created_at", UTCDateTime(), nullable=False),
        sa.CheckConstraint("model <> ''", name=op.f("ck_device_model_filled")),
        sa.CheckConstraint("station <> ''", name=op.f("ck_device_station_filled")),
        sa.CheckConstraint("tag <> ''", name=op.f("ck_device_tag_filled")),
        sa.ForeignKeyConstraint(
            ["agency_id"], ["agency.id"], name=op.f("fk_device_agency_id_agency")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_device")),
        sa.UniqueConstraint("agency_id", "tag", name=op.f("uq_device_agency_id_tag")),
    )
    op.create_table(
        "layout",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("agency_id", sa.Integer(), nullable=False),
        sa.Column("fingerprint", sa.String(), nullable=False),
        sa.Column("columns", sa.Text(), nullable=False),
        sa.CheckConstraint("columns <> ''", name=op.f("ck_layout_columns_filled")),
        sa.CheckConstraint(
            "length(fingerprint) = 64", name=op.f("ck_layout_fingerprint_is_sha256")
        ),
        sa.ForeignKeyConstraint(
            ["agency_id"], ["agency.id"], name=op.f("fk_layout_agency_id_agency")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_layout")),
        sa.UniqueConstraint(
            "agency_id", "fingerprint", name=op.f("uq_layout_agency_id_fingerprint")
        ),
    )
    op.create_table(
        "person",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("agency_id", sa.Integer(), nullable=False),
        sa.Column("username", sa.String(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("password_hash", sa.String(), nullable=False),
        sa.Column("created_at", UTCDateTime(), nullable=False),
        sa.CheckConstraint("name <> ''", name=op.f("ck_person_name_filled")),
        sa.CheckConstraint("password_hash <> ''", name=op.f("ck_person_password_hash_filled")),
        sa.CheckConstraint("username <> ''", name=op.f("ck_person_username_filled")),
        sa.CheckConstraint("username = lower(username)", name=op.f("ck_person_username_small")),
        sa.ForeignKeyConstraint(
            ["agency_id"], ["agency.id"], name=op.f("fk_person_agency_id_agency")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_person")),
        sa.UniqueConstraint("agency_id", "username", name=op.f("uq_person_agency_id_username")),
    )
    op.create_table(
        "person_role",
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("role", sa.String(), nullable=False),
        sa.CheckConstraint(
            "role IN ('administrator', 'author', 'reviewer', 'medical-director', 'fleet-manager', 'technician', 'crew', 'quality-officer', 'educator')",
            name=op.f("ck_person_role_role_known"),
        ),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_person_role_person_id_person")
        ),
        sa.PrimaryKeyConstraint("person_id", "role", name=op.f("pk_person_role")),
    )
    op.create_table(
        "revision",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("agency_id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("status", sa.String(), nullable=False),
        sa.Column("document", sa.Text(), nullable=False),
        sa.Column("fingerprint", sa.String(), nullable=False),
        sa.Column("edit_version", sa.Integer(), nullable=False),
        sa.Column("note", sa.String(), nullable=False),
        sa.Column("created_at", UTCDateTime(), nullable=False),
        sa.Column("changed_at", UTCDateTime(), nullable=False),
        sa.Column("reviewed_by", sa.Integer(), nullable=True),
        sa.Column("reviewed_at", UTCDateTime(), nullable=True),
        sa.Column("signed_at", UTCDateTime(), nullable=True),
        sa.Column("in_force_at", UTCDateTime(), nullable=True),
        sa.Column("withdrawn_at", UTCDateTime(), nullable=True),
        sa.CheckConstraint(
            "(signed_at IS NULL) = (status IN ('draft', 'in-review'))",
            name=op.f("ck_revision_signed_has_time"),
        ),
        sa.CheckConstraint(
            "(withdrawn_at IS NOT NULL) = (status = 'withdrawn')",
            name=op.f("ck_revision_withdrawn_has_time"),
        ),
        sa.CheckConstraint("document <> ''", name=op.f("ck_revision_document_filled")),
        sa.CheckConstraint(
            "status IN ('draft', 'in-review', 'signed', 'withdrawn')",
            name=op.f("ck_revision_status_known"),
        ),
        sa.CheckConstraint(
            "(reviewed_by IS NULL) = (reviewed_at IS NULL)",
            name=op.f("ck_revision_reviewed_by_with_reviewed_at"),
        ),
        sa.CheckConstraint(
            "(signed_at IS NULL) = (in_force_at IS NULL)",
            name=op.f("ck_revision_signed_at_with_in_force_at"),
        ),
        sa.CheckConstraint("edit_version > 0", name=op.f("ck_revision_edit_version_positive")),
        sa.CheckConstraint(
            "in_force_at >= signed_at", name=op.f("ck_revision_never_before_signing")
        ),
        sa.CheckConstraint(
            "length(fingerprint) = 64", name=op.f("ck_revision_fingerprint_is_sha256")
        ),
        sa.CheckConstraint("number > 0", name=op.f("ck_revision_number_positive")),
        sa.ForeignKeyConstraint(
            ["agency_id"], ["agency.id"], name=op.f("fk_revision_agency_id_agency")
        ),
        sa.ForeignKeyConstraint(
            ["reviewed_by"], ["person.id"], name=op.f("fk_revision_reviewed_by_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_revision")),
        sa.UniqueConstraint("agency_id", "number", name=op.f("uq_revision_agency_id_number")),
    )
    op.create_table(
        "outer_bounds",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("agency_id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("status", sa.String(), nullable=False),
        sa.Column("text", sa.Text(), nullable=False),
        sa.Column("fingerprint", sa.String(), nullable=False),
        sa.Column("author_id", sa.Integer(), nullable=False),
        sa.Column("created_at", UTCDateTime(), nullable=False),
        sa.Column("signed_by", sa.Integer(), nullable=True),
        sa.Column("signer_username", sa.String(), nullable=True),
        sa.Column("signer_name", sa.String(), nullable=True),
        sa.Column("signer_roles", sa.String(), nullable=True),
        sa.Column("meaning", sa.String(), nullable=True),
        sa.Column("signed_at", UTCDateTime(), nullable=True),
        sa.Column("in_force_at", UTCDateTime(), nullable=True),
        sa.CheckConstraint(
            "status IN ('draft', 'signed')", name=op.f("ck_outer_bounds_status_known")
        ),
        sa.CheckConstraint("text <> ''", name=op.f("ck_outer_bounds_text_filled")),
        sa.CheckConstraint(
            "length(fingerprint) = 64", name=op.f("ck_outer_bounds_fingerprint_is_sha256")
        ),
        sa.CheckConstraint("number > 0", name=op.f("ck_outer_bounds_number_positive")),
        sa.CheckConstraint(
            "(signed_by IS NULL) = (signed_at IS NULL)",
            name=op.f("ck_outer_bounds_signed_by_with_signed_at"),
        ),
        sa.CheckConstraint(
            "(signer_username IS NULL) = (signed_at IS NULL)",
            name=op.f("ck_outer_bounds_signer_username_with_signed_at"),
        ),
        sa.CheckConstraint(
            "(signer_name IS NULL) = (signed_at IS NULL)",
            name=op.f("ck_outer_bounds_signer_name_with_signed_at"),
        ),
        sa.CheckConstraint(
            "(signer_roles IS NULL) = (signed_at IS NULL)",
            name=op.f("ck_outer_bounds_signer_roles_with_signed_at"),
        ),
        sa.CheckConstraint(
            "(meaning IS NULL) = (signed_at IS NULL)",
            name=op.f("ck_outer_bounds_meaning_with_signed_at"),
        ),
        sa.CheckConstraint(
            "(signed_at IS NULL) = (in_force_at IS NULL)",
            name=op.f("ck_outer_bounds_signed_at_with_in_force_at"),
        ),
        sa.CheckConstraint(
            "signer_username <> ''", name=op.f("ck_outer_bounds_signer_username_filled")
        ),
        sa.CheckConstraint("signer_name <> ''", name=op.f("ck_outer_bounds_signer_name_filled")),
        sa.CheckConstraint("signer_roles <> ''", name=op.f("ck_outer_bounds_signer_roles_filled")),
        sa.CheckConstraint("meaning <> ''", name=op.f("ck_outer_bounds_meaning_filled")),
        sa.CheckConstraint(
            "(signed_at IS NOT NULL) = (status = 'signed')",
            name=op.f("ck_outer_bounds_signed_has_time"),
        ),
        sa.CheckConstraint(
            "in_force_at >= signed_at", name=op.f("ck_outer_bounds_never_before_signing")
        ),
        sa.CheckConstraint("signed_by <> author_id", name=op.f("ck_outer_bounds_two_people")),
        sa.ForeignKeyConstraint(
            ["agency_id"], ["agency.id"], name=op.f("fk_outer_bounds_agency_id_agency")
        ),
        sa.ForeignKeyConstraint(
            ["author_id"], ["person.id"], name=op.f("fk_outer_bounds_author_id_person")
        ),
        sa.ForeignKeyConstraint(
            ["signed_by"], ["person.id"], name=op.f("fk_outer_bounds_signed_by_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_outer_bounds")),
        sa.UniqueConstraint("agency_id", "number", name=op.f("uq_outer_bounds_agency_id_number")),
    )
    op.create_table(
        "sign_in",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("token_hash", sa.String(), nullable=False),
        sa.Column("created_at", UTCDateTime(), nullable=False),
        sa.Column("last_seen_at", UTCDateTime(), nullable=False),
        sa.Column("expires_at", UTCDateTime(), nullable=False),
        sa.Column("revoked_at", UTCDateTime(), nullable=True),
        sa.CheckConstraint("expires_at > created_at", name=op.f("ck_sign_in_expires_later")),
        sa.CheckConstraint("length(token_hash) = 64", name=op.f("ck_sign_in_token_hash_is_sha256")),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_sign_in_person_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_sign_in")),
        sa.UniqueConstraint("token_hash", name=op.f("uq_sign_in_token_hash")),
    )
    with op.batch_alter_table("sign_in", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_sign_in_expires_at"), ["expires_at"], unique=False)
        batch_op.create_index(batch_op.f("ix_sign_in_person_id"), ["person_id"], unique=False)

    op.create_table(
        "device_now",
        sa.Column("device_id", sa.Integer(), nullable=False),
        sa.Column("layout_id", sa.Integer(), nullable=False),
        sa.Column("vals", sa.LargeBinary(), nullable=False),
        sa.Column("extras", sa.Text(), nullable=False),
        sa.Column("presets", sa.Text(), nullable=False),
        sa.Column("presets_read", sa.Integer(), nullable=False),
        sa.Column("presets_offered", sa.Integer(), nullable=False),
        sa.Column("worst", sa.String(), nullable=True),
        sa.Column("looser", sa.Integer(), nullable=False),
        sa.Column("tighter", sa.Integer(), nullable=False),
        sa.Column("other", sa.Integer(), nullable=False),
        sa.Column("missing", sa.Integer(), nullable=False),
        sa.Column("oldest_read_at", UTCDateTime(), nullable=False),
        sa.Column("latest_read_at", UTCDateTime(), nullable=False),
        sa.Column("revision_id", sa.Integer(), nullable=True),
        sa.CheckConstraint(
            "worst IN ('unsafe', 'off-protocol', 'note')", name=op.f("ck_device_now_worst_known")
        ),
        sa.CheckConstraint("0 < presets_read", name=op.f("ck_device_now_presets_read_positive")),
        sa.CheckConstraint(
            "latest_read_at >= oldest_read_at", name=op.f("ck_device_now_latest_not_before_oldest")
        ),
        sa.CheckConstraint("length(vals) > 0", name=op.f("ck_device_now_vals_filled")),
        sa.CheckConstraint(
            "looser >= 0 AND tighter >= 0 AND other >= 0 AND missing >= 0",
            name=op.f("ck_device_now_counts_not_negative"),
        ),
        sa.ForeignKeyConstraint(
            ["device_id"], ["device.id"], name=op.f("fk_device_now_device_id_device")
        ),
        sa.ForeignKeyConstraint(
            ["layout_id"], ["layout.id"], name=op.f("fk_device_now_layout_id_layout")
        ),
        sa.ForeignKeyConstraint(
            ["revision_id"], ["revision.id"], name=op.f("fk_device_now_revision_id_revision")
        ),
        sa.PrimaryKeyConstraint("device_id", name=op.f("pk_device_now")),
    )
    op.create_table(
        "report",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("agency_id", sa.Integer(), nullable=False),
        sa.Column("device_id", sa.Integer(), nullable=False),
        sa.Column("model", sa.String(), nullable=False),
        sa.Column("preset", sa.String(), nullable=False),
        sa.Column("state_read", sa.String(), nullable=False),
        sa.Column("read_at", UTCDateTime(), nullable=False),
        sa.Column("received_at", UTCDateTime(), nullable=False),
        sa.Column("reader_id", sa.Integer(), nullable=False),
        sa.Column("software", sa.String(), nullable=False),
        sa.Column("trigger", sa.String(), nullable=False),
        sa.Column("minutes_off", sa.Integer(), nullable=True),
        sa.Column("revision_id", sa.Integer(), nullable=True),
        sa.Column("layout_id", sa.Integer(), nullable=False),
        sa.Column("vals", sa.LargeBinary(), nullable=False),
        sa.Column("extras", sa.Text(), nullable=False),
        sa.Column("raw", sa.LargeBinary(), nullable=False),
        sa.Column("idempotency_key", sa.String(), nullable=False),
        sa.Column("origin", sa.String(), nullable=False),
        sa.Column("reader_told", sa.String(), nullable=False),
        sa.Column("device_clock", sa.String(), nullable=False),
        sa.CheckConstraint("idempotency_key <> ''", name=op.f("ck_report_idempotency_key_filled")),
        sa.CheckConstraint(
            "origin IN ('form', 'file', 'api')", name=op.f("ck_report_origin_known")
        ),
        sa.CheckConstraint("model <> ''", name=op.f("ck_report_model_filled")),
        sa.CheckConstraint("preset <> ''", name=op.f("ck_report_preset_filled")),
        sa.CheckConstraint(
            "state_read IN ('power-on', 'after-category', 'in-use', 'stored-preset')",
            name=op.f("ck_report_state_read_known"),
        ),
        sa.CheckConstraint("length(vals) > 0", name=op.f("ck_report_vals_filled")),
        sa.CheckConstraint("minutes_off >= 0", name=op.f("ck_report_minutes_off_not_negative")),
        sa.CheckConstraint("read_at <= received_at", name=op.f("ck_report_read_before_received")),
        sa.ForeignKeyConstraint(
            ["agency_id"], ["agency.id"], name=op.f("fk_report_agency_id_agency")
        ),
        sa.ForeignKeyConstraint(
            ["device_id"], ["device.id"], name=op.f("fk_report_device_id_device")
        ),
        sa.ForeignKeyConstraint(
            ["layout_id"], ["layout.id"], name=op.f("fk_report_layout_id_layout")
        ),
        sa.ForeignKeyConstraint(
            ["reader_id"], ["person.id"], name=op.f("fk_report_reader_id_person")
        ),
        sa.ForeignKeyConstraint(
            ["revision_id"], ["revision.id"], name=op.f("fk_report_revision_id_revision")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_report")),
        sa.UniqueConstraint(
            "agency_id", "idempotency_key", name=op.f("uq_report_agency_id_idempotency_key")
        ),
        sa.UniqueConstraint(
            "device_id",
            "read_at",
            "state_read",
            "preset",
            name=op.f("uq_report_device_id_read_at_state_read_preset"),
        ),
    )
    op.create_table(
        "revision_author",
        sa.Column("revision_id", sa.Integer(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_revision_author_person_id_person")
        ),
        sa.ForeignKeyConstraint(
            ["revision_id"], ["revision.id"], name=op.f("fk_revision_author_revision_id_revision")
        ),
        sa.PrimaryKeyConstraint("revision_id", "person_id", name=op.f("pk_revision_author")),
    )
    op.create_table(
        "pending_upload",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("fingerprint", sa.String(), nullable=False),
        sa.Column("content", sa.LargeBinary(), nullable=False),
        sa.Column("expires_at", UTCDateTime(), nullable=False),
        sa.CheckConstraint("length(content) > 0", name=op.f("ck_pending_upload_content_filled")),
        sa.CheckConstraint(
            "length(fingerprint) = 64", name=op.f("ck_pending_upload_fingerprint_is_sha256")
        ),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_pending_upload_person_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_pending_upload")),
        sa.UniqueConstraint("person_id", name=op.f("uq_pending_upload_person_id")),
    )
    op.create_table(
        "signature",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("revision_id", sa.Integer(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("username", sa.String(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("roles", sa.String(), nullable=False),
        sa.Column("signed_at", UTCDateTime(), nullable=False),
        sa.Column("meaning", sa.String(), nullable=False),
        sa.Column("fingerprint", sa.String(), nullable=False),
        sa.CheckConstraint("meaning <> ''", name=op.f("ck_signature_meaning_filled")),
        sa.CheckConstraint("name <> ''", name=op.f("ck_signature_name_filled")),
        sa.CheckConstraint("roles <> ''", name=op.f("ck_signature_roles_filled")),
        sa.CheckConstraint("username <> ''", name=op.f("ck_signature_username_filled")),
        sa.CheckConstraint(
            "length(fingerprint) = 64", name=op.f("ck_signature_fingerprint_is_sha256")
        ),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_signature_person_id_person")
        ),
        sa.ForeignKeyConstraint(
            ["revision_id"], ["revision.id"], name=op.f("fk_signature_revision_id_revision")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_signature")),
        sa.UniqueConstraint(
            "revision_id", "person_id", name=op.f("uq_signature_revision_id_person_id")
        ),
    )
    op.create_table(
        "deviation",
        sa.Column("report_id", sa.Integer(), nullable=False),
        sa.Column("alarm", sa.String(), nullable=False),
        sa.Column("direction", sa.String(), nullable=False),
        sa.Column("severity", sa.String(), nullable=False),
        sa.CheckConstraint("alarm <> ''", name=op.f("ck_deviation_alarm_filled")),
        sa.CheckConstraint(
            "direction IN ('looser', 'tighter', 'switched-off', 'switched-on', 'other', 'unread')",
            name=op.f("ck_deviation_direction_known"),
        ),
        sa.CheckConstraint(
            "severity IN ('unsafe', 'off-protocol', 'note')",
            name=op.f("ck_deviation_severity_known"),
        ),
        sa.ForeignKeyConstraint(
            ["report_id"], ["report.id"], name=op.f("fk_deviation_report_id_report")
        ),
        sa.PrimaryKeyConstraint("report_id", "alarm", name=op.f("pk_deviation")),
    )
    op.create_table(
        "finding",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("agency_id", sa.Integer(), nullable=False),
        sa.Column("device_id", sa.Integer(), nullable=False),
        sa.Column("preset", sa.String(), nullable=False),
        sa.Column("alarm", sa.String(), nullable=False),
        sa.Column("direction", sa.String(), nullable=False),
        sa.Column("severity", sa.String(), nullable=False),
        sa.Column("status", sa.String(), nullable=False),
        sa.Column("opened_at", UTCDateTime(), nullable=False),
        sa.Column("opened_report_id", sa.Integer(), nullable=False),
        sa.Column("report_id", sa.Integer(), nullable=False),
        sa.Column("note", sa.String(), nullable=False),
        sa.Column("contained_by", sa.Integer(), nullable=True),
        sa.Column("contained_at", UTCDateTime(), nullable=True),
        sa.Column("corrected_by", sa.Integer(), nullable=True),
        sa.Column("corrected_at", UTCDateTime(), nullable=True),
        sa.Column("verified_by", sa.Integer(), nullable=True),
        sa.Column("verified_at", UTCDateTime(), nullable=True),
        sa.Column("verified_report_id", sa.Integer(), nullable=True),
        sa.Column("closed_by", sa.Integer(), nullable=True),
        sa.Column("closed_at", UTCDateTime(), nullable=True),
        sa.CheckConstraint(
            "(closed_at IS NOT NULL) = (status = 'closed')", name=op.f("ck_finding_closed_has_time")
        ),
        sa.CheckConstraint("alarm <> ''", name=op.f("ck_finding_alarm_filled")),
        sa.CheckConstraint(
            "direction IN ('looser', 'tighter', 'switched-off', 'switched-on', 'other', 'unread')",
            name=op.f("ck_finding_direction_known"),
        ),
        sa.CheckConstraint("preset <> ''", name=op.f("ck_finding_preset_filled")),
        sa.CheckConstraint(
            "severity IN ('unsafe', 'off-protocol', 'note')", name=op.f("ck_finding_severity_known")
        ),
        sa.CheckConstraint(
            "status IN ('open', 'contained', 'corrected', 'verified', 'closed')",
            name=op.f("ck_finding_status_known"),
        ),
        sa.CheckConstraint(
            "(closed_by IS NULL) = (closed_at IS NULL)",
            name=op.f("ck_finding_closed_by_with_closed_at"),
        ),
        sa.CheckConstraint(
            "(contained_by IS NULL) = (contained_at IS NULL)",
            name=op.f("ck_finding_contained_by_with_contained_at"),
        ),
        sa.CheckConstraint(
            "(corrected_by IS NULL) = (corrected_at IS NULL)",
            name=op.f("ck_finding_corrected_by_with_corrected_at"),
        ),
        sa.CheckConstraint(
            "(verified_by IS NULL) = (verified_at IS NULL)",
            name=op.f("ck_finding_verified_by_with_verified_at"),
        ),
        sa.CheckConstraint(
            "(verified_by IS NULL) = (verified_report_id IS NULL)",
            name=op.f("ck_finding_verified_by_with_verified_report_id"),
        ),
        sa.ForeignKeyConstraint(
            ["agency_id"], ["agency.id"], name=op.f("fk_finding_agency_id_agency")
        ),
        sa.ForeignKeyConstraint(
            ["closed_by"], ["person.id"], name=op.f("fk_finding_closed_by_person")
        ),
        sa.ForeignKeyConstraint(
            ["contained_by"], ["person.id"], name=op.f("fk_finding_contained_by_person")
        ),
        sa.ForeignKeyConstraint(
            ["corrected_by"], ["person.id"], name=op.f("fk_finding_corrected_by_person")
        ),
        sa.ForeignKeyConstraint(
            ["device_id"], ["device.id"], name=op.f("fk_finding_device_id_device")
        ),
        sa.ForeignKeyConstraint(
            ["opened_report_id"], ["report.id"], name=op.f("fk_finding_opened_report_id_report")
        ),
        sa.ForeignKeyConstraint(
            ["report_id"], ["report.id"], name=op.f("fk_finding_report_id_report")
        ),
        sa.ForeignKeyConstraint(
            ["verified_by"], ["person.id"], name=op.f("fk_finding_verified_by_person")
        ),
        sa.ForeignKeyConstraint(
            ["verified_report_id"], ["report.id"], name=op.f("fk_finding_verified_report_id_report")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_finding")),
    )
    with op.batch_alter_table("finding", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_finding_agency_id_status"), ["agency_id", "status"], unique=False
        )
        batch_op.create_index(
            "uq_finding_one_open",
            ["device_id", "preset", "alarm"],
            unique=True,
            sqlite_where=sa.text("status <> 'closed'"),
            postgresql_where=sa.text("status <> 'closed'"),
        )
