from datetime import datetime

from sqlmodel import Session

from app.domain.people import Person
from app.domain.permissions import Deed, check_may
from app.storage import ledger


def tell_inspection(
    tx: Session, *, since: datetime, until: datetime, manifest: str, by: Person, now: datetime
) -> None:
    """The ledger keeps the SHA-256 of the manifest, so that the file can be told from another."""
    check_may(by, Deed.MAKE_INSPECTION_FILE)
    about = {"since": since.isoformat(), "until": until.isoformat(), "manifest": manifest}
    ledger.append(
        tx, agency=by.agency, did="make an inspection file", by=by.username, at=now, about=about
    )
