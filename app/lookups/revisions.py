from collections.abc import Sequence
from datetime import datetime

from sqlmodel import Session

from app.domain.errors import NotFound
from app.domain.revisions import RevisionLine, StoredRevision
from app.storage import revisions


def in_force(
    tx: Session, *, agency_id: int, at: datetime, lines: Sequence[RevisionLine] | None = None
) -> StoredRevision | None:
    """What held at that time, past or present; nothing before the first and after a withdrawal."""
    found = revisions.revision_in_force(tx, agency_id=agency_id, at=at, lines=lines)
    return None if found is None else found.as_of(at)


def revision(
    tx: Session,
    *,
    agency_id: int,
    number: int,
    now: datetime,
    lines: Sequence[RevisionLine] | None = None,
) -> StoredRevision:
    """`lines`: all of the agency's, where they are known already."""
    found = revisions.find_revision(tx, agency_id=agency_id, number=number, lines=lines)
    if found is None:
        raise NotFound(f"There is no revision {number}.")
    return found.as_of(now)


def all_revisions(tx: Session, *, agency_id: int, now: datetime) -> list[RevisionLine]:
    """Oldest number first, without their documents."""
    return [line.as_of(now) for line in revisions.lines_of(tx, agency_id)]
