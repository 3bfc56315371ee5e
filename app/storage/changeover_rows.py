"""What the changeover asks of the whole fleet, in a few statements however large it is."""

import json
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from typing import Any

import sqlalchemy as sa
from sqlmodel import Session, col, select

from app.domain.device_reports import Origin, StateRead
from app.domain.devices import Device
from app.domain.known_devices import PresetNow
from app.domain.natural_order import natural
from app.domain.packing import NO_EXTRAS, Packed
from app.storage.deviations import DeviationRow
from app.storage.device_presets import DevicePresetsRow
from app.storage.devices import OF_A_DEVICE, USED, DeviceRow, device_of
from app.storage.devices_now import DeviceNowRow, preset_from
from app.storage.layouts import LayoutRow
from app.storage.people import PersonRow
from app.storage.reports import COUNTING, ReportRow
from app.storage.settled_readings import tells

_BLIND = [origin.value for origin in (*filter(lambda one: one.blind, Origin), Origin.SETTLED)]
"""What several blind looks bear out is as good as one of them."""


@dataclass(frozen=True)
class KnownDevice:
    """`columns` is the layout as it is stored; empty, as the others are, where nothing is known.

    `told`: the latest reports of each preset, as they are stored. They are read when asked for:
    those of a large fleet, all at once, would take a gigabyte.
    """

    device: Device
    told: str
    columns: str
    packed: Packed

    @property
    def presets(self) -> dict[str, PresetNow]:
        return {name: preset_from(short) for name, short in json.loads(self.told).items()}

    @property
    def is_known(self) -> bool:
        return bool(self.packed.vals)


def known_devices(tx: Session, agency_id: int) -> list[KnownDevice]:
    """By station and tag; put in order here, which takes a fifth of what a database does."""
    now = DeviceNowRow
    wanted = (
        sa.select(
            *OF_A_DEVICE,
            col(LayoutRow.columns),
            col(now.vals),
            col(now.extras),
        )
        .outerjoin(now, col(now.device_id) == col(DeviceRow.id))
        .outerjoin(LayoutRow, col(now.layout_id) == col(LayoutRow.id))
        .where(col(DeviceRow.agency_id) == agency_id, USED)
    )
    told = _told(tx, agency_id)
    found = [
        KnownDevice(
            device_of(one),
            told.get(one.id, "{}"),
            one.columns or "[]",
            Packed(one.vals or b"", one.extras or NO_EXTRAS),
        )
        for one in tx.execute(wanted)
    ]
    station = cache(natural)
    return sorted(found, key=lambda one: (station(one.device.station), natural(one.device.tag)))


def _told(tx: Session, agency_id: int) -> dict[int, str]:
    """By itself: the database need not carry it about where it puts devices in order."""
    row = DevicePresetsRow
    wanted = (
        select(row.device_id, row.presets)
        .join(DeviceRow, col(row.device_id) == col(DeviceRow.id))
        .where(DeviceRow.agency_id == agency_id)
    )
    return dict(tx.exec(wanted).all())


def not_blind_since(tx: Session, agency_id: int, began: datetime) -> set[int]:
    """Reports that files and programs sent in: nobody knows that they were read blind."""
    row = ReportRow
    wanted = sa.select(col(row.id)).where(
        col(row.agency_id) == agency_id, col(row.read_at) >= began, ~col(row.origin).in_(_BLIND)
    )
    return set(tx.execute(wanted).scalars())


@dataclass(frozen=True)
class Conforming:
    device: str
    preset: str
    read_at: datetime
    columns: str
    vals: bytes
    state_read: StateRead
    minutes_off: int | None


def conforming_since(tx: Session, agency_id: int, began: datetime) -> Iterator[Conforming]:
    """Blind reports that count and in which nothing deviates, the oldest first; some may have
    read only a part."""
    row = ReportRow
    deviates = sa.select(col(DeviationRow.report_id)).where(
        col(DeviationRow.report_id) == col(row.id)
    )
    wanted = (
        sa.select(
            col(DeviceRow.tag),
            col(row.preset),
            col(row.read_at),
            col(LayoutRow.columns),
            col(row.vals),
            col(row.state_read),
            col(row.minutes_off),
        )
        .join(DeviceRow, col(row.device_id) == col(DeviceRow.id))
        .join(LayoutRow, col(row.layout_id) == col(LayoutRow.id))
        .where(
            col(row.agency_id) == agency_id,
            col(row.read_at) >= began,
            col(row.state_read).in_(COUNTING),
            col(row.origin).in_(_BLIND),
            tells(),
            ~deviates.exists(),
        )
        .order_by(col(row.read_at), col(row.id))
    )
    for found in tx.execute(wanted.execution_options(yield_per=10_000)):
        tag, preset, read_at, columns, vals, state, minutes_off = found
        yield Conforming(tag, preset, read_at, columns, vals, StateRead(state), minutes_off)


def readers_of(tx: Session, report_ids: Any) -> dict[int, str]:
    """Who read it; of a settled one, who looked."""
    row = ReportRow
    wanted = (
        sa.select(col(row.id), col(PersonRow.name), col(row.origin), col(row.reader_told))
        .join(PersonRow, col(row.reader_id) == col(PersonRow.id))
        .where(col(row.id).in_(list(report_ids)))
    )
    return {
        number: told if origin == Origin.SETTLED.value and told else name
        for number, name, origin, told in tx.execute(wanted)
    }
