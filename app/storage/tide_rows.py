"""The fleet as its wall asks for it: counted by the database, and a page of it in order."""

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any

import sqlalchemy as sa
from sqlalchemy import func
from sqlmodel import Session, col

from app.domain.findings import Severity
from app.domain.known_devices import DeviceStatus, Mark
from app.domain.stretches import Stretch
from app.domain.tide_cells import TideCount
from app.storage.devices import USED, DeviceRow
from app.storage.devices_now import MARK, UNSAFE_FINDING, DeviceNowRow, mark_from
from app.storage.revisions import RevisionRow

_read_at: Any = col(DeviceNowRow.oldest_read_at)
_NEVER = -1
_NEEDS_SOMEBODY = (
    DeviceStatus.UNSAFE,
    DeviceStatus.DIFFERS,
    DeviceStatus.NOT_JUDGED,
    DeviceStatus.HOLDS,
)


def counts_of(
    tx: Session, agency_id: int, *, columns: Sequence[int], check_interval: timedelta, now: datetime
) -> list[TideCount]:
    """One statement, and one row for each kind of device that there is."""
    overdue_before = now - check_interval
    kinds: tuple[Any, ...] = (
        col(DeviceRow.station).label("of_station"),
        _column(columns, now).label("of_days"),
        _status(overdue_before).label("of_status"),
        sa.case((_overdue(overdue_before), 1), else_=0).label("of_late"),
    )
    wanted = (
        sa.select(*kinds, func.count())
        .outerjoin(DeviceNowRow, col(DeviceNowRow.device_id) == col(DeviceRow.id))
        .where(col(DeviceRow.agency_id) == agency_id, USED)
        .group_by(*(sa.literal_column(kind.name) for kind in kinds))
    )
    return [
        TideCount(
            station, None if column == _NEVER else column, DeviceStatus(status), bool(late), devices
        )
        for station, column, status, late, devices in tx.execute(wanted)
    ]


def marks_in(
    tx: Session,
    agency_id: int,
    stretch: Stretch,
    *,
    check_interval: timedelta,
    now: datetime,
    first: int = 0,
    most: int,
) -> list[Mark]:
    """What needs somebody first: unsafe, differing, not judged, holding; the oldest of them."""
    overdue_before = now - check_interval
    status = _status(overdue_before)
    order = sa.case(*((status == s.value, place) for place, s in enumerate(_NEEDS_SOMEBODY)))
    wanted = (
        sa.select(*MARK)
        .outerjoin(DeviceNowRow, col(DeviceNowRow.device_id) == col(DeviceRow.id))
        .outerjoin(RevisionRow, col(DeviceNowRow.revision_id) == col(RevisionRow.id))
        .where(*_within(agency_id, stretch, overdue_before, now))
        .order_by(order, _read_at.is_not(None), _read_at, col(DeviceRow.tag))
        .offset(first)
        .limit(most)
    )
    return [mark_from(*found) for found in tx.execute(wanted)]


def longest_unread(tx: Session, agency_id: int, *, before: datetime) -> Mark | None:
    """Of the devices that were read at all, but none since."""
    wanted = (
        sa.select(*MARK)
        .join(DeviceNowRow, col(DeviceNowRow.device_id) == col(DeviceRow.id))
        .outerjoin(RevisionRow, col(DeviceNowRow.revision_id) == col(RevisionRow.id))
        .where(col(DeviceRow.agency_id) == agency_id, USED, _read_at < before)
        .order_by(_read_at, col(DeviceRow.tag))
        .limit(1)
    )
    found = tx.execute(wanted).one_or_none()
    return None if found is None else mark_from(*found)


def number_in(
    tx: Session, agency_id: int, stretch: Stretch, *, check_interval: timedelta, now: datetime
) -> int:
    wanted = (
        sa.select(func.count())
        .select_from(DeviceRow)
        .outerjoin(DeviceNowRow, col(DeviceNowRow.device_id) == col(DeviceRow.id))
        .where(*_within(agency_id, stretch, now - check_interval, now))
    )
    number: int = tx.execute(wanted).scalar_one()
    return number


def _status(overdue_before: datetime) -> Any:
    """As `Mark.status` reckons it."""
    now = DeviceNowRow
    not_judged = sa.or_(
        col(now.revision_id).is_(None),
        col(now.presets_read) < col(now.presets_offered),
        col(now.missing) > 0,
        _read_at < overdue_before,
    )
    return sa.case(
        (col(now.device_id).is_(None), DeviceStatus.NOT_JUDGED.value),
        (UNSAFE_FINDING, DeviceStatus.UNSAFE.value),
        (col(now.worst) == Severity.UNSAFE.value, DeviceStatus.UNSAFE.value),
        (col(now.worst).is_not(None), DeviceStatus.DIFFERS.value),
        (not_judged, DeviceStatus.NOT_JUDGED.value),
        else_=DeviceStatus.HOLDS.value,
    )


def _column(columns: Sequence[int], now: datetime) -> Any:
    latest_first = [
        (_read_at <= now - timedelta(days=day), place) for place, day in enumerate(columns) if day
    ]
    return sa.case((_read_at.is_(None), _NEVER), *latest_first[::-1], else_=0)


def _overdue(overdue_before: datetime) -> Any:
    return sa.or_(_read_at.is_(None), _read_at < overdue_before)


def _within(agency_id: int, stretch: Stretch, overdue_before: datetime, now: datetime) -> list[Any]:
    conditions: list[Any] = [col(DeviceRow.agency_id) == agency_id, USED]
    by, after = stretch.read_by(now), stretch.read_after(now)
    if stretch.station:
        conditions.append(col(DeviceRow.station) == stretch.station)
    if stretch.status is not None:
        conditions.append(_status(overdue_before) == stretch.status.value)
    if stretch.overdue:
        conditions.append(_overdue(overdue_before))
    if stretch.never:
        conditions.append(_read_at.is_(None))
    if by is not None:
        conditions.append(sa.or_(_read_at.is_(None), _read_at <= by))
    if after is not None:
        conditions.append(_read_at > after)
    return conditions
