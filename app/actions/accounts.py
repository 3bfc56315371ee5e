"""What somebody does with their own account, and what an administrator ends for them."""

from datetime import datetime
from pathlib import Path

from sqlmodel import Session

from app.actions.passwords import check_password_of, digest_of
from app.actions.sign_ins import check_password
from app.domain.errors import NotFound, NotNow, Refused
from app.domain.people import Person, Role
from app.domain.permissions import Deed, check_may
from app.storage import invitations, ledger, people, sign_ins
from app.storage.agencies import agency_by_id, lock_policy


def change_password(
    tx: Session,
    *,
    old: str,
    new: str,
    token: str,
    by: Person,
    now: datetime,
    leaks: Path | None = None,
) -> int:
    """Ends every other session, and says how many: whoever knew the old one is out."""
    try:
        check_password(tx, by=by, password=old, now=now)
    except Refused:
        raise Refused.because("this is not your password", column="old_password") from None
    agency = agency_by_id(tx, by.agency_id)
    if new == old:
        raise Refused.because("this is the old one", column="password")
    check_password_of(agency, new, username=by.username, name=by.name, leaks=leaks)
    people.change_password_hash(tx, person_id=by.id, password_hash=digest_of(new))
    ended = sign_ins.end_sessions(tx, person_id=by.id, but_token=token, now=now)
    _tell(tx, "change a password", by, now, ended=ended)
    return ended


def end_session(tx: Session, *, session: int, password: str, by: Person, now: datetime) -> None:
    """One of one's own; of anybody else's there is nothing to find. Whoever found a screen left
    open must not be able to lock its owner out."""
    check_password(tx, by=by, password=password, now=now)
    if not sign_ins.end_sessions(tx, person_id=by.id, only=session, now=now):
        raise NotFound("You are not signed in there any more.")
    _tell(tx, "end a session", by, now, ended=1)


def end_other_sessions(tx: Session, *, token: str, password: str, by: Person, now: datetime) -> int:
    check_password(tx, by=by, password=password, now=now)
    ended = sign_ins.end_sessions(tx, person_id=by.id, but_token=token, now=now)
    _tell(tx, "end every other session", by, now, ended=ended)
    return ended


def close_account(tx: Session, *, username: str, by: Person, now: datetime) -> int:
    """Of somebody who leaves: they are signed out everywhere and cannot sign in any more. What
    they did keeps their name. How many sessions ended."""
    check_may(by, Deed.END_ACCESS)
    return _close(tx, _colleague(tx, by, username), by=by, now=now)


def close_own_account(tx: Session, *, password: str, by: Person, now: datetime) -> int:
    check_password(tx, by=by, password=password, now=now)
    return _close(tx, by, by=by, now=now)


def _close(tx: Session, person: Person, *, by: Person, now: datetime) -> int:
    """Two administrators who close each other's account at once wait for one another."""
    lock_policy(tx, person.agency_id)
    able = people.able_to_sign_in(tx, person.agency_id)
    others = [one for one in able if one.id != person.id and Role.ADMINISTRATOR in one.roles]
    if Role.ADMINISTRATOR in person.roles and not others:
        raise NotNow(
            "Nobody else could sign in as administrator. Make somebody one first, and let them set "
            "their password."
        )
    people.change_password_hash(tx, person_id=person.id, password_hash=people.CLOSED)
    invitations.forget_invitation(tx, person.id)
    ended = sign_ins.end_sessions(tx, person_id=person.id, now=now)
    _tell(tx, "close an account", by, now, username=person.username, ended=ended)
    return ended


def open_account_again(tx: Session, *, username: str, by: Person, now: datetime) -> None:
    """Whoever comes back sets a new password by a link, which is made apart."""
    check_may(by, Deed.MANAGE_PEOPLE)
    closed = people.closed_people_of(tx, by.agency_id)
    found = next((one for one in closed if one.username == username), None)
    if found is None:
        raise NotFound("There is no closed account of that name.")
    people.change_password_hash(tx, person_id=found.id, password_hash=people.INVITED)
    _tell(tx, "open an account again", by, now, username=username)


def _colleague(tx: Session, by: Person, username: str) -> Person:
    staff = people.people_of(tx, by.agency_id)
    found = next((one for one in staff if one.username == username), None)
    if found is None:
        raise NotFound("There is nobody of that name.")
    return found


def end_sessions_of(tx: Session, *, username: str, by: Person, now: datetime) -> int:
    """Of somebody in the same agency, such as of a lost phone."""
    check_may(by, Deed.END_ACCESS)
    found = _colleague(tx, by, username)
    ended = sign_ins.end_sessions(tx, person_id=found.id, now=now)
    _tell(tx, "end the sessions of a person", by, now, username=username, ended=ended)
    return ended


def _tell(tx: Session, did: str, by: Person, now: datetime, **about: object) -> None:
    ledger.append(tx, agency=by.agency, did=did, by=by.username, at=now, about=about)
