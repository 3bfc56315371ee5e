"""Does this paper still hold? Open to everybody who has its fingerprint."""

from datetime import datetime

from sqlmodel import Session

from app.domain.agencies import Agency
from app.domain.confirmations import Confirmation, read_hash
from app.lookups.revisions import all_revisions
from app.storage import ledger
from app.storage.signatures import signatures_of


def confirmation(
    tx: Session, *, agency: Agency, fingerprint: str, head: str, now: datetime
) -> Confirmation | None:
    """None for what was never signed here: a draft, another agency's paper, a forgery."""
    wanted = read_hash(fingerprint)
    for line in all_revisions(tx, agency_id=agency.id, now=now):
        if line.fingerprint == wanted and line.signed_at is not None:
            return Confirmation(
                line=line,
                signatures=signatures_of(tx, line.id),
                head_asked=bool(head.strip()),
                entry=_entry(tx, agency, head),
            )
    return None


def _entry(tx: Session, agency: Agency, head: str) -> int | None:
    digits = read_hash(head)
    return None if digits is None else ledger.place_of(tx, agency.key, digits)
