"""Whole blocks of what devices are known to hold, of one model and layout each."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import sqlalchemy as sa
from sqlmodel import Session, col

from app.domain.findings import Severity
from app.domain.fleet import Column
from app.domain.packing import NO_EXTRAS
from app.domain.reading_block import ReadingBlock, joined_block
from app.storage.devices import USED, DeviceRow
from app.storage.devices_now import DeviceNowRow
from app.storage.layouts import LayoutRow, columns_from

A_TIME = 10_000


@dataclass(frozen=True)
class HeldBlock:
    """`devices` and `worst` go with the rows of the block. `worst`: as judged when they were
    read, None where nothing was off."""

    model: str
    devices: tuple[str, ...]
    worst: tuple[Severity | None, ...]
    block: ReadingBlock


def held_blocks(tx: Session, agency_id: int) -> Iterator[HeldBlock]:
    """At most `A_TIME` devices each, by model, layout and tag; one statement for each kind."""
    row, now = DeviceRow, DeviceNowRow
    kinds = (
        sa.select(col(row.model), col(now.layout_id), col(LayoutRow.columns))
        .join(now, col(now.device_id) == col(row.id))
        .join(LayoutRow, col(LayoutRow.id) == col(now.layout_id))
        .where(col(row.agency_id) == agency_id, USED)
        .distinct()
        .order_by(col(row.model), col(now.layout_id))
    )
    for model, layout_id, columns in tx.execute(kinds).all():
        yield from _of_kind(tx, agency_id, model, layout_id, columns_from(columns))


def _of_kind(
    tx: Session, agency_id: int, model: str, layout_id: int, layout: Sequence[Column]
) -> Iterator[HeldBlock]:
    row, now = DeviceRow, DeviceNowRow
    wanted = (
        sa.select(*_HELD)
        .join(now, col(now.device_id) == col(row.id))
        .where(
            col(row.agency_id) == agency_id,
            col(row.model) == model,
            col(now.layout_id) == layout_id,
            USED,
        )
        .order_by(col(row.tag))
    )
    # The driver's own rows: text and bytes need no converting, which took most of the time.
    rows = tx.connection().execute(wanted).cursor
    while some := rows.fetchmany(A_TIME):
        tags, worst, vals, extras = zip(*some, strict=True)
        noted = {n: text for n, text in enumerate(extras) if text != NO_EXTRAS}
        severities = tuple(_SEVERITIES[one] for one in worst)
        yield HeldBlock(model, tags, severities, joined_block(layout, vals, noted))


_SEVERITIES: dict[str | None, Severity | None] = {
    None: None,
    **{one.value: one for one in Severity},
}
_HELD: tuple[Any, ...] = (
    DeviceRow.tag,
    DeviceNowRow.worst,
    DeviceNowRow.vals,
    DeviceNowRow.extras,
)
