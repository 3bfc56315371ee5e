"""Findings with owner, cause, acceptance, quarantine and everything that was said."""

from datetime import timedelta
from typing import Any

import sqlalchemy as sa
from alembic import op
from sqlmodel.sql.sqltypes import UTCDateTime

revision = "0008"
down_revision = "0007"
branch_labels = None
depends_on = None

_ALARM = ["device_id", "preset", "alarm"]
_NOT_CLOSED = sa.text("status <> 'closed'")
_STANDING = sa.text("released_at IS NULL")
_KINDS = (
    "'opened', 'found-again', 'reopened', 'contained', 'corrected', 'verified', 'closed', "
    "'accepted', 'acceptance-ended', 'assigned', 'commented', 'quarantined', 'released'"
)
_CAUSES = (
    "'human-set', 'reverted-at-power-off', 'software-update', 'repair-or-service', 'loaner', "
    "'missed-in-changeover', 'not-settable-on-this-model', 'reading-error', 'unknown'"
)
_STAMPS = ("contained", "corrected", "verified", "closed")
_LOOKS = {"look_again_at": timedelta(days=30), "look_last_at": timedelta(days=90)}
_AS_IT_WAS = {
    "unsafe": (timedelta(hours=1), timedelta(hours=24)),
    "looser": (timedelta(hours=12), timedelta(days=7)),
    "tighter": (timedelta(days=30), timedelta(days=30)),
}
"""What was due when before an agency could choose."""


def upgrade() -> None:
    _create_events()
    _widen_findings()
    _tell_again()
    _create_quarantines()
    _create_custody()


