"""One row a device: all that the wall reads, and every value the device is known to hold."""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache
from json.encoder import encode_basestring_ascii as quoted
from typing import Any

import sqlalchemy as sa
from sqlalchemy import CheckConstraint
from sqlmodel import Field, Session, Text, col, select

from app.domain.device_reports import StateRead
from app.domain.devices import Device
from app.domain.findings import Severity
from app.domain.fleet import Tally
from app.domain.known_devices import DeviceNow, Mark, PresetNow, StateNow
from app.domain.packing import Packed, pack, unpack
from app.domain.reading_sets import in_full
from app.storage.base import Row, filled, one_of
from app.storage.device_presets import DevicePresetsRow
from app.storage.devices import USED, DeviceRow, device_from
from app.storage.finding_rows import unsafe_devices
from app.storage.layouts import LayoutRow, columns_from, layout_for
from app.storage.revisions import RevisionRow, revision_id_of


class DeviceNowRow(Row, table=True):
    """`model` is the device's, which never changes: whoever walks all of these needs no other."""

    __tablename__ = "device_now"
    __table_args__ = (
        one_of("worst", Severity),
        CheckConstraint(
            "looser >= 0 AND tighter >= 0 AND other >= 0 AND missing >= 0",
            name="counts_not_negative",
        ),
        CheckConstraint("0 <= presets_read", name="presets_read_not_negative"),
        CheckConstraint("latest_read_at >= oldest_read_at", name="latest_not_before_oldest"),
        CheckConstraint("length(vals) > 0", name="vals_filled"),
        filled("model"),
    )

    device_id: int = Field(foreign_key="device.id", primary_key=True)
    model: str
    layout_id: int = Field(foreign_key="layout.id")
    vals: bytes
    extras: str = Field(sa_type=Text)
    presets_read: int
    presets_offered: int
    worst: str | None
    looser: int
    tighter: int
    other: int
    missing: int
    oldest_read_at: datetime
    latest_read_at: datetime
    revision_id: int | None = Field(foreign_key="revision.id")


def device_now(tx: Session, device_id: int) -> DeviceNow | None:
    wanted = (
        select(DeviceNowRow, DevicePresetsRow.presets, LayoutRow.columns, RevisionRow.number)
        .join(DevicePresetsRow, col(DevicePresetsRow.device_id) == col(DeviceNowRow.device_id))
        .join(LayoutRow, col(DeviceNowRow.layout_id) == col(LayoutRow.id))
        .outerjoin(RevisionRow, col(DeviceNowRow.revision_id) == col(RevisionRow.id))
        .where(DeviceNowRow.device_id == device_id)
    )
    found = tx.exec(wanted).one_or_none()
    if found is None:
        return None
    row, presets, columns, revision = found
    return DeviceNow(
        presets={name: preset_from(short) for name, short in json.loads(presets).items()},
        readings=unpack(columns_from(columns), Packed(row.vals, row.extras)),
        offered=row.presets_offered,
        revision=revision,
    )


def save_device_now(tx: Session, device: Device, now: DeviceNow, *, agency_id: int) -> None:
    columns = sorted(now.readings)
    packed, tally = pack(columns, now.readings), now.tally
    row = DeviceNowRow(
        device_id=device.id,
        model=device.model,
        layout_id=layout_for(tx, agency_id=agency_id, columns=columns),
        vals=packed.vals,
        extras=packed.extras,
        presets_read=now.presets_read,
        presets_offered=now.offered,
        worst=None if tally.worst is None else tally.worst.value,
        looser=tally.looser,
        tighter=tally.tighter,
        other=tally.other,
        missing=tally.missing,
        oldest_read_at=now.oldest_read_at,
        latest_read_at=now.latest_read_at,
        revision_id=revision_id_of(tx, agency_id, now.revision),
    )
    tx.merge(row)
    tx.flush()
    tx.merge(DevicePresetsRow(device_id=device.id, presets=presets_kept(now.presets)))
    tx.flush()


def telling_reports(tx: Session, agency_id: int) -> list[int]:
    """The reports that tell what each preset of each device holds now, but what is in doubt."""
    return [report for report, waits in telling_now(tx, agency_id).items() if not waits]


def telling_now(tx: Session, agency_id: int) -> dict[int, bool]:
    """Of every preset of every device the report that tells, and whether it waits for another
    look."""
    wanted = (
        select(DevicePresetsRow.presets)
        .join(DeviceRow, col(DevicePresetsRow.device_id) == col(DeviceRow.id))
        .where(DeviceRow.agency_id == agency_id, USED)
        .order_by(col(DeviceRow.tag))
    )
    telling = [
        preset_from(short).telling
        for presets in tx.exec(wanted)
        for short in json.loads(presets).values()
    ]
    return {state.report: state.waits for state in telling}


