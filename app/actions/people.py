"""Agencies and the people in them, and how the first administrator gets in."""

import secrets
from collections.abc import Collection
from datetime import datetime, timedelta
from pathlib import Path
from zoneinfo import available_timezones

from sqlmodel import Session

from app.actions.passwords import check_password_of, digest_of
from app.domain.agencies import Agency, NewAgency, check_agency_key
from app.domain.errors import NotAllowed, NotNow, Refused
from app.domain.people import Person, Role
from app.domain.permissions import Deed, check_may
from app.domain.plain_text import line
from app.domain.usernames import check_username, plain_username
from app.storage import agencies, ledger, people, setup_links

SETUP_LINK_LASTS = timedelta(hours=24)
SETUP = "setup"
_TOKEN_BYTES = 32


def make_setup_link(tx: Session, *, now: datetime) -> str:
    """The token of a link that works once; refused as soon as there is an administrator."""
    _check_no_administrator(tx)
    token = secrets.token_urlsafe(_TOKEN_BYTES)
    setup_links.replace_setup_link(tx, token=token, now=now, expires_at=now + SETUP_LINK_LASTS)
    ledger.open_chain(tx, ledger.INSTALLATION)
    ledger.append(tx, agency=ledger.INSTALLATION, did="make a setup link", by=SETUP, at=now)
    return token


def first_administrator(
    tx: Session,
    *,
    token: str,
    agency: NewAgency,
    username: str,
    name: str,
    password: str,
    now: datetime,
    leaks: Path | None = None,
) -> Person:
    if not setup_links.use_setup_link(tx, token=token, now=now):
        raise NotAllowed("This link is used up, too old or mistyped. Restart the service for one.")
    _check_no_administrator(tx)
    person = _stored(
        tx,
        create_agency(tx, agency=agency, now=now),
        username=username,
        name=name,
        roles={Role.ADMINISTRATOR},
        password=password,
        now=now,
        leaks=leaks,
    )
    _tell(tx, person, by=SETUP, now=now)
    return person


def create_agency(tx: Session, *, agency: NewAgency, now: datetime, by: str = SETUP) -> Agency:
    """`by` is whoever stands at the machine: there is nobody in the agency yet."""
    key, name = agency.key, line(agency.name, column="agency_name")
    check_agency_key(key)
    if agency.time_zone not in available_timezones():
        raise Refused.because(
            "no such time zone; write one such as Europe/London",
            column="time_zone",
            value=agency.time_zone,
        )
    if agencies.agency_by_key(tx, key) is not None:
        raise Refused.because("this agency exists already", column="agency_key", value=key)
    made = agencies.add_agency(tx, key=key, name=name, time_zone=agency.time_zone, now=now)
    ledger.open_chain(tx, key)
    about = {"name": name, "time_zone": agency.time_zone}
    ledger.append(tx, agency=key, did="create the agency", by=by, at=now, about=about)
    return made


def add_person(
    tx: Session,
    *,
    username: str,
    name: str,
    roles: Collection[Role],
    by: Person,
    now: datetime,
    password: str | None = None,
) -> Person:
    """Without a password they cannot sign in before they have set one."""
    check_may(by, Deed.MANAGE_PEOPLE)
    agency = agencies.agency_by_id(tx, by.agency_id)
    person = _stored(
        tx, agency, username=username, name=name, roles=roles, password=password, now=now
    )
    _tell(tx, person, by=by.username, now=now)
    return person


def _stored(
    tx: Session,
    agency: Agency,
    *,
    username: str,
    name: str,
    roles: Collection[Role],
    password: str | None,
    now: datetime,
    leaks: Path | None = None,
) -> Person:
    username, name = plain_username(username), line(name, column="name")
    check_username(username)
    if not roles:
        raise Refused.because("give at least one role", column="roles")
    if password is not None:
        check_password_of(agency, password, username=username, name=name, leaks=leaks)
    if people.username_taken(tx, agency_id=agency.id, username=username):
        raise Refused.because("somebody has this username", column="username", value=username)
    return people.add_person(
        tx,
        agency=agency,
        username=username,
        name=name,
        roles=roles,
        password_hash=people.INVITED if password is None else digest_of(password),
        now=now,
    )


def _tell(tx: Session, person: Person, *, by: str, now: datetime) -> None:
    roles: list[str] = sorted(role.value for role in person.roles)
    about = {"username": person.username, "name": person.name, "roles": roles}
    ledger.append(tx, agency=person.agency, did="add a person", by=by, at=now, about=about)


def _check_no_administrator(tx: Session) -> None:
    if people.any_administrator(tx):
        raise NotNow("There is an administrator already; ask them for an account.")
