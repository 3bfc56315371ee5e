"""What was read at given places: of a device, at a time, in a state, on a preset."""

from collections.abc import Sequence
from datetime import datetime
from typing import Any

import sqlalchemy as sa
from sqlmodel import Session, col

from app.domain.device_reports import NotRead, Reading, StateRead
from app.domain.packing import Packed, unpack
from app.storage.base import batches
from app.storage.devices import DeviceRow
from app.storage.layouts import LayoutRow, columns_from
from app.storage.reports import ReportRow

Place = tuple[str, datetime, StateRead, str]
_COLUMNS: tuple[Any, ...] = (
    DeviceRow.tag,
    ReportRow.read_at,
    ReportRow.state_read,
    ReportRow.preset,
    LayoutRow.columns,
    ReportRow.vals,
    ReportRow.extras,
)


def readings_at(
    tx: Session, *, agency_id: int, devices: Sequence[str], times: Sequence[datetime]
) -> dict[Place, dict[str, Reading]]:
    """What was read of these devices at these times, without what was not read."""
    found: dict[Place, dict[str, Reading]] = {}
    for some in batches(devices):
        for moments in batches(times):
            wanted = (
                sa.select(*_COLUMNS)
                .join(DeviceRow, col(ReportRow.device_id) == col(DeviceRow.id))
                .join(LayoutRow, col(ReportRow.layout_id) == col(LayoutRow.id))
                .where(
                    col(ReportRow.agency_id) == agency_id,
                    col(DeviceRow.tag).in_(some),
                    col(ReportRow.read_at).in_(moments),
                )
            )
            for tag, at, state, preset, columns, vals, extras in tx.execute(wanted):
                held = unpack(columns_from(columns), Packed(vals, extras))
                found[tag, at, StateRead(state), preset] = {
                    alarm: one for (_, alarm), one in held.items() if not isinstance(one, NotRead)
                }
    return found
