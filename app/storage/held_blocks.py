"""Whole blocks of what devices are known to hold, of one model and layout each."""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import sqlalchemy as sa
from sqlalchemy import func
from sqlmodel import Session, col

from app.domain.findings import Severity
from app.domain.packing import NO_EXTRAS
from app.domain.reading_block import ReadingBlock, joined_block
from app.storage.devices import USED, DeviceRow
from app.storage.devices_now import DeviceNowRow
from app.storage.joined_values import BETWEEN, joined_bytes, joined_numbers
from app.storage.layouts import LayoutRow, columns_from

A_TIME = 10_000
_Kind = tuple[str, int]
"""Model and layout."""


@dataclass(frozen=True)
class HeldBlock:
    """`joined`: the number of the row of each device, as they lie in the block."""

    model: str
    block: ReadingBlock
    joined: str
    tx: Session

    @cached_property
    def numbers(self) -> list[int]:
        return [int(number) for number in self.joined.split(BETWEEN)]

    @property
    def devices(self) -> tuple[str, ...]:
        return self._named[0]

    @property
    def worst(self) -> tuple[Severity | None, ...]:
        """As judged when they were read, None where nothing was off."""
        return self._named[1]

    @cached_property
    def _named(self) -> tuple[tuple[str, ...], tuple[Severity | None, ...]]:
        """Asked for once somebody has to be told: most of what is held needs no name."""
        wanted = (
            sa.select(col(DeviceRow.id), col(DeviceRow.tag), col(DeviceNowRow.worst))
            .join(DeviceNowRow, col(DeviceNowRow.device_id) == col(DeviceRow.id))
            .where(_between(min(self.numbers), max(self.numbers)))
        )
        found = {number: (tag, worst) for number, tag, worst in _plainly(self.tx, wanted)}
        own = [found[number] for number in self.numbers]
        return tuple(tag for tag, _ in own), tuple(_SEVERITIES[worst] for _, worst in own)


_SEVERITIES: dict[str | None, Severity | None] = {
    None: None,
    **{one.value: one for one in Severity},
}


def held_blocks(tx: Session, agency_id: int) -> Iterator[HeldBlock]:
    """Of at most `A_TIME` devices each. A statement for each `A_TIME` devices; where these are of
    several kinds, one for each kind besides."""
    first, last = tx.execute(
        sa.select(func.min(DeviceNowRow.device_id), func.max(DeviceNowRow.device_id))
    ).one()
    if first is None:
        return
    for start in range(first, last + 1, A_TIME):
        yield from _of_range(tx, _used(agency_id, start, start + A_TIME - 1))


def _used(agency_id: int, first: int, last: int) -> list[Any]:
    """By its layouts, which tell the agency as well: asked for its devices, SQLite would look
    through the index of all of them for every range."""
    layouts = sa.select(col(LayoutRow.id)).where(col(LayoutRow.agency_id) == agency_id)
    return [_between(first, last), col(DeviceNowRow.layout_id).in_(layouts), USED]


def _between(first: int, last: int) -> Any:
    return col(DeviceNowRow.device_id).between(first, last)


def _of_range(tx: Session, among: list[Any]) -> Iterator[HeldBlock]:
    found = tx.execute(_joined(tx, among)).one()
    if not found.devices:
        return
    kind, other = (found.model, found.layout), (found.other_model, found.other_layout)
    if kind == other:
        yield _block(tx, among, kind, found)
        return
    for kind in _kinds(tx, among):
        own = [*among, col(DeviceRow.model) == kind[0], col(DeviceNowRow.layout_id) == kind[1]]
        yield _block(tx, own, kind, tx.execute(_joined(tx, own)).one())


def _joined(tx: Session, among: list[Any]) -> Any:
    row, now = DeviceRow, DeviceNowRow
    return (
        sa.select(
            func.count().label("devices"),
            func.min(row.model).label("model"),
            func.max(row.model).label("other_model"),
            func.min(now.layout_id).label("layout"),
            func.max(now.layout_id).label("other_layout"),
            joined_bytes(tx, now.vals).label("vals"),
            joined_numbers(tx, now.device_id).label("numbers"),
            func.count(func.nullif(now.extras, NO_EXTRAS)).label("noted"),
        )
        .join(row, col(now.device_id) == col(row.id))
        .where(*among)
    )


def _kinds(tx: Session, among: list[Any]) -> list[_Kind]:
    model, layout = col(DeviceRow.model), col(DeviceNowRow.layout_id)
    wanted = (
        sa.select(model, layout)
        .join(DeviceNowRow, col(DeviceNowRow.device_id) == col(DeviceRow.id))
        .where(*among)
        .distinct()
        .order_by(model, layout)
    )
    return [(name, number) for name, number in tx.execute(wanted)]


def _block(tx: Session, among: list[Any], kind: _Kind, found: Any) -> HeldBlock:
    model, layout_id = kind
    columns = sa.select(col(LayoutRow.columns)).where(col(LayoutRow.id) == layout_id)
    layout = columns_from(tx.execute(columns).scalar_one())
    extras = _extras(tx, among, found.numbers) if found.noted else {}
    return HeldBlock(model, joined_block(layout, found.vals, extras), found.numbers, tx)


def _extras(tx: Session, among: list[Any], joined: str) -> dict[int, str]:
    """By row of the block."""
    rows = {int(number): row for row, number in enumerate(joined.split(BETWEEN))}
    wanted = (
        sa.select(col(DeviceNowRow.device_id), col(DeviceNowRow.extras))
        .join(DeviceRow, col(DeviceNowRow.device_id) == col(DeviceRow.id))
        .where(*among, col(DeviceNowRow.extras) != NO_EXTRAS)
    )
    return {rows[number]: extras for number, extras in _plainly(tx, wanted)}


def _plainly(tx: Session, wanted: Any) -> Any:
    """The driver's own rows: text and numbers need no converting, which takes most of the time."""
    return tx.connection().execute(wanted).cursor.fetchall()
