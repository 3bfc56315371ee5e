"""What somebody must still do about signed revisions."""

from datetime import datetime

from sqlmodel import Session

from app.domain.revision_warnings import RevisionWarning, revision_warnings
from app.domain.revisions import RevisionLine
from app.storage.agencies import agency_by_id
from app.storage.revisions import lines_of
from app.storage.waivers import waivers_of


def warnings_of(
    tx: Session, line: RevisionLine, *, now: datetime, zone: str
) -> tuple[RevisionWarning, ...]:
    """The overdue first."""
    if line.signed_at is None:
        return ()
    return revision_warnings(line, waivers_of(tx, line.id), now=now, zone=zone)


def policy_warnings(tx: Session, *, agency_id: int, now: datetime) -> tuple[RevisionWarning, ...]:
    """Of all revisions, the newest first."""
    zone = agency_by_id(tx, agency_id).time_zone
    return tuple(
        warning
        for line in reversed(lines_of(tx, agency_id))
        for warning in warnings_of(tx, line, now=now, zone=zone)
    )
