"""Readings under way and settled; each look that was made is a report, which never changes."""

import json
from collections import defaultdict
from collections.abc import Collection, Sequence
from datetime import datetime
from typing import Any

import sqlalchemy as sa
from sqlalchemy import CheckConstraint, Index, UniqueConstraint, update
from sqlmodel import Field, Session, Text, col, select

from app.domain.device_reports import StateRead
from app.domain.devices import Device
from app.domain.double_reading import MOST_LOOKS, NextLook, Rereading
from app.domain.people import Person
from app.domain.reading_sessions import LockedLook, NewReading, ReadingSession, ReadingStatus
from app.domain.triggers import Trigger
from app.storage.base import NumberedRow, Row, filled, one_of
from app.storage.devices import DeviceRow
from app.storage.people import PersonRow
from app.storage.reports import ReportRow


class ReadingSessionRow(NumberedRow, table=True):
    """The counts are those of `Rereading`, 0 while nothing was looked at again."""

    __tablename__ = "reading_session"
    __table_args__ = (
        UniqueConstraint("agency_id", "idempotency_key"),
        Index(None, "device_id", "status"),
        Index(None, "telling_report_id"),
        one_of("state_read", StateRead),
        one_of("trigger", Trigger),
        one_of("status", ReadingStatus),
        filled("preset"),
        filled("software"),
        filled("idempotency_key"),
        CheckConstraint("minutes_off >= 0", name="minutes_off_not_negative"),
        CheckConstraint("die >= 0 AND die < 100", name="die_is_a_percentage"),
        CheckConstraint(
            "flags >= confirmed AND compared >= disagreed AND confirmed >= 0 AND disagreed >= 0",
            name="counts_fit",
        ),
    )

    agency_id: int = Field(foreign_key="agency.id")
    device_id: int = Field(foreign_key="device.id")
    preset: str
    state_read: str
    trigger: str
    software: str
    minutes_off: int | None
    device_clock: str
    die: int
    whole: bool
    idempotency_key: str
    opened_by: int = Field(foreign_key="person.id")
    opened_at: datetime
    status: str
    telling_report_id: int | None = Field(default=None, foreign_key="report.id")
    flags: int
    confirmed: int
    compared: int
    disagreed: int


class ReadingLookRow(Row, table=True):
    """`asked`, `other_than` and `closely` as JSON; `report_id` None: the look is wanted."""

    __tablename__ = "reading_look"
    __table_args__ = (
        UniqueConstraint("report_id"),
        filled("asked"),
        filled("other_than"),
        filled("closely"),
        CheckConstraint(f"number >= 1 AND number <= {MOST_LOOKS}", name="number_in_reach"),
    )

    session_id: int = Field(foreign_key="reading_session.id", primary_key=True)
    number: int = Field(primary_key=True)
    asked: str = Field(sa_type=Text)
    other_than: str
    closely: str = Field(sa_type=Text)
    report_id: int | None = Field(default=None, foreign_key="report.id")


def add_session(
    tx: Session,
    device: Device,
    new: NewReading,
    *,
    die: int,
    whole: bool,
    first: NextLook,
    by: Person,
    now: datetime,
) -> int:
    row = ReadingSessionRow(
        agency_id=by.agency_id,
        device_id=device.id,
        preset=new.preset,
        state_read=new.state_read.value,
        trigger=new.trigger.value,
        software=new.software,
        minutes_off=new.minutes_off,
        device_clock=new.device_clock,
        die=die,
        whole=whole,
        idempotency_key=new.key,
        opened_by=by.id,
        opened_at=now,
        status=ReadingStatus.WAITING.value,
        flags=0,
        confirmed=0,
        compared=0,
        disagreed=0,
    )
    tx.add(row)
    tx.flush()
    want_look(tx, row.saved_id, first)
    return row.saved_id


def want_look(tx: Session, session_id: int, wanted: NextLook) -> None:
    tx.add(
        ReadingLookRow(
            session_id=session_id,
            number=wanted.number,
            asked=json.dumps(wanted.asked),
            other_than=json.dumps(sorted(wanted.other_than)),
            closely=json.dumps(sorted(wanted.closely)),
        )
    )
    tx.flush()


def lock_look(tx: Session, session_id: int, number: int, *, report_id: int) -> None:
    look = ReadingLookRow
    here = col(look.session_id) == session_id, col(look.number) == number
    tx.exec(update(look).where(*here).values(report_id=report_id))