def marks_of(tx: Session, agency_id: int) -> list[Mark]:
    """The whole fleet in one statement, without unpacking a value; no retired device."""
    wanted = (
        sa.select(*MARK)
        .outerjoin(DeviceNowRow, col(DeviceNowRow.device_id) == col(DeviceRow.id))
        .outerjoin(RevisionRow, col(DeviceNowRow.revision_id) == col(RevisionRow.id))
        .where(col(DeviceRow.agency_id) == agency_id, USED)
        .order_by(col(DeviceRow.station), col(DeviceRow.tag))
    )
    return [mark_from(*found) for found in tx.execute(wanted)]


UNSAFE_FINDING: Any = col(DeviceRow.id).in_(unsafe_devices())
MARK: tuple[Any, ...] = (
    DeviceRow,
    DeviceNowRow.looser,
    DeviceNowRow.tighter,
    DeviceNowRow.other,
    DeviceNowRow.missing,
    DeviceNowRow.worst,
    DeviceNowRow.presets_read,
    DeviceNowRow.presets_offered,
    DeviceNowRow.oldest_read_at,
    DeviceNowRow.latest_read_at,
    RevisionRow.number,
    UNSAFE_FINDING,
)


def mark_from(row: DeviceRow, *found: Any) -> Mark:
    device = device_from(row)
    looser, tighter, other, missing, worst, read, offered, oldest, latest, revision, grave = found
    if oldest is None:
        return Mark(device)
    tally = Tally(looser, tighter, other, missing, None if worst is None else Severity(worst))
    return Mark(device, tally, read, offered, oldest, latest, revision, bool(grave))


@dataclass(frozen=True)
class Held:
    """Every value that a device is known to hold, still packed; equal where devices hold alike."""

    model: str
    columns: str
    packed: Packed


def held_beside(
    tx: Session, agency_id: int, *, began: datetime, tags: Sequence[str]
) -> dict[str, Held]:
    """Of these, by tag, those that may not have what came into force then, but are not unsafe."""
    now = DeviceNowRow
    wanted = (
        sa.select(*_HELD)
        .join(DeviceRow, col(now.device_id) == col(DeviceRow.id))
        .join(LayoutRow, col(now.layout_id) == col(LayoutRow.id))
        .where(
            col(DeviceRow.agency_id) == agency_id,
            col(DeviceRow.tag).in_(tags),
            sa.or_(col(now.worst).is_(None), col(now.worst) != Severity.UNSAFE.value),
            sa.or_(col(now.worst) == Severity.OFF_PROTOCOL.value, col(now.oldest_read_at) < began),
        )
    )
    return {
        tag: Held(model, columns, Packed(vals, extras))
        for tag, model, columns, vals, extras in tx.execute(wanted)
    }


_HELD: tuple[Any, ...] = (
    DeviceRow.tag,
    DeviceRow.model,
    LayoutRow.columns,
    DeviceNowRow.vals,
    DeviceNowRow.extras,
)


def presets_kept(presets: Mapping[str, PresetNow]) -> str:
    """As JSON, put together by hand: the encoder takes longer than all the rest of a device."""
    told = [f"{quoted(name)}: {_states_kept(one.states)}" for name, one in presets.items()]
    return f"{{{', '.join(told)}}}"


def _states_kept(states: Mapping[StateRead, StateNow]) -> str:
    return f"{{{', '.join([_state_kept(state.value, one) for state, one in states.items()])}}}"


def _state_kept(state: str, one: StateNow) -> str:
    waits = ', "waits": true' if one.waits else ""
    doubted = f', "doubted": {one.doubted}' if one.doubted else ""
    return (
        f'"{state}": {{"report": {one.report}, "read_at": "{in_full(one.read_at)}", '
        f'"tally": {_tally_kept(one.tally)}{waits}{doubted}}}'
    )


@lru_cache(maxsize=4096)
def _tally_kept(tally: Tally) -> str:
    return json.dumps(vars(tally))


def preset_from(short: Mapping[str, Any]) -> PresetNow:
    return PresetNow({_STATES[state]: _state(one) for state, one in short.items()})


_STATES = {state.value: state for state in StateRead}


def _state(short: Mapping[str, Any]) -> StateNow:
    return StateNow(
        report=short["report"],
        read_at=_moment(short["read_at"]),
        tally=_tally(**short["tally"]),
        waits=short.get("waits", False),
        doubted=short.get("doubted", 0),
    )


@lru_cache(maxsize=4096)
def _moment(text: str) -> datetime:
    return datetime.fromisoformat(text)


@lru_cache(maxsize=4096)
def _tally(*, looser: int, tighter: int, other: int, missing: int, worst: str | None) -> Tally:
    """Large fleets have few different ones."""
    return Tally(looser, tighter, other, missing, None if worst is None else Severity(worst))
