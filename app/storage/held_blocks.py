"""Whole blocks of what devices are known to hold, of one model and layout each."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import sqlalchemy as sa
from sqlalchemy import func
from sqlmodel import Session, col, select

from app.domain.findings import Severity
from app.domain.packing import NO_EXTRAS
from app.domain.reading_block import ReadingBlock, joined_block
from app.storage.devices import RETIRED, DeviceRow
from app.storage.devices_now import DeviceNowRow
from app.storage.joined_values import joined_bytes
from app.storage.layouts import LayoutRow, columns_from

A_TIME = 10_000
_Kind = tuple[str, int]
"""Model and layout."""


@dataclass(frozen=True)
class HeldBlock:
    """`among`: which rows they are; a device each, in the order of their numbers."""

    model: str
    block: ReadingBlock
    among: Sequence[Any]
    tx: Session

    @cached_property
    def numbers(self) -> list[int]:
        return _numbers(self.tx, self.among)

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
            .where(col(DeviceRow.id).between(min(self.numbers), max(self.numbers)))
        )
        found = {number: (tag, worst) for number, tag, worst in _plainly(self.tx, wanted)}
        own = [found[number] for number in self.numbers]
        return tuple(tag for tag, _ in own), tuple(_SEVERITIES[worst] for _, worst in own)


_SEVERITIES: dict[str | None, Severity | None] = {
    None: None,
    **{one.value: one for one in Severity},
}


def held_blocks(tx: Session, agency_id: int) -> Iterator[HeldBlock]:
    """Of at most `A_TIME` devices each. Two statements for each `A_TIME` devices; where these
    are of several kinds, three for each kind besides."""
    # Each by itself, found at once by its index; of both together SQLite reads the whole table.
    edges = (sa.select(of(DeviceNowRow.device_id)) for of in (func.min, func.max))
    first, last = tx.execute(sa.select(*(edge.scalar_subquery() for edge in edges))).one()
    if first is None:
        return
    # Told by its layouts: asked for its devices, SQLite would look through the index of all.
    layouts = _layouts(tx, agency_id)
    kind: _Kind | None = None
    for start in range(first, last + 1, A_TIME):
        among = _in_use(tx, start, start + A_TIME - 1)
        kind = kind or _any_kind(tx, [*among, _of_layouts(agency_id)])
        alike = None if kind is None else _block_of_all(tx, among, kind, layouts)
        if alike is None:
            kind = None
            yield from _by_kind(tx, [*among, _of_layouts(agency_id)], layouts)
        elif len(alike.block.vals):
            yield alike


def _layouts(tx: Session, agency_id: int) -> dict[int, str]:
    wanted = select(col(LayoutRow.id), col(LayoutRow.columns))
    found = tx.exec(wanted.where(LayoutRow.agency_id == agency_id)).all()
    return {number: columns for number, columns in found if number is not None}


def _of_layouts(agency_id: int) -> Any:
    own = sa.select(col(LayoutRow.id)).where(col(LayoutRow.agency_id) == agency_id)
    return col(DeviceNowRow.layout_id).in_(own)


def _in_use(tx: Session, first: int, last: int) -> list[Any]:
    """Nothing of the register is read but which devices are retired, as few are."""
    number = col(DeviceNowRow.device_id)
    gone = _retired(tx, first, last)
    return [number.between(first, last), *([number.not_in(gone)] if gone else [])]


def _block_of_all(
    tx: Session, among: list[Any], kind: _Kind, layouts: Mapping[int, str]
) -> HeldBlock | None:
    """None where one of them is of another kind, or has more than numbers."""
    now, (model, layout_id) = DeviceNowRow, kind
    other = sa.or_(
        col(now.layout_id) != layout_id, col(now.model) != model, col(now.extras) != NO_EXTRAS
    )
    others = func.count(sa.case((other, 1))).label("others")
    vals = joined_bytes(tx, now.vals, by=now.device_id).label("vals")
    found = tx.execute(sa.select(others, vals).where(*among)).one()
    if found.others:
        return None
    block = joined_block(columns_from(layouts[layout_id]), found.vals or b"", {})
    return HeldBlock(model, block, among, tx)


def _retired(tx: Session, first: int, last: int) -> list[int]:
    wanted = sa.select(col(DeviceRow.id)).where(col(DeviceRow.id).between(first, last), RETIRED)
    return list(tx.execute(wanted).scalars())


def _by_kind(tx: Session, among: list[Any], layouts: Mapping[int, str]) -> Iterator[HeldBlock]:
    now = DeviceNowRow
    for model, layout_id in _kinds(tx, among):
        own = [*among, col(now.model) == model, col(now.layout_id) == layout_id]
        vals = joined_bytes(tx, now.vals, by=now.device_id)
        noted = func.max(func.length(now.extras))
        joined, longest = tx.execute(sa.select(vals, noted).where(*own)).one()
        extras = _extras(tx, own) if longest > len(NO_EXTRAS) else {}
        block = joined_block(columns_from(layouts[layout_id]), joined, extras)
        yield HeldBlock(model, block, own, tx)


def _any_kind(tx: Session, among: list[Any]) -> _Kind | None:
    row = DeviceNowRow
    wanted = (
        sa.select(col(row.model), col(row.layout_id)).where(*among).order_by(col(row.device_id))
    )
    found = tx.execute(wanted.limit(1)).first()
    return None if found is None else (found[0], found[1])


def _kinds(tx: Session, among: list[Any]) -> list[_Kind]:
    place = col(DeviceNowRow.model), col(DeviceNowRow.layout_id)
    wanted = sa.select(*place).where(*among).distinct().order_by(*place)
    return [(name, number) for name, number in tx.execute(wanted)]


def _extras(tx: Session, among: list[Any]) -> dict[int, str]:
    """By row of the block."""
    rows = {number: row for row, number in enumerate(_numbers(tx, among))}
    wanted = sa.select(col(DeviceNowRow.device_id), col(DeviceNowRow.extras)).where(
        *among, col(DeviceNowRow.extras) != NO_EXTRAS
    )
    return {rows[number]: extras for number, extras in _plainly(tx, wanted)}


def _numbers(tx: Session, among: Sequence[Any]) -> list[int]:
    number = col(DeviceNowRow.device_id)
    return [found for (found,) in _plainly(tx, sa.select(number).where(*among).order_by(number))]


def _plainly(tx: Session, wanted: Any) -> Any:
    """The driver's own rows: text and numbers need no converting, which takes most of the time."""
    return tx.connection().execute(wanted).cursor.fetchall()
