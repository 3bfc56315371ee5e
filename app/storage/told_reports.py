"""What goes with many reports, without a value of theirs."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache
from typing import Any

import sqlalchemy as sa
from sqlmodel import Session, col

from app.domain.fleet import was_read
from app.domain.packing import Packed, unpack
from app.storage.among import among
from app.storage.devices import DeviceRow
from app.storage.layouts import LayoutRow, columns_from
from app.storage.people import PersonRow
from app.storage.reports import ReportRow


@dataclass(frozen=True)
class ToldOf:
    """Of a report what goes with it, and what was looked at: no value is unpacked."""

    device: str
    software: str
    reader: str
    trigger: str
    read_at: datetime
    asked: frozenset[str]


def told_of(tx: Session, report_ids: Collection[int]) -> dict[int, ToldOf]:
    """In one statement. Most devices hold what others hold, so what was looked at in one report is
    told of all that read the same."""
    row = ReportRow
    columns: tuple[Any, ...] = (
        *(row.id, DeviceRow.tag, row.software, row.reader_told, PersonRow.name, row.trigger),
        *(row.read_at, LayoutRow.columns, row.vals, row.extras),
    )
    wanted = (
        sa.select(*columns)
        .join(DeviceRow, col(row.device_id) == col(DeviceRow.id))
        .join(PersonRow, col(row.reader_id) == col(PersonRow.id))
        .join(LayoutRow, col(row.layout_id) == col(LayoutRow.id))
        .where(among(tx, col(row.id), report_ids))
    )
    return {
        number: ToldOf(device, software, told or reader, trigger, at, _asked(*read))
        for number, device, software, told, reader, trigger, at, *read in tx.execute(wanted)
    }


@lru_cache(maxsize=4096)
def _asked(columns: str, vals: bytes, extras: str) -> frozenset[str]:
    unpacked = unpack(columns_from(columns), Packed(vals, extras))
    return frozenset(alarm for (_, alarm), reading in unpacked.items() if was_read(reading))
