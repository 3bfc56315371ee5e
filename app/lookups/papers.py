"""A revision with all that its paper prints."""

from collections.abc import Iterator
from datetime import datetime

from sqlmodel import Session

from app.domain.agencies import Agency
from app.domain.bounds_versions import in_force_among
from app.domain.corridor import corridor
from app.domain.findings import Finding
from app.domain.ledger import GENESIS
from app.domain.outer_bounds import OuterBounds
from app.domain.papers import LedgerPlace, PolicyPaper
from app.domain.revisions import StoredRevision
from app.domain.rules import check
from app.domain.waivers import Waiver, unsafe_findings, void_waivers
from app.exchange.stored_bounds import stored_bounds
from app.exchange.stored_profiles import stored_profile
from app.lookups.outer_bounds import bounds_in_force
from app.lookups.revisions import revision
from app.storage import ledger
from app.storage.agencies import agency_by_id
from app.storage.evidence import replayed_categories
from app.storage.outer_bounds import bounds_versions
from app.storage.waivers import waivers_of


def policy_paper(tx: Session, *, agency_id: int, number: int, now: datetime) -> PolicyPaper:
    """Raises NotFound."""
    found = revision(tx, agency_id=agency_id, number=number, now=now)
    agency = agency_by_id(tx, agency_id)
    profile = stored_profile(found.document)
    bounds = _judging(tx, found, agency_id=agency_id, now=now)
    findings = check(profile, bounds=bounds)
    written = ledger.head_of(tx, agency.key)
    return PolicyPaper(
        agency=agency,
        revision=found,
        profile=profile,
        bounds=bounds.name,
        findings=tuple(findings),
        waivers=tuple(_standing(findings, waivers_of(tx, found.id))),
        corridor=corridor(profile, bounds=bounds),
        head=LedgerPlace(*(written or (0, GENESIS))),
        signing=_signing(tx, agency, found),
        printed_at=now,
        replayed=replayed_categories(tx, revision_id=found.id, policy=found.fingerprint),
    )


def _standing(findings: list[Finding], waivers: tuple[Waiver, ...]) -> Iterator[Waiver]:
    """Without those of a draft that its edits have made void."""
    void = void_waivers(unsafe_findings(findings, waivers), waivers)
    yield from (waiver for waiver in waivers if waiver not in void)


def _judging(tx: Session, found: StoredRevision, *, agency_id: int, now: datetime) -> OuterBounds:
    """Those by which it was signed: what was adopted later judged nothing of it."""
    if found.signed_at is None:
        return bounds_in_force(tx, agency_id=agency_id, at=now)
    known = [
        version
        for version in bounds_versions(tx, agency_id)
        if version.signature is not None and version.signature.at <= found.signed_at
    ]
    return stored_bounds(in_force_among(known, found.in_force_at or found.signed_at))


def _signing(tx: Session, agency: Agency, found: StoredRevision) -> LedgerPlace | None:
    if found.signed_at is None:
        return None
    entry = ledger.entry_of_signing(tx, agency.key, fingerprint=found.fingerprint)
    return None if entry is None else LedgerPlace(entry.seq, entry.hash)
