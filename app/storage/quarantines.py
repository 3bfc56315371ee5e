"""Devices that nobody may touch, who had them meanwhile, and where their log is kept."""

from collections import defaultdict
from collections.abc import Collection, Mapping
from datetime import datetime
from typing import Any

import sqlalchemy as sa
from sqlalchemy import CheckConstraint, Index, text
from sqlmodel import Field, Session, Text, col, select

from app.domain.people import Person
from app.domain.quarantines import Handover, LogKept, Quarantine, Word
from app.storage.base import NumberedRow, both_or_neither, filled
from app.storage.devices import DeviceRow
from app.storage.people import names_of

_STANDING = text("released_at IS NULL")


class QuarantineRow(NumberedRow, table=True):
    __tablename__ = "quarantine"
    __table_args__ = (
        Index(
            "uq_quarantine_one_standing",
            "device_id",
            unique=True,
            sqlite_where=_STANDING,
            postgresql_where=_STANDING,
        ),
        filled("reason"),
        filled("log_place"),
        filled("log_waived_reason"),
        filled("release_reason"),
        CheckConstraint("length(log_fingerprint) = 64", name="log_fingerprint_is_sha256"),
        *(both_or_neither(part, "log_at") for part in ("log_fingerprint", "log_place", "log_by")),
        *(
            both_or_neither(part, "log_waived_at")
            for part in ("log_waived_by", "log_waived_reason")
        ),
        *(both_or_neither(part, "released_at") for part in ("released_by", "release_reason")),
    )

    agency_id: int = Field(foreign_key="agency.id", index=True)
    device_id: int = Field(foreign_key="device.id")
    finding_id: int = Field(foreign_key="finding.id", index=True)
    reason: str = Field(sa_type=Text)
    placed_by: int = Field(foreign_key="person.id")
    placed_at: datetime
    log_fingerprint: str | None = None
    log_place: str | None = None
    log_by: int | None = Field(default=None, foreign_key="person.id")
    log_at: datetime | None = None
    log_waived_by: int | None = Field(default=None, foreign_key="person.id")
    log_waived_at: datetime | None = None
    log_waived_reason: str | None = Field(default=None, sa_type=Text)
    released_by: int | None = Field(default=None, foreign_key="person.id")
    released_at: datetime | None = None
    release_reason: str | None = Field(default=None, sa_type=Text)


class CustodyRow(NumberedRow, table=True):
    """`given_by` and `taken_by` as they were written: they need not work here."""

    __tablename__ = "custody"
    __table_args__ = (
        filled("given_by"),
        filled("taken_by"),
        filled("place"),
        CheckConstraint("at <= recorded_at", name="told_afterwards"),
    )

    quarantine_id: int = Field(foreign_key="quarantine.id", index=True)
    given_by: str
    taken_by: str
    at: datetime
    place: str
    seal: str
    note: str = Field(sa_type=Text)
    recorded_by: int = Field(foreign_key="person.id")
    recorded_at: datetime


def add_quarantine(
    tx: Session, *, device_id: int, finding_id: int, reason: str, by: Person, now: datetime
) -> None:
    tx.add(
        QuarantineRow(
            agency_id=by.agency_id,
            device_id=device_id,
            finding_id=finding_id,
            reason=reason,
            placed_by=by.id,
            placed_at=now,
        )
    )
    tx.flush()


def change_quarantine(tx: Session, quarantine_id: int, **values: Any) -> None:
    row = QuarantineRow
    tx.exec(sa.update(row).where(col(row.id) == quarantine_id).values(**values))


def add_handover(tx: Session, quarantine_id: int, link: Handover, *, by: Person) -> None:
    tx.add(
        CustodyRow(
            quarantine_id=quarantine_id,
            given_by=link.given_by,
            taken_by=link.taken_by,
            at=link.at,
            place=link.place,
            seal=link.seal,
            note=link.note,
            recorded_by=by.id,
            recorded_at=link.recorded_at,
        )
    )
    tx.flush()


def is_held(device_id: Any) -> Any:
    """A condition for other queries: the device is in quarantine."""
    return (
        sa.select(sa.literal(1))
        .where(QuarantineRow.device_id == device_id, col(QuarantineRow.released_at).is_(None))
        .correlate_except(QuarantineRow)
        .exists()
    )


def standing_on(tx: Session, agency_id: int) -> frozenset[str]:
    """Tags of the devices that are in quarantine."""
    wanted = (
        select(DeviceRow.tag)
        .join(QuarantineRow, col(QuarantineRow.device_id) == col(DeviceRow.id))
        .where(QuarantineRow.agency_id == agency_id, col(QuarantineRow.released_at).is_(None))
    )
    return frozenset(tx.exec(wanted))


def quarantines_of(tx: Session, device_id: int) -> list[Quarantine]:
    """The latest first."""
    row = QuarantineRow
    wanted = (
        select(row, DeviceRow.tag)
        .join(DeviceRow, col(row.device_id) == col(DeviceRow.id))
        .where(row.device_id == device_id)
        .order_by(col(row.id).desc())
        .execution_options(populate_existing=True)
    )
    found = tx.exec(wanted).all()
    links = _custody_of(tx, [one.saved_id for one, _ in found])
    people = {number for one, _ in found for number in _people_of(one)}
    people |= {link.recorded_by for some in links.values() for link in some}
    names = names_of(tx, people)
    return [_quarantine(one, tag, links[one.saved_id], names) for one, tag in found]


def standing_of(tx: Session, device_id: int) -> Quarantine | None:
    return next((one for one in quarantines_of(tx, device_id) if one.stands), None)


def _custody_of(tx: Session, numbers: Collection[int]) -> dict[int, list[CustodyRow]]:
    found: dict[int, list[CustodyRow]] = defaultdict(list)
    wanted = select(CustodyRow).where(col(CustodyRow.quarantine_id).in_(numbers))
    for row in tx.exec(wanted.order_by(col(CustodyRow.id))):
        found[row.quarantine_id].append(row)
    return found


def _people_of(row: QuarantineRow) -> list[int]:
    people = [row.placed_by, row.log_by, row.log_waived_by, row.released_by]
    return [number for number in people if number is not None]


def _quarantine(
    row: QuarantineRow, tag: str, links: Collection[CustodyRow], names: Mapping[int, str]
) -> Quarantine:
    def word(person: int | None, at: datetime | None, reason: str | None) -> Word | None:
        if person is None or at is None or reason is None:
            return None
        return Word(names[person], at, reason)

    return Quarantine(
        id=row.saved_id,
        device=tag,
        finding=row.finding_id,
        placed=Word(names[row.placed_by], row.placed_at, row.reason),
        log=_log(row, names),
        log_waived=word(row.log_waived_by, row.log_waived_at, row.log_waived_reason),
        released=word(row.released_by, row.released_at, row.release_reason),
        custody=tuple(_handover(link, names) for link in links),
    )


def _log(row: QuarantineRow, names: Mapping[int, str]) -> LogKept | None:
    if row.log_fingerprint is None or row.log_place is None:
        return None
    if row.log_by is None or row.log_at is None:
        return None
    return LogKept(row.log_fingerprint, row.log_place, names[row.log_by], row.log_at)


def _handover(row: CustodyRow, names: Mapping[int, str]) -> Handover:
    return Handover(
        given_by=row.given_by,
        taken_by=row.taken_by,
        at=row.at,
        place=row.place,
        seal=row.seal,
        note=row.note,
        recorded_by=names[row.recorded_by],
        recorded_at=row.recorded_at,
    )
