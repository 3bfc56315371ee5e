"""An unsafe finding waived by the medical director, one by one, before the revision is signed."""

from datetime import date, datetime

from sqlmodel import Session

from app.actions.revision_entries import revision_of, tell
from app.domain import plain_text
from app.domain.errors import NotFound, NotNow
from app.domain.local_days import local_day
from app.domain.moves import RevisionStatus
from app.domain.people import Person
from app.domain.permissions import Deed, check_may
from app.domain.revisions import StoredRevision
from app.domain.rules import check
from app.domain.waivers import UnsafeFinding, Waiver, check_until, unsafe_findings
from app.exchange.stored_bounds import stored_bounds
from app.exchange.stored_profiles import stored_profile
from app.storage import waivers
from app.storage.agencies import agency_by_id, lock_policy
from app.storage.outer_bounds import bounds_version_in_force

_NOT_SIGNED = frozenset({RevisionStatus.DRAFT, RevisionStatus.IN_REVIEW})


def waive_finding(
    tx: Session, *, number: int, finding: str, reason: str, until: date, by: Person, now: datetime
) -> Waiver:
    """`finding` is the key of what was shown; `until` the last day on which the waiver holds.

    Raises NotNow if nothing unsafe is found there any more, or it is waived already.
    """
    check_may(by, Deed.WAIVE_FINDING)
    lock_policy(tx, by.agency_id)
    found = revision_of(tx, number, by)
    _check_not_signed(found)
    waived = _unsafe_finding(tx, found, finding, by=by, now=now)
    reason = plain_text.note(reason, column="reason", needed=True)
    check_until(until, today=local_day(now, agency_by_id(tx, by.agency_id).time_zone))
    waiver = waivers.add_waiver(
        tx, revision_id=found.id, waived=waived, reason=reason, until=until, by=by, now=now
    )
    tell(tx, "waive a finding", found, by=by, now=now, **_told(waiver))
    return waiver


def withdraw_waiver(tx: Session, *, number: int, finding: str, by: Person, now: datetime) -> None:
    """Only before the signature; what was signed with the revision stays."""
    check_may(by, Deed.WAIVE_FINDING)
    lock_policy(tx, by.agency_id)
    found = revision_of(tx, number, by)
    _check_not_signed(found)
    held = {waiver.finding: waiver for waiver in waivers.waivers_of(tx, found.id)}
    if finding not in held:
        raise NotFound("There is no such waiver.")
    waivers.remove_waivers(tx, revision_id=found.id, findings=[finding])
    tell(tx, "withdraw a waiver", found, by=by, now=now, **_told(held[finding]))


def _check_not_signed(found: StoredRevision) -> None:
    if found.status not in _NOT_SIGNED:
        raise NotNow(
            f"Revision {found.number} is {found.status.words}. Its waivers were signed with it; "
            "to change them, start a new draft."
        )


def _unsafe_finding(
    tx: Session, found: StoredRevision, key: str, *, by: Person, now: datetime
) -> UnsafeFinding:
    bounds = stored_bounds(bounds_version_in_force(tx, agency_id=by.agency_id, at=now))
    findings = check(stored_profile(found.document), bounds=bounds)
    for one in unsafe_findings(findings, waivers.waivers_of(tx, found.id)):
        if one.key == key and one.waiver is None:
            return one
        if one.key == key:
            raise NotNow("This finding is waived already; withdraw that waiver first.")
    raise NotNow("This is no longer found: somebody edited the revision. Look at it again.")


def _told(waiver: Waiver) -> dict[str, str]:
    return {
        "finding": waiver.finding,
        "rule": waiver.rule,
        "message": waiver.message,
        "reason": waiver.reason,
        "until": waiver.until.isoformat(),
    }
