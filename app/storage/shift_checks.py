"""Shift checks as they came in; nothing of one changes but that what it found was put right."""

import json
from collections import defaultdict
from datetime import datetime
from typing import Any

import sqlalchemy as sa
from sqlalchemy import CheckConstraint, Index, UniqueConstraint, update
from sqlalchemy.orm import aliased
from sqlmodel import Field, Session, Text, col, select

from app.domain.device_reports import StateRead
from app.domain.devices import Device, RegisterStatus
from app.domain.people import Person
from app.domain.phone_clocks import PhoneClock
from app.domain.shift_checks import (
    CrewFound,
    NewShiftCheck,
    PutRight,
    Queued,
    ShiftCheck,
    Weighed,
    not_fitted,
    unread,
)
from app.domain.shift_questions import Answer, Question
from app.storage.base import NumberedRow, both_or_neither, filled, sha256_hex
from app.storage.devices import DeviceRow, device_from
from app.storage.people import PersonRow
from app.storage.reading_sessions import ReadingSessionRow

_NOTHING = json.dumps([])


class ShiftCheckRow(NumberedRow, table=True):
    """Its values are the first look of the reading. `answers` and `found` as JSON; what the phone
    told is null where the form itself was sent."""

    __tablename__ = "shift_check"
    __table_args__ = (
        UniqueConstraint("agency_id", "idempotency_key"),
        UniqueConstraint("agency_id", "phone", "number"),
        UniqueConstraint("session_id"),
        Index(None, "device_id", "read_at"),
        filled("idempotency_key"),
        filled("answers"),
        filled("found"),
        filled("phone"),
        filled("put_right_note"),
        sha256_hex("fingerprint"),
        CheckConstraint("unread >= 0", name="unread_not_negative"),
        CheckConstraint("not_fitted >= 0", name="not_fitted_not_negative"),
        CheckConstraint("number >= 1", name="number_positive"),
        CheckConstraint("read_at <= received_at", name="read_before_received"),
        CheckConstraint("put_right_by <> person_id", name="put_right_by_another"),
        *(both_or_neither(part, "number") for part in ("phone", "locked_at", "sent_at")),
        *(both_or_neither(part, "put_right_at") for part in ("put_right_by", "put_right_note")),
    )

    agency_id: int = Field(foreign_key="agency.id")
    device_id: int = Field(foreign_key="device.id")
    session_id: int = Field(foreign_key="reading_session.id")
    person_id: int = Field(foreign_key="person.id")
    idempotency_key: str
    fingerprint: str
    answers: str = Field(sa_type=Text)
    found: str = Field(sa_type=Text)
    remark: str = Field(sa_type=Text)
    unread: int
    not_fitted: int
    phone: str | None = None
    number: int | None = None
    locked_at: datetime | None = None
    sent_at: datetime | None = None
    read_at: datetime
    received_at: datetime
    seen: bool
    put_right_by: int | None = Field(default=None, foreign_key="person.id")
    put_right_at: datetime | None = None
    put_right_note: str | None = Field(default=None, sa_type=Text)


def add_check(
    tx: Session,
    new: NewShiftCheck,
    weighed: Weighed,
    *,
    device: Device,
    by: Person,
    now: datetime,
) -> int:
    queued = new.queued
    row = ShiftCheckRow(
        agency_id=by.agency_id,
        device_id=device.id,
        session_id=weighed.reading,
        person_id=by.id,
        idempotency_key=new.key,
        fingerprint=weighed.fingerprint,
        answers=json.dumps({one.value: given.value for one, given in new.answers.items()}),
        found=json.dumps([vars(one) for one in weighed.found]),
        remark=new.remark,
        unread=unread(new.readings.values(), new.answers),
        not_fitted=not_fitted(new.readings.values(), new.answers),
        phone=None if queued is None else queued.phone,
        number=None if queued is None else queued.number,
        locked_at=None if queued is None else queued.clock.locked_at,
        sent_at=None if queued is None else queued.clock.sent_at,
        read_at=weighed.read_at,
        received_at=now,
        seen=new.seen,
    )
    tx.add(row)
    tx.flush()
    return row.saved_id


def put_right(tx: Session, check_id: int, *, note: str, by: Person, now: datetime) -> None:
    values = {"put_right_by": by.id, "put_right_at": now, "put_right_note": note}
    tx.exec(update(ShiftCheckRow).where(col(ShiftCheckRow.id) == check_id).values(**values))


def check_with_key(tx: Session, *, agency_id: int, key: str) -> ShiftCheck | None:
    row = ShiftCheckRow
    return _first(tx, row.agency_id == agency_id, row.idempotency_key == key)


def check_of_phone(tx: Session, *, agency_id: int, phone: str, number: int) -> ShiftCheck | None:
    row = ShiftCheckRow
    return _first(tx, row.agency_id == agency_id, row.phone == phone, row.number == number)


