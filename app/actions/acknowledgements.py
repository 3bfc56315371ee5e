"""Somebody says to have seen a revision: their own word, from the station they work at now."""

from datetime import datetime

from sqlmodel import Session

from app.domain.errors import NotAllowed, NotFound, NotNow
from app.domain.people import Person
from app.domain.permissions import Deed, check_may
from app.domain.plain_text import line
from app.domain.seen_revisions import Said
from app.storage import ledger
from app.storage.acknowledgements import acknowledged, add_acknowledgement
from app.storage.agencies import lock_policy
from app.storage.revisions import find_revision


def acknowledge(
    tx: Session,
    *,
    revision: int,
    station: str,
    by: Person,
    now: datetime,
    said: Said | None = None,
) -> None:
    """Once; saying it again changes nothing. Also before it comes into force. `said`: on a phone
    that kept it; None: at this moment."""
    check_may(by, Deed.ACKNOWLEDGE)
    if said is not None and said.reader not in ("", by.username):
        raise NotAllowed(
            f"This was said by {said.reader}, and nobody else can send it. "
            f"Let {said.reader} sign in on this phone."
        )
    said_at = now if said is None else said.clock.corrected(now)
    place = line(station, column="station")
    lock_policy(tx, by.agency_id)
    found = find_revision(tx, agency_id=by.agency_id, number=revision)
    if found is None:
        raise NotFound(f"There is no revision {revision}.")
    if found.signed_at is None:
        raise NotNow(f"Revision {revision} is not signed, so there is nothing to have seen.")
    if acknowledged(tx, revision_id=found.id, person_id=by.id) is not None:
        return
    seen_at = max(said_at, found.signed_at)
    add_acknowledgement(tx, revision_id=found.id, station=place, by=by, now=seen_at)
    about = {"revision": revision, "station": place}
    if said is not None:
        about["said_at"] = seen_at.isoformat()
    ledger.append(tx, agency=by.agency, did="see a revision", by=by.username, at=now, about=about)
