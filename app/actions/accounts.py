"""What somebody does with their own account, and what an administrator ends for them."""

from datetime import datetime

from sqlmodel import Session

from app.actions.passwords import check_password_of, digest_of
from app.actions.sign_ins import check_password
from app.domain.errors import NotFound, Refused
from app.domain.people import Person
from app.domain.permissions import Deed, check_may
from app.storage import ledger, people, sign_ins
from app.storage.agencies import agency_by_id


def change_password(
    tx: Session, *, old: str, new: str, token: str, by: Person, now: datetime
) -> int:
    """Ends every other session, and says how many: whoever knew the old one is out."""
    try:
        check_password(tx, by=by, password=old, now=now)
    except Refused:
        raise Refused.because("this is not your password", column="old_password") from None
    agency = agency_by_id(tx, by.agency_id)
    if new == old:
        raise Refused.because("this is the old one", column="password")
    check_password_of(agency, new, username=by.username, name=by.name)
    people.change_password_hash(tx, person_id=by.id, password_hash=digest_of(new))
    ended = sign_ins.end_sessions(tx, person_id=by.id, but_token=token, now=now)
    _tell(tx, "change a password", by, now, ended=ended)
    return ended


def end_session(tx: Session, *, session: int, by: Person, now: datetime) -> None:
    """One of one's own; of anybody else's there is nothing to find."""
    if not sign_ins.end_sessions(tx, person_id=by.id, only=session, now=now):
        raise NotFound("You are not signed in there any more.")
    _tell(tx, "end a session", by, now, ended=1)


def end_other_sessions(tx: Session, *, token: str, by: Person, now: datetime) -> int:
    ended = sign_ins.end_sessions(tx, person_id=by.id, but_token=token, now=now)
    _tell(tx, "end every other session", by, now, ended=ended)
    return ended


def end_sessions_of(tx: Session, *, username: str, by: Person, now: datetime) -> int:
    """Of somebody in the same agency, such as of a lost phone."""
    check_may(by, Deed.MANAGE_PEOPLE)
    staff = people.people_of(tx, by.agency_id)
    found = next((one for one in staff if one.username == username), None)
    if found is None:
        raise NotFound("There is nobody of that name.")
    ended = sign_ins.end_sessions(tx, person_id=found.id, now=now)
    _tell(tx, "end the sessions of a person", by, now, username=username, ended=ended)
    return ended


def _tell(tx: Session, did: str, by: Person, now: datetime, **about: object) -> None:
    ledger.append(tx, agency=by.agency, did=did, by=by.username, at=now, about=about)