def tell_session(
    tx: Session,
    session_id: int,
    *,
    status: ReadingStatus,
    telling: int | None,
    counted: Rereading | None = None,
) -> None:
    values: dict[str, Any] = {"status": status.value, "telling_report_id": telling}
    values |= {} if counted is None else vars(counted)
    row = ReadingSessionRow
    tx.exec(update(row).where(col(row.id) == session_id).values(**values))


def session_with_key(tx: Session, *, agency_id: int, key: str) -> ReadingSession | None:
    row = ReadingSessionRow
    return _first(tx, row.agency_id == agency_id, row.idempotency_key == key)


def find_session(tx: Session, *, agency_id: int, session_id: int) -> ReadingSession | None:
    row = ReadingSessionRow
    return _first(tx, row.agency_id == agency_id, row.id == session_id)


def session_by_id(tx: Session, session_id: int) -> ReadingSession:
    return _sessions(tx, ReadingSessionRow.id == session_id)[0]


def sessions_by_id(tx: Session, session_ids: Sequence[int]) -> list[ReadingSession]:
    return _sessions(tx, col(ReadingSessionRow.id).in_(session_ids))


def session_of_report(tx: Session, *, agency_id: int, report_id: int) -> ReadingSession | None:
    look = select(ReadingLookRow.session_id).where(ReadingLookRow.report_id == report_id)
    row = ReadingSessionRow
    here = sa.or_(col(row.id).in_(look), col(row.telling_report_id) == report_id)
    return _first(tx, row.agency_id == agency_id, here)


def waiting_sessions(
    tx: Session, *, agency_id: int, device: str | None = None
) -> list[ReadingSession]:
    """Those in which a look is wanted, the oldest first."""
    row = ReadingSessionRow
    wanted = [row.agency_id == agency_id, row.status == ReadingStatus.WAITING.value]
    if device is not None:
        wanted.append(DeviceRow.tag == device)
    return _sessions(tx, *wanted)


def _first(tx: Session, *conditions: Any) -> ReadingSession | None:
    return next(iter(_sessions(tx, *conditions)), None)


def _sessions(tx: Session, *conditions: Any) -> list[ReadingSession]:
    """In two statements."""
    row = ReadingSessionRow
    wanted = (
        select(row, DeviceRow.tag, PersonRow.name)
        .join(DeviceRow, col(row.device_id) == col(DeviceRow.id))
        .join(PersonRow, col(row.opened_by) == col(PersonRow.id))
        .where(*conditions)
        .order_by(col(row.opened_at), col(row.id))
        .execution_options(populate_existing=True)
    )
    found = tx.exec(wanted).all()
    looks = _looks_of(tx, [one.saved_id for one, *_ in found])
    return [_session(*one, looks=looks[one[0].saved_id]) for one in found]


_LOOK: tuple[Any, ...] = (
    ReadingLookRow,
    ReportRow.reader_id,
    PersonRow.name,
    ReportRow.read_at,
)


def _looks_of(tx: Session, session_ids: Collection[int]) -> dict[int, list[LockedLook]]:
    if not session_ids:
        return {}
    look = ReadingLookRow
    wanted = (
        sa.select(*_LOOK)
        .outerjoin(ReportRow, col(look.report_id) == col(ReportRow.id))
        .outerjoin(PersonRow, col(ReportRow.reader_id) == col(PersonRow.id))
        .where(col(look.session_id).in_(session_ids))
        .order_by(col(look.session_id), col(look.number))
        .execution_options(populate_existing=True)
    )
    found: dict[int, list[LockedLook]] = defaultdict(list)
    for row, reader_id, reader, read_at in tx.execute(wanted):
        others = frozenset(json.loads(row.other_than))
        closely = frozenset(json.loads(row.closely))
        asked = NextLook(row.number, tuple(json.loads(row.asked)), others, closely)
        made = LockedLook(asked, row.report_id, reader_id, reader or "", read_at)
        found[row.session_id].append(made)
    return found


def _session(
    row: ReadingSessionRow, device: str, opener: str, *, looks: Sequence[LockedLook]
) -> ReadingSession:
    return ReadingSession(
        id=row.saved_id,
        device=device,
        preset=row.preset,
        state_read=StateRead(row.state_read),
        trigger=Trigger(row.trigger),
        software=row.software,
        minutes_off=row.minutes_off,
        device_clock=row.device_clock,
        die=row.die,
        whole=row.whole,
        opened_by=row.opened_by,
        opener=opener,
        opened_at=row.opened_at,
        status=ReadingStatus(row.status),
        telling=row.telling_report_id,
        looks=tuple(looks),
    )
