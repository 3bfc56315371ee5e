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
    """Of at most `A_TIME` devices each. Three statements for each `A_TIME` devices; where these
    are of several kinds, two for each kind besides."""
    # Each by itself, found at once by its index; of both together SQLite reads the whole table.
    edges = (sa.select(of(DeviceNowRow.device_id)) for of in (func.min, func.max))
    first, last = tx.execute(sa.select(*(edge.scalar_subquery() for edge in edges))).one()
    if first is None:
        return
    for start in range(first, last + 1, A_TIME):
        yield from _of_range(tx, agency_id, start, start + A_TIME - 1)


def _of_range(tx: Session, agency_id: int, first: int, last: int) -> Iterator[HeldBlock]:
    """Where all are of one kind, as most are, no device is looked up by itself."""
    model, alike = _model_of_all(tx, first, last)
    if model is not None:
        found = tx.execute(sa.select(*_joined(tx)).where(*alike)).one()
        if not found.devices:
            return
        layout = tx.get_one(LayoutRow, found.layout)
        if found.layout == found.other_layout and layout.agency_id == agency_id:
            yield _block(tx, alike, model, layout.columns, found)
            return
    yield from _by_kind(tx, _used(agency_id, first, last))


def _model_of_all(tx: Session, first: int, last: int) -> tuple[str | None, list[Any]]:
    """None: there are several. And which rows are of devices in use."""
    row, of_range = DeviceRow, col(DeviceRow.id).between(first, last)
    wanted = sa.select(
        func.min(row.model), func.max(row.model), func.count(sa.case((~USED, 1)))
    ).where(of_range)
    model, other, retired = tx.execute(wanted).one()
    among = [_between(first, last)]
    if retired:
        gone = sa.select(col(row.id)).where(of_range, ~USED)
        among.append(col(DeviceNowRow.device_id).not_in(gone))
    return (model if model == other else None), among


def _used(agency_id: int, first: int, last: int) -> list[Any]:
    """By its layouts, which tell the agency as well: asked for its devices, SQLite would look
    through the index of all of them for every range."""
    layouts = sa.select(col(LayoutRow.id)).where(col(LayoutRow.agency_id) == agency_id)
    return [_between(first, last), col(DeviceNowRow.layout_id).in_(layouts), USED]


def _between(first: int, last: int) -> Any:
    return col(DeviceNowRow.device_id).between(first, last)


def _by_kind(tx: Session, among: list[Any]) -> Iterator[HeldBlock]:
    of_device = col(DeviceNowRow.device_id) == col(DeviceRow.id)
    for model, layout_id in _kinds(tx, among):
        own = [*among, col(DeviceRow.model) == model, col(DeviceNowRow.layout_id) == layout_id]
        found = tx.execute(sa.select(*_joined(tx)).join(DeviceRow, of_device).where(*own)).one()
        yield _block(tx, own, model, tx.get_one(LayoutRow, layout_id).columns, found)


def _joined(tx: Session) -> tuple[Any, ...]:
    now = DeviceNowRow
    return (
        func.count().label("devices"),
        func.min(now.layout_id).label("layout"),
        func.max(now.layout_id).label("other_layout"),
        joined_bytes(tx, now.vals).label("vals"),
        joined_numbers(tx, now.device_id).label("numbers"),
        func.max(func.length(now.extras)).label("noted"),
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


def _block(tx: Session, among: list[Any], model: str, columns: str, found: Any) -> HeldBlock:
    noted = found.noted > len(NO_EXTRAS)
    extras = _extras(tx, among, found.numbers) if noted else {}
    block = joined_block(columns_from(columns), found.vals, extras)
    return HeldBlock(model, block, found.numbers, tx)


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