def _create_events() -> None:
    op.create_table(
        "finding_event",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("finding_id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("at", UTCDateTime(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.Column("about", sa.String(), nullable=False),
        sa.Column("report_id", sa.Integer(), nullable=True),
        sa.CheckConstraint(f"kind IN ({_KINDS})", name=op.f("ck_finding_event_kind_known")),
        sa.CheckConstraint("name <> ''", name=op.f("ck_finding_event_name_filled")),
        *(
            _key_to("finding_event", column, table)
            for column, table in (
                ("finding_id", "finding"),
                ("person_id", "person"),
                ("report_id", "report"),
            )
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_finding_event")),
    )
    op.create_index(op.f("ix_finding_event_finding_id"), "finding_event", ["finding_id"])


def _key_to(table: str, column: str, other: str) -> sa.ForeignKeyConstraint:
    return sa.ForeignKeyConstraint(
        [column], [f"{other}.id"], name=op.f(f"fk_{table}_{column}_{other}")
    )


def _widen_findings() -> None:
    op.drop_index("uq_finding_one_open", table_name="finding")
    with op.batch_alter_table("finding") as batch:
        batch.add_column(sa.Column("kind", sa.String(), nullable=False, server_default="held"))
        batch.add_column(sa.Column("recurrences", sa.Integer(), nullable=False, server_default="0"))
        for name in (
            "contain_due_at",
            "verify_due_at",
            "accepted_at",
            "acceptance_ends_at",
            *_LOOKS,
        ):
            batch.add_column(sa.Column(name, UTCDateTime(), nullable=True))
        for name in ("owner_id", "accepted_by", "recurred_from_id"):
            batch.add_column(sa.Column(name, sa.Integer(), nullable=True))
        batch.add_column(sa.Column("accepted_until", sa.Date(), nullable=True))
        batch.add_column(sa.Column("accepted_reason", sa.Text(), nullable=True))
        for name in ("cause", "heard", "seen"):
            batch.add_column(sa.Column(name, sa.String(), nullable=True))
    _set_due_times()
    with op.batch_alter_table("finding") as batch:
        for name in ("kind", "recurrences"):
            batch.alter_column(name, server_default=None)
        for name in ("contain_due_at", "verify_due_at"):
            batch.alter_column(name, nullable=False)
        for column, table in (
            ("owner_id", "person"),
            ("accepted_by", "person"),
            ("recurred_from_id", "finding"),
        ):
            name = op.f(f"fk_finding_{column}_{table}")
            batch.create_foreign_key(name, table, [column], ["id"])
        for name, rule in _RULES.items():
            batch.create_check_constraint(op.f(f"ck_finding_{name}"), rule)
    op.create_index(op.f("ix_finding_recurred_from_id"), "finding", ["recurred_from_id"])
    op.create_index(
        "uq_finding_one_open",
        "finding",
        [*_ALARM, "kind"],
        unique=True,
        sqlite_where=_NOT_CLOSED,
        postgresql_where=_NOT_CLOSED,
    )


def _all_or_none(columns: tuple[str, ...], other: str) -> dict[str, str]:
    return {
        f"{column}_with_{other}": f"({column} IS NULL) = ({other} IS NULL)" for column in columns
    }


_RULES = {
    "kind_known": "kind IN ('held', 'use')",
    "cause_known": f"cause IN ({_CAUSES})",
    "heard_known": "heard IN ('yes', 'no', 'not-tested')",
    "seen_known": "seen IN ('yes', 'no', 'not-tested')",
    "accepted_reason_filled": "accepted_reason <> ''",
    "contained_before_verified": "verify_due_at >= contain_due_at",
    "recurrences_not_negative": "recurrences >= 0",
    **_all_or_none(
        ("accepted_by", "accepted_at", "accepted_until", "acceptance_ends_at"), "accepted_reason"
    ),
    **_all_or_none(("heard",), "seen"),
    **_all_or_none(tuple(_LOOKS), "closed_at"),
}


def _set_due_times() -> None:
    found = sa.table(
        "finding",
        *(sa.column(name) for name in ("id", "direction", "severity")),
        *(
            sa.column(name, UTCDateTime())
            for name in ("opened_at", "closed_at", "contain_due_at", "verify_due_at", *_LOOKS)
        ),
    )
    bind = op.get_bind()
    rows = bind.execute(
        sa.select(
            found.c.id,
            found.c.direction,
            found.c.severity,
            found.c.opened_at,
            found.c.closed_at,
        )
    ).all()
    for number, direction, severity, opened_at, closed_at in rows:
        looser = severity == "off-protocol" and direction in ("looser", "switched-off")
        kind = "unsafe" if severity == "unsafe" else "looser" if looser else "tighter"
        contain, verify = _AS_IT_WAS[kind]
        times = {"contain_due_at": opened_at + contain, "verify_due_at": opened_at + verify}
        if closed_at is not None:
            times |= {name: closed_at + later for name, later in _LOOKS.items()}
        bind.execute(sa.update(found).where(found.c.id == number).values(**times))


def _tell_again() -> None:
    """The story of what was there before, from its stamps."""
    bind = op.get_bind()
    people, reports, found, event = (
        sa.Table(name, sa.MetaData(), autoload_with=bind)
        for name in ("person", "report", "finding", "finding_event")
    )
    names = {row.id: row.name for row in bind.execute(sa.select(people.c.id, people.c.name))}
    readers = {
        row.id: row.reader_id for row in bind.execute(sa.select(reports.c.id, reports.c.reader_id))
    }
    for row in bind.execute(sa.select(found).order_by(found.c.id)).mappings().all():
        told = _story(row, readers)
        for one in told:
            bind.execute(
                sa.insert(event).values(**one, finding_id=row["id"], name=names[one["person_id"]])
            )


def _story(row: Any, readers: dict[int, int]) -> list[dict[str, Any]]:
    opened, last = row["opened_report_id"], row["report_id"]
    told = [
        {
            "kind": "opened",
            "at": row["opened_at"],
            "person_id": readers[opened],
            "report_id": opened,
        }
    ]
    if last != opened:
        told.append(
            told[0] | {"kind": "found-again", "person_id": readers[last], "report_id": last}
        )
    steps = [stamp for stamp in _STAMPS if row[f"{stamp}_at"] is not None]
    for stamp in steps:
        proof = row["verified_report_id"] if stamp == "verified" else None
        told.append(
            {
                "kind": stamp,
                "at": row[f"{stamp}_at"],
                "person_id": row[f"{stamp}_by"],
                "report_id": proof,
            }
        )
    return [
        {**one, "note": row["note"] if n == len(told) - 1 else "", "about": ""}
        for n, one in enumerate(told)
    ]


def _create_quarantines() -> None:
    rules = {
        "reason_filled": "reason <> ''",
        "log_place_filled": "log_place <> ''",
        "log_waived_reason_filled": "log_waived_reason <> ''",
        "release_reason_filled": "release_reason <> ''",
        "log_fingerprint_is_sha256": "length(log_fingerprint) = 64",
        **_all_or_none(("log_fingerprint", "log_place", "log_by"), "log_at"),
        **_all_or_none(("log_waived_by", "log_waived_reason"), "log_waived_at"),
        **_all_or_none(("released_by", "release_reason"), "released_at"),
    }
    op.create_table(
        "quarantine",
        sa.Column("id", sa.Integer(), nullable=False),
        *(
            sa.Column(name, sa.Integer(), nullable=False)
            for name in ("agency_id", "device_id", "finding_id", "placed_by")
        ),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("placed_at", UTCDateTime(), nullable=False),
        sa.Column("log_fingerprint", sa.String(), nullable=True),
        sa.Column("log_place", sa.String(), nullable=True),
        sa.Column("log_by", sa.Integer(), nullable=True),
        sa.Column("log_at", UTCDateTime(), nullable=True),
        sa.Column("log_waived_by", sa.Integer(), nullable=True),
        sa.Column("log_waived_at", UTCDateTime(), nullable=True),
        sa.Column("log_waived_reason", sa.Text(), nullable=True),
        sa.Column("released_by", sa.Integer(), nullable=True),
        sa.Column("released_at", UTCDateTime(), nullable=True),
        sa.Column("release_reason", sa.Text(), nullable=True),
        *(
            sa.CheckConstraint(rule, name=op.f(f"ck_quarantine_{name}"))
            for name, rule in rules.items()
        ),
        *(
            _key_to("quarantine", column, table)
            for column, table in (
                ("agency_id", "agency"),
                ("device_id", "device"),
                ("finding_id", "finding"),
                ("placed_by", "person"),
                ("log_by", "person"),
                ("log_waived_by", "person"),
                ("released_by", "person"),
            )
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_quarantine")),
    )
    for column in ("agency_id", "finding_id"):
        op.create_index(op.f(f"ix_quarantine_{column}"), "quarantine", [column])
    op.create_index(
        "uq_quarantine_one_standing",
        "quarantine",
        ["device_id"],
        unique=True,
        sqlite_where=_STANDING,
        postgresql_where=_STANDING,
    )


def _create_custody() -> None:
    op.create_table(
        "custody",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("quarantine_id", sa.Integer(), nullable=False),
        sa.Column("given_by", sa.String(), nullable=False),
        sa.Column("taken_by", sa.String(), nullable=False),
        sa.Column("at", UTCDateTime(), nullable=False),
        sa.Column("place", sa.String(), nullable=False),
        sa.Column("seal", sa.String(), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.Column("recorded_by", sa.Integer(), nullable=False),
        sa.Column("recorded_at", UTCDateTime(), nullable=False),
        *(
            sa.CheckConstraint(f"{name} <> ''", name=op.f(f"ck_custody_{name}_filled"))
            for name in ("given_by", "taken_by", "place")
        ),
        sa.CheckConstraint("at <= recorded_at", name=op.f("ck_custody_told_afterwards")),
        _key_to("custody", "quarantine_id", "quarantine"),
        _key_to("custody", "recorded_by", "person"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_custody")),
    )
    op.create_index(op.f("ix_custody_quarantine_id"), "custody", ["quarantine_id"])