def find_check(tx: Session, *, agency_id: int, check_id: int) -> ShiftCheck | None:
    return _first(tx, ShiftCheckRow.agency_id == agency_id, ShiftCheckRow.id == check_id)


def latest_checks(tx: Session, device: Device, *, most: int) -> list[ShiftCheck]:
    return _checks(tx, ShiftCheckRow.device_id == device.id, most=most)


def checks_that_wait(tx: Session, agency_id: int) -> list[ShiftCheck]:
    """What a crew found and nobody has put right, the latest first."""
    row = ShiftCheckRow
    return _checks(
        tx, row.agency_id == agency_id, row.found != _NOTHING, col(row.put_right_at).is_(None)
    )


def grave_by_device(tx: Session, agency_id: int, *conditions: Any) -> dict[int, list[str]]:
    """What keeps a device from the next patient and was not put right, by device; `conditions`
    on devices."""
    row = ShiftCheckRow
    wanted = (
        sa.select(col(row.device_id), col(row.found))
        .join(DeviceRow, col(row.device_id) == col(DeviceRow.id))
        .where(
            col(row.agency_id) == agency_id,
            col(row.found) != _NOTHING,
            col(row.put_right_at).is_(None),
            *conditions,
        )
        .order_by(col(row.read_at))
    )
    found: dict[int, list[str]] = defaultdict(list)
    for device, told in tx.execute(wanted):
        found[device] += [one["words"] for one in json.loads(told) if one["grave"]]
    return {device: list(dict.fromkeys(words)) for device, words in found.items() if words}


def times_since(tx: Session, agency_id: int, since: datetime) -> dict[str, list[datetime]]:
    """When each device was checked, by tag."""
    row = ShiftCheckRow
    wanted = (
        sa.select(col(DeviceRow.tag), col(row.read_at))
        .join(DeviceRow, col(row.device_id) == col(DeviceRow.id))
        .where(col(row.agency_id) == agency_id, col(row.read_at) > since)
    )
    found: dict[str, list[datetime]] = defaultdict(list)
    for tag, at in tx.execute(wanted):
        found[tag].append(at)
    return found


def devices_in_service(tx: Session, agency_id: int) -> list[Device]:
    wanted = select(DeviceRow).where(
        DeviceRow.agency_id == agency_id, DeviceRow.status == RegisterStatus.IN_SERVICE.value
    )
    return [device_from(row) for row in tx.exec(wanted)]


def _first(tx: Session, *conditions: Any) -> ShiftCheck | None:
    return next(iter(_checks(tx, *conditions, most=1)), None)


def _checks(tx: Session, *conditions: Any, most: int | None = None) -> list[ShiftCheck]:
    row, session, righter = ShiftCheckRow, ReadingSessionRow, aliased(PersonRow)
    told: tuple[Any, ...] = (row, DeviceRow.tag, PersonRow.name, righter.name, session)
    wanted = (
        sa.select(*told)
        .join(DeviceRow, col(row.device_id) == col(DeviceRow.id))
        .join(PersonRow, col(row.person_id) == col(PersonRow.id))
        .join(session, col(row.session_id) == col(session.id))
        .outerjoin(righter, col(row.put_right_by) == col(righter.id))
        .where(*conditions)
        .order_by(col(row.read_at).desc(), col(row.id).desc())
        .limit(most)
        .execution_options(populate_existing=True)
    )
    return [_check(*one) for one in tx.execute(wanted)]


def _check(
    row: ShiftCheckRow, device: str, person: str, righter: str | None, session: ReadingSessionRow
) -> ShiftCheck:
    answers = json.loads(row.answers)
    return ShiftCheck(
        id=row.saved_id,
        device=device,
        reading=row.session_id,
        key=row.idempotency_key,
        fingerprint=row.fingerprint,
        preset=session.preset,
        state_read=StateRead(session.state_read),
        person_id=row.person_id,
        person=person,
        read_at=row.read_at,
        received_at=row.received_at,
        answers={Question(one): Answer(given) for one, given in answers.items()},
        found=tuple(CrewFound(**one) for one in json.loads(row.found)),
        remark=row.remark,
        unread=row.unread,
        not_fitted=row.not_fitted,
        queued=_queued(row),
        put_right=_put_right(row, righter),
        seen=row.seen,
    )


def _queued(row: ShiftCheckRow) -> Queued | None:
    if row.phone is None or row.number is None or row.locked_at is None or row.sent_at is None:
        return None
    return Queued(row.phone, row.number, PhoneClock(row.locked_at, row.sent_at))


def _put_right(row: ShiftCheckRow, righter: str | None) -> PutRight | None:
    if row.put_right_by is None or row.put_right_at is None:
        return None
    return PutRight(row.put_right_by, righter or "", row.put_right_at, row.put_right_note or "")
