"""A revision with all that its paper prints."""

from datetime import datetime

from sqlmodel import Session

from app.domain.agencies import Agency
from app.domain.ledger import GENESIS
from app.domain.papers import LedgerPlace, PolicyPaper
from app.domain.revisions import StoredRevision
from app.domain.rules import check
from app.exchange.stored_profiles import stored_profile
from app.lookups.outer_bounds import bounds_in_force
from app.lookups.revisions import revision
from app.storage import ledger
from app.storage.agencies import agency_by_id


def policy_paper(tx: Session, *, agency_id: int, number: int, now: datetime) -> PolicyPaper:
    """Raises NotFound."""
    found = revision(tx, agency_id=agency_id, number=number, now=now)
    agency = agency_by_id(tx, agency_id)
    profile = stored_profile(found.document)
    bounds = bounds_in_force(tx, agency_id=agency_id, at=found.in_force_at or now)
    written = ledger.head_of(tx, agency.key)
    return PolicyPaper(
        agency=agency,
        revision=found,
        profile=profile,
        bounds=bounds.name,
        findings=tuple(check(profile, bounds=bounds)),
        head=LedgerPlace(*(written or (0, GENESIS))),
        signing=_signing(tx, agency, found),
        printed_at=now,
    )


def _signing(tx: Session, agency: Agency, found: StoredRevision) -> LedgerPlace | None:
    if found.signed_at is None:
        return None
    entry = ledger.entry_of_signing(tx, agency.key, fingerprint=found.fingerprint)
    return None if entry is None else LedgerPlace(entry.seq, entry.hash)
