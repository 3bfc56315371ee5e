"""Findings by what somebody asks for; every condition is the database's work, so that a page costs
the same however many there are."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import sqlalchemy as sa
from sqlalchemy import func
from sqlmodel import Session, col, select

from app.domain.comparison import DEEP
from app.domain.devices import RegisterStatus
from app.domain.finding_filters import FindingFilter
from app.domain.finding_life import ACCEPTABLE, FindingStatus, StoredFinding
from app.domain.findings import Severity
from app.domain.natural_order import natural
from app.storage.devices import DeviceRow
from app.storage.finding_rows import FindingRow, findings_where
from app.storage.people import PersonRow
from app.storage.quarantines import is_held
from app.storage.reports import COUNTING, ReportRow

Page = tuple[int, int]
"""How many, after how many."""


@dataclass(frozen=True)
class FindingCounts:
    total: int = 0
    unsafe: int = 0
    overdue: int = 0
    accepted: int = 0
    quarantined: int = 0


@dataclass(frozen=True)
class FindingPlaces:
    """What there is to choose from."""

    stations: tuple[str, ...]
    models: tuple[str, ...]
    alarms: tuple[str, ...]


def findings_of(
    tx: Session, agency_id: int, wanted: FindingFilter, *, now: datetime, page: Page | None = None
) -> list[StoredFinding]:
    """The gravest first, then by what is due first."""
    order = (_weight(), func.coalesce(_due(), col(FindingRow.opened_at)))
    return findings_where(tx, *_conditions(agency_id, wanted, now), order=order, page=page)


def count_findings(
    tx: Session, agency_id: int, wanted: FindingFilter, *, now: datetime
) -> FindingCounts:
    unsafe = col(FindingRow.severity) == Severity.UNSAFE.value
    parts = (unsafe, _overdue(now), _accepted(now), is_held(FindingRow.device_id))
    counted = sa.select(
        func.count(),
        *(func.coalesce(func.sum(sa.case((part, 1), else_=0)), 0) for part in parts),
    )
    joined = counted.select_from(FindingRow).join(
        DeviceRow, col(FindingRow.device_id) == col(DeviceRow.id)
    )
    return FindingCounts(*tx.execute(joined.where(*_conditions(agency_id, wanted, now))).one())


def places_of(tx: Session, agency_id: int) -> FindingPlaces:
    """Of all findings there ever were."""
    columns = col(DeviceRow.station), col(DeviceRow.model), col(FindingRow.alarm)
    wanted = (
        select(*columns)
        .join(FindingRow, col(FindingRow.device_id) == col(DeviceRow.id))
        .where(FindingRow.agency_id == agency_id)
        .distinct()
    )
    found = tx.exec(wanted).all()
    stations, models, alarms = (
        tuple(sorted({row[n] for row in found}, key=natural)) for n in range(3)
    )
    return FindingPlaces(stations, models, alarms)


def owners_of(tx: Session, agency_id: int) -> dict[int, str]:
    """Who owns any finding, by name."""
    wanted = (
        select(PersonRow.id, PersonRow.name)
        .join(FindingRow, col(FindingRow.owner_id) == col(PersonRow.id))
        .where(FindingRow.agency_id == agency_id)
        .distinct()
        .order_by(col(PersonRow.name))
    )
    return {number: name for number, name in tx.exec(wanted) if number is not None}


def _conditions(agency_id: int, wanted: FindingFilter, now: datetime) -> list[Any]:
    row = FindingRow
    conditions: list[Any] = [
        row.agency_id == agency_id,
        col(row.status).in_(_values(wanted.statuses)),
        col(row.severity).in_(_values(wanted.severities)),
    ]
    texts = (
        (wanted.kind, row.kind),
        (wanted.station, DeviceRow.station),
        (wanted.device, DeviceRow.tag),
        (wanted.model, DeviceRow.model),
        (wanted.cause, row.cause),
        (wanted.owner, row.owner_id),
    )
    conditions += [col(column) == value for value, column in texts if value]
    if wanted.opened_since is not None:
        conditions.append(col(row.opened_at) >= wanted.opened_since)
    if wanted.alarm:
        conditions.append(col(row.alarm).in_([wanted.alarm, wanted.alarm + DEEP]))
    asked = (
        (wanted.overdue, _overdue(now)),
        (wanted.accepted, _accepted(now)),
        (wanted.quarantined, is_held(row.device_id)),
        (wanted.look_again, _not_looked_at_again(now)),
    )
    return conditions + [condition for flag, condition in asked if flag]


def _values(chosen: Collection[Any]) -> list[str]:
    return [one.value for one in chosen]


def _weight() -> Any:
    return sa.case(
        {severity.value: severity.weight for severity in Severity},
        value=col(FindingRow.severity),
        else_=len(Severity),
    )


def _due() -> Any:
    """As `StoredFinding.due_at` says."""
    row = FindingRow
    is_open = col(row.status) == FindingStatus.OPEN.value
    due = sa.case((is_open, col(row.contain_due_at)), else_=col(row.verify_due_at))
    ends = col(row.acceptance_ends_at)
    later = sa.case((ends > due, ends), else_=due)
    waits = col(row.status).in_(_values(ACCEPTABLE))
    return sa.case((waits, later), else_=sa.null())


def _overdue(now: datetime) -> Any:
    return sa.and_(col(FindingRow.status).in_(_values(ACCEPTABLE)), _due() < now)


def _accepted(now: datetime) -> Any:
    row = FindingRow
    return sa.and_(
        col(row.acceptance_ends_at).is_not(None),
        col(row.acceptance_ends_at) > now,
        col(row.status).in_(_values(ACCEPTABLE)),
    )


def _not_looked_at_again(now: datetime) -> Any:
    """Closed long enough ago, and nobody has read that preset since the day of the later look."""
    looks = (col(FindingRow.look_again_at), col(FindingRow.look_last_at))
    missing = [sa.and_(look <= now, ~_read_since(look)) for look in looks]
    here = col(DeviceRow.status) != RegisterStatus.RETIRED.value
    return sa.and_(here, sa.or_(*missing))


def _read_since(at: Any) -> Any:
    return (
        sa.select(sa.literal(1))
        .where(
            col(ReportRow.device_id) == col(FindingRow.device_id),
            col(ReportRow.preset) == col(FindingRow.preset),
            col(ReportRow.state_read).in_(COUNTING),
            col(ReportRow.read_at) >= at,
        )
        .correlate(FindingRow)
        .exists()
    )
