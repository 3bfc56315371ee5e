"""Waivers of a revision; once it is signed nobody changes them."""

from collections.abc import Collection
from datetime import date, datetime

from sqlalchemy import UniqueConstraint, delete
from sqlmodel import Field, Session, Text, col, select

from app.domain.people import Person
from app.domain.waivers import UnsafeFinding, Waiver
from app.storage.base import NumberedRow, filled, sha256_hex
from app.storage.revisions import RevisionRow


class WaiverRow(NumberedRow, table=True):
    """The finding and the name of who waived it are written down as they were."""

    __tablename__ = "waiver"
    __table_args__ = (
        UniqueConstraint("revision_id", "finding"),
        sha256_hex("finding"),
        filled("rule"),
        filled("message"),
        filled("reason"),
        filled("name"),
    )

    revision_id: int = Field(foreign_key="revision.id")
    finding: str
    rule: str
    category: str | None = None
    alarms: str
    circumstance: str
    ages: str
    message: str = Field(sa_type=Text)
    reason: str = Field(sa_type=Text)
    person_id: int = Field(foreign_key="person.id")
    name: str
    waived_at: datetime
    until: date


def add_waiver(
    tx: Session,
    *,
    revision_id: int,
    waived: UnsafeFinding,
    reason: str,
    until: date,
    by: Person,
    now: datetime,
) -> Waiver:
    finding = waived.finding
    row = WaiverRow(
        revision_id=revision_id,
        finding=waived.key,
        rule=finding.rule,
        category=finding.category,
        alarms=" ".join(finding.alarms),
        circumstance=str(finding.measured.get("circumstance") or ""),
        ages="" if finding.ages is None else str(finding.ages),
        message=finding.message,
        reason=reason,
        person_id=by.id,
        name=by.name,
        waived_at=now,
        until=until,
    )
    tx.add(row)
    tx.flush()
    return _waiver(row)


def remove_waivers(tx: Session, *, revision_id: int, findings: list[str]) -> None:
    tx.exec(
        delete(WaiverRow).where(
            col(WaiverRow.revision_id) == revision_id, col(WaiverRow.finding).in_(findings)
        )
    )


def waivers_of(tx: Session, revision_id: int) -> tuple[Waiver, ...]:
    """In the order in which they were given."""
    wanted = (
        select(WaiverRow)
        .where(WaiverRow.revision_id == revision_id)
        .order_by(col(WaiverRow.waived_at), col(WaiverRow.id))
    )
    return tuple(_waiver(row) for row in tx.exec(wanted))


def waivers_of_numbers(
    tx: Session, agency_id: int, numbers: Collection[int]
) -> dict[int, tuple[Waiver, ...]]:
    """By the number of the revision, in the order in which they were given."""
    wanted = (
        select(RevisionRow.number, WaiverRow)
        .join(RevisionRow, col(RevisionRow.id) == col(WaiverRow.revision_id))
        .where(RevisionRow.agency_id == agency_id, col(RevisionRow.number).in_(numbers))
        .order_by(col(WaiverRow.waived_at), col(WaiverRow.id))
    )
    found: dict[int, tuple[Waiver, ...]] = {}
    for number, row in tx.exec(wanted):
        found[number] = (*found.get(number, ()), _waiver(row))
    return found


def _waiver(row: WaiverRow) -> Waiver:
    return Waiver(
        finding=row.finding,
        rule=row.rule,
        category=row.category,
        alarms=tuple(row.alarms.split()),
        circumstance=row.circumstance,
        ages=row.ages,
        message=row.message,
        reason=row.reason,
        by_name=row.name,
        waived_at=row.waived_at,
        until=row.until,
    )
