"""What every change of a revision begins and ends with: find it, and tell the ledger."""

from datetime import datetime
from typing import Any

from sqlmodel import Session

from app.domain.errors import NotFound
from app.domain.people import Person
from app.domain.revisions import RevisionLine, StoredRevision
from app.storage import ledger, revisions


def revision_of(tx: Session, number: int, by: Person) -> StoredRevision:
    """Raises NotFound, also for another agency's."""
    found = revisions.find_revision(tx, agency_id=by.agency_id, number=number)
    if found is None:
        raise NotFound(f"There is no revision {number}.")
    return found


def tell(
    tx: Session, did: str, found: RevisionLine, *, by: Person, now: datetime, **more: Any
) -> None:
    about = {"revision": found.number, "fingerprint": found.fingerprint, **more}
    ledger.append(tx, agency=by.agency, did=did, by=by.username, at=now, about=about)
