"""Everything that happened to a finding; rows are only ever added."""

from collections.abc import Collection
from datetime import datetime

from sqlmodel import Field, Session, Text, col, select

from app.domain.finding_events import EventKind, FindingEvent
from app.storage.base import NumberedRow, batches, filled, one_of


class FindingEventRow(NumberedRow, table=True):
    """The name is written down as it was."""

    __tablename__ = "finding_event"
    __table_args__ = (one_of("kind", EventKind), filled("name"))

    finding_id: int = Field(foreign_key="finding.id", index=True)
    kind: str
    at: datetime
    person_id: int = Field(foreign_key="person.id")
    name: str
    note: str = Field(sa_type=Text)
    about: str
    report_id: int | None = Field(default=None, foreign_key="report.id")


def add_event(tx: Session, finding_id: int, event: FindingEvent) -> None:
    tx.add(
        FindingEventRow(
            finding_id=finding_id,
            kind=event.kind.value,
            at=event.at,
            person_id=event.person_id,
            name=event.name,
            note=event.note,
            about=event.about,
            report_id=event.report,
        )
    )
    tx.flush()


def events_of(tx: Session, finding_ids: Collection[int]) -> dict[int, list[FindingEvent]]:
    """In the order in which they happened, which is the order in which they were written."""
    found: dict[int, list[FindingEvent]] = {number: [] for number in finding_ids}
    row = FindingEventRow
    for some in batches(list(found)):
        wanted = select(row).where(col(row.finding_id).in_(some)).order_by(col(row.id))
        for one in tx.exec(wanted):
            found[one.finding_id].append(_event(one))
    return found


def _event(row: FindingEventRow) -> FindingEvent:
    return FindingEvent(
        kind=EventKind(row.kind),
        at=row.at,
        person_id=row.person_id,
        name=row.name,
        note=row.note,
        about=row.about,
        report=row.report_id,
    )
