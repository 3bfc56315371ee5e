"""An administrator makes a link; whoever it is for sets their own password by it, once."""

import secrets
from collections.abc import Collection
from datetime import datetime
from pathlib import Path

from sqlmodel import Session

from app.actions.passwords import check_password_of, digest_of
from app.actions.people import add_person
from app.domain.errors import NotAllowed, NotFound
from app.domain.invitations import LINK_LASTS
from app.domain.people import Person, Role
from app.domain.permissions import Deed, check_may
from app.storage import invitations, ledger, people, sign_ins
from app.storage.agencies import agency_by_id
from app.storage.sign_in_failures import account, forget_failures

_TOKEN_BYTES = 32
GONE = "This link is used up, too old or mistyped. Ask an administrator for a new one."


def invite(
    tx: Session, *, username: str, name: str, roles: Collection[Role], by: Person, now: datetime
) -> tuple[Person, str]:
    """The new person, who cannot sign in yet, and the token of their link."""
    person = add_person(tx, username=username, name=name, roles=roles, by=by, now=now)
    return person, make_link(tx, username=person.username, by=by, now=now)


def make_link(tx: Session, *, username: str, by: Person, now: datetime) -> str:
    """Also for somebody whose password is lost; the old one works until the link is used."""
    check_may(by, Deed.MANAGE_PEOPLE)
    staff = people.people_of(tx, by.agency_id)
    person = next((one for one in staff if one.username == username), None)
    if person is None:
        raise NotFound("There is nobody of that name.")
    token, until = secrets.token_urlsafe(_TOKEN_BYTES), now + LINK_LASTS
    invitations.replace_invitation(tx, person_id=person.id, token=token, now=now, expires_at=until)
    about = {"username": username, "expires_at": until.isoformat()}
    did = "make a link to set a password"
    ledger.append(tx, agency=by.agency, did=did, by=by.username, at=now, about=about)
    return token


def set_password_by_link(
    tx: Session, *, token: str, password: str, now: datetime, leaks: Path | None = None
) -> Person:
    """Ends every session of theirs: whoever knew the old password is out."""
    person = invitations.invited(tx, token=token, now=now)
    if person is None:
        raise NotAllowed(GONE)
    agency = agency_by_id(tx, person.agency_id)
    check_password_of(agency, password, username=person.username, name=person.name, leaks=leaks)
    if not invitations.use_invitation(tx, token=token, now=now):
        raise NotAllowed(GONE)
    people.change_password_hash(tx, person_id=person.id, password_hash=digest_of(password))
    ended = sign_ins.end_sessions(tx, person_id=person.id, now=now)
    forget_failures(tx, account(person.agency, person.username))
    ledger.append(
        tx,
        agency=person.agency,
        did="set a password by a link",
        by=person.username,
        at=now,
        about={"ended": ended},
    )
    return person
