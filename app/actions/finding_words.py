"""What people decide and say about a finding between its steps."""

from datetime import date, datetime

from sqlmodel import Session

from app.actions.findings import locked_finding, tell
from app.domain.acceptances import check_until, end_of
from app.domain.errors import NotNow, Refused
from app.domain.finding_events import EventKind, FindingEvent
from app.domain.finding_life import ACCEPTABLE, FindingKind, FindingStatus, StoredFinding
from app.domain.local_days import day_words, local_day
from app.domain.people import Person
from app.domain.permissions import Deed, check_may, may
from app.domain.plain_text import note as plain_note
from app.storage import findings
from app.storage.agencies import agency_by_id
from app.storage.finding_events import add_event
from app.storage.finding_rows import ACCEPTANCE
from app.storage.people import people_of


def accept_finding(
    tx: Session, *, finding_id: int, reason: str, until: date, by: Person, now: datetime
) -> StoredFinding:
    """Until the end of that day in the agency's zone; a new acceptance takes the place of an
    earlier one."""
    check_may(by, Deed.ACCEPT_FINDING)
    found = locked_finding(tx, finding_id, by)
    if found.status not in ACCEPTABLE or found.kind is not FindingKind.HELD:
        raise NotNow(f"A finding that is {found.status.value} is not accepted any more.")
    reason = plain_note(reason, column="reason", needed=True)
    zone = agency_by_id(tx, by.agency_id).time_zone
    check_until(until, today=local_day(now, zone))
    findings.change_finding(
        tx,
        found.id,
        accepted_by=by.id,
        accepted_at=now,
        accepted_until=until,
        acceptance_ends_at=end_of(until, zone),
        accepted_reason=reason,
    )
    _add(tx, found, EventKind.ACCEPTED, by, now, note=reason, about=f"until {day_words(until)}")
    tell(tx, found, "accept a finding", by=by, now=now, reason=reason, until=until.isoformat())
    return findings.finding_by_id(tx, finding_id)


def withdraw_acceptance(
    tx: Session, *, finding_id: int, by: Person, now: datetime, note: str = ""
) -> StoredFinding:
    check_may(by, Deed.ACCEPT_FINDING)
    found = locked_finding(tx, finding_id, by)
    if found.accepted(now) is None:
        raise NotNow("This finding is not accepted, so there is nothing to withdraw.")
    note = plain_note(note)
    findings.change_finding(tx, found.id, **dict.fromkeys([*ACCEPTANCE, "accepted_reason"]))
    _add(tx, found, EventKind.ACCEPTANCE_ENDED, by, now, note=note, about="withdrawn")
    tell(tx, found, "withdraw an acceptance", by=by, now=now, note=note)
    return findings.finding_by_id(tx, finding_id)


def assign_finding(
    tx: Session, *, finding_id: int, to: str, by: Person, now: datetime
) -> StoredFinding:
    """`to`: a username of the agency, of somebody who may move findings; empty: nobody."""
    check_may(by, Deed.WORK_FINDING)
    found = locked_finding(tx, finding_id, by)
    if found.status is FindingStatus.CLOSED:
        raise NotNow("A finding that is closed needs nobody any more.")
    owner = _owner(tx, to, by) if to else None
    same = None if found.owner is None else found.owner.person_id
    if same == (None if owner is None else owner.id):
        return found
    findings.change_finding(tx, found.id, owner_id=None if owner is None else owner.id)
    name = "nobody" if owner is None else owner.name
    _add(tx, found, EventKind.ASSIGNED, by, now, about=f"to {name}")
    tell(tx, found, "assign a finding", by=by, now=now, to=to)
    return findings.finding_by_id(tx, finding_id)


def _owner(tx: Session, username: str, by: Person) -> Person:
    able = [one for one in people_of(tx, by.agency_id) if may(one, Deed.WORK_FINDING)]
    for one in able:
        if one.username == username:
            return one
    raise Refused.because("choose somebody who may move findings", column="to", value=username)


def comment_on_finding(
    tx: Session, *, finding_id: int, text: str, by: Person, now: datetime
) -> None:
    """Nobody changes or removes it afterwards."""
    check_may(by, Deed.COMMENT_FINDING)
    found = locked_finding(tx, finding_id, by)
    text = plain_note(text, column="text", needed=True)
    _add(tx, found, EventKind.COMMENTED, by, now, note=text)
    tell(tx, found, "comment on a finding", by=by, now=now, text=text)


def _add(
    tx: Session,
    found: StoredFinding,
    kind: EventKind,
    by: Person,
    now: datetime,
    *,
    note: str = "",
    about: str = "",
) -> None:
    add_event(tx, found.id, FindingEvent(kind, now, by.id, by.name, note=note, about=about))
