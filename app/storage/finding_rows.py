"""The table of findings, and a row of it as the domain knows it."""

from collections.abc import Mapping, Sequence
from datetime import date, datetime
from typing import Any

import sqlalchemy as sa
from sqlalchemy import CheckConstraint, Index, text
from sqlmodel import Field, Session, Text, col

from app.domain.acceptances import Acceptance
from app.domain.comparison import Direction
from app.domain.finding_causes import CauseCode
from app.domain.finding_life import (
    Audible,
    FindingKind,
    FindingStatus,
    Owner,
    Stamp,
    StoredFinding,
)
from app.domain.findings import Severity
from app.storage.base import NumberedRow, both_or_neither, filled, one_of
from app.storage.devices import DeviceRow
from app.storage.people import names_of
from app.storage.quarantines import is_held

_NOT_CLOSED = text("status <> 'closed'")
STAMPS = ("contained", "corrected", "verified", "closed")
LOOKS = ("look_again_at", "look_last_at")
ACCEPTANCE = ("accepted_by", "accepted_at", "accepted_until", "acceptance_ends_at")


class FindingRow(NumberedRow, table=True):
    __tablename__ = "finding"
    __table_args__ = (
        Index(
            "uq_finding_one_open",
            "device_id",
            "preset",
            "alarm",
            "kind",
            unique=True,
            sqlite_where=_NOT_CLOSED,
            postgresql_where=_NOT_CLOSED,
        ),
        Index(None, "agency_id", "status"),
        filled("preset"),
        filled("alarm"),
        one_of("direction", Direction),
        one_of("severity", Severity),
        one_of("status", FindingStatus),
        one_of("kind", FindingKind),
        one_of("cause", CauseCode),
        one_of("heard", Audible),
        one_of("seen", Audible),
        filled("accepted_reason"),
        *(both_or_neither(f"{stamp}_by", f"{stamp}_at") for stamp in STAMPS),
        *(both_or_neither(part, "accepted_reason") for part in ACCEPTANCE),
        both_or_neither("verified_by", "verified_report_id"),
        both_or_neither("heard", "seen"),
        *(both_or_neither(look, "closed_at") for look in LOOKS),
        CheckConstraint("(closed_at IS NOT NULL) = (status = 'closed')", name="closed_has_time"),
        CheckConstraint("verify_due_at >= contain_due_at", name="contained_before_verified"),
        CheckConstraint("recurrences >= 0", name="recurrences_not_negative"),
    )

    agency_id: int = Field(foreign_key="agency.id")
    device_id: int = Field(foreign_key="device.id")
    kind: str
    preset: str
    alarm: str
    direction: str
    severity: str
    status: str
    opened_at: datetime
    opened_report_id: int = Field(foreign_key="report.id")
    report_id: int = Field(foreign_key="report.id")
    note: str
    contain_due_at: datetime
    verify_due_at: datetime
    owner_id: int | None = Field(default=None, foreign_key="person.id")
    contained_by: int | None = Field(default=None, foreign_key="person.id")
    contained_at: datetime | None = None
    corrected_by: int | None = Field(default=None, foreign_key="person.id")
    corrected_at: datetime | None = None
    verified_by: int | None = Field(default=None, foreign_key="person.id")
    verified_at: datetime | None = None
    verified_report_id: int | None = Field(default=None, foreign_key="report.id")
    closed_by: int | None = Field(default=None, foreign_key="person.id")
    closed_at: datetime | None = None
    look_again_at: datetime | None = None
    look_last_at: datetime | None = None
    accepted_by: int | None = Field(default=None, foreign_key="person.id")
    accepted_at: datetime | None = None
    accepted_until: date | None = None
    acceptance_ends_at: datetime | None = None
    accepted_reason: str | None = Field(default=None, sa_type=Text)
    cause: str | None = None
    heard: str | None = None
    seen: str | None = None
    recurrences: int
    recurred_from_id: int | None = Field(default=None, foreign_key="finding.id", index=True)


_NOT_VERIFIED = (FindingStatus.OPEN, FindingStatus.CONTAINED, FindingStatus.CORRECTED)


def unsafe_devices() -> sa.Select[Any]:
    """Their rows: what they hold was found unsafe, and nobody has verified it since."""
    row = FindingRow
    return sa.select(col(row.device_id)).where(
        col(row.severity) == Severity.UNSAFE.value,
        col(row.kind) == FindingKind.HELD.value,
        col(row.status).in_([status.value for status in _NOT_VERIFIED]),
    )


_WHOLE: tuple[Any, ...] = (
    FindingRow,
    DeviceRow.tag,
    DeviceRow.station,
    DeviceRow.model,
    is_held(DeviceRow.id),
)


def findings_where(
    tx: Session, *conditions: Any, order: tuple[Any, ...] = (), page: tuple[int, int] | None = None
) -> list[StoredFinding]:
    """The oldest first unless ordered otherwise, in two statements. `page`: how many, after how
    many."""
    wanted = (
        sa.select(*_WHOLE)
        .join(DeviceRow, col(FindingRow.device_id) == col(DeviceRow.id))
        .where(*conditions)
        .order_by(*order, col(FindingRow.opened_at), col(FindingRow.id))
        .execution_options(populate_existing=True)
    )
    if page is not None:
        wanted = wanted.limit(page[0]).offset(page[1])
    found = tx.execute(wanted).all()
    names = names_of(tx, {number for row, *_ in found for number in _people_of(row)})
    return [_finding(row, device, names) for row, *device in found]


def _people_of(row: FindingRow) -> list[int]:
    people = [getattr(row, f"{stamp}_by") for stamp in STAMPS] + [row.accepted_by, row.owner_id]
    return [number for number in people if number is not None]


def _finding(row: FindingRow, device: Sequence[Any], names: Mapping[int, str]) -> StoredFinding:
    tag, station, model, held = device

    stamps = {name: _stamp(row, name, names) for name in STAMPS}
    return StoredFinding(
        id=row.saved_id,
        device=tag,
        station=station,
        model=model,
        preset=row.preset,
        alarm=row.alarm,
        direction=Direction(row.direction),
        severity=Severity(row.severity),
        status=FindingStatus(row.status),
        opened_at=row.opened_at,
        opened_by=row.opened_report_id,
        report=row.report_id,
        note=row.note,
        contain_due_at=row.contain_due_at,
        verify_due_at=row.verify_due_at,
        kind=FindingKind(row.kind),
        **stamps,
        verified_by_report=row.verified_report_id,
        owner=None if row.owner_id is None else Owner(row.owner_id, names[row.owner_id]),
        acceptance=_acceptance(row, names),
        cause=None if row.cause is None else CauseCode(row.cause),
        recurrences=row.recurrences,
        recurred_from=row.recurred_from_id,
        heard=None if row.heard is None else Audible(row.heard),
        seen=None if row.seen is None else Audible(row.seen),
        quarantined=bool(held),
    )


def _stamp(row: FindingRow, name: str, names: Mapping[int, str]) -> Stamp | None:
    person, at = getattr(row, f"{name}_by"), getattr(row, f"{name}_at")
    return None if person is None or at is None else Stamp(person, names[person], at)


def _acceptance(row: FindingRow, names: Mapping[int, str]) -> Acceptance | None:
    """The table holds all of it or nothing."""
    if row.accepted_by is None or row.accepted_at is None or row.accepted_until is None:
        return None
    if row.acceptance_ends_at is None or row.accepted_reason is None:
        return None
    return Acceptance(
        names[row.accepted_by],
        row.accepted_at,
        row.accepted_until,
        row.acceptance_ends_at,
        row.accepted_reason,
    )
