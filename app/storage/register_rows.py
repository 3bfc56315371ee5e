"""The register as its page asks for it: narrowed and cut by the database."""

from datetime import datetime
from typing import Any

import sqlalchemy as sa
from sqlalchemy import func
from sqlmodel import Session, col

from app.domain.known_devices import Mark
from app.domain.register_filter import Wanted
from app.storage.devices import USED, DeviceRow
from app.storage.devices_now import MARK, DeviceNowRow, mark_from
from app.storage.natural_columns import natural_columns
from app.storage.revisions import RevisionRow


def marks_wanted(
    tx: Session,
    agency_id: int,
    wanted: Wanted,
    *,
    overdue_before: datetime,
    first: int = 0,
    most: int | None = None,
) -> list[Mark]:
    """In the order of stations and tags; which of them are cleared is not asked here."""
    found = (
        sa.select(*MARK)
        .outerjoin(DeviceNowRow, col(DeviceNowRow.device_id) == col(DeviceRow.id))
        .outerjoin(RevisionRow, col(DeviceNowRow.revision_id) == col(RevisionRow.id))
        .where(*_conditions(agency_id, wanted, overdue_before))
        .order_by(*natural_columns(col(DeviceRow.station)), *natural_columns(col(DeviceRow.tag)))
        .offset(first)
        .limit(most)
    )
    return [mark_from(*one) for one in tx.execute(found)]


def number_wanted(tx: Session, agency_id: int, wanted: Wanted, *, overdue_before: datetime) -> int:
    found = (
        sa.select(func.count())
        .select_from(DeviceRow)
        .outerjoin(DeviceNowRow, col(DeviceNowRow.device_id) == col(DeviceRow.id))
        .where(*_conditions(agency_id, wanted, overdue_before))
    )
    number: int = tx.execute(found).scalar_one()
    return number


def _conditions(agency_id: int, wanted: Wanted, overdue_before: datetime) -> list[Any]:
    row, read_at = DeviceRow, col(DeviceNowRow.oldest_read_at)
    asked = [
        col(row.agency_id) == agency_id,
        col(row.status) == wanted.status if wanted.status else USED,
    ]
    if wanted.station:
        asked.append(col(row.station) == wanted.station)
    if wanted.model:
        asked.append(col(row.model) == wanted.model)
    if wanted.overdue:
        asked.append(sa.or_(read_at.is_(None), read_at < overdue_before))
    return asked
