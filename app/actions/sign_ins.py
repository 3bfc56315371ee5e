"""Signing in and out, and showing once more that one is still oneself."""

import math
import secrets
from datetime import datetime, timedelta

from sqlmodel import Session

from app.actions.passwords import matches
from app.domain.errors import NotSignedIn, Refused, TooMany
from app.domain.people import Person
from app.domain.throttling import FREE_PER_ACCOUNT, FREE_PER_ADDRESS
from app.domain.usernames import plain_username
from app.storage.database import keep_even_if_refused
from app.storage.ledger import append
from app.storage.people import credentials, credentials_of, person_by_id
from app.storage.sign_in_failures import (
    account,
    count_failure,
    failures_of,
    forget_failures,
    internet_address,
)
from app.storage.sign_ins import add_sign_in, forget_expired, mark_seen, revoke

LASTS = timedelta(hours=12)
_TOKEN_BYTES = 32


def sign_in(
    tx: Session,
    *,
    agency: str,
    username: str,
    password: str,
    now: datetime,
    address: str,
    lasts: timedelta = LASTS,
) -> str:
    """The token for the cookie. Its failures stay counted although they are refused."""
    username = plain_username(username)
    free = {
        account(agency, username): FREE_PER_ACCOUNT,
        internet_address(address): FREE_PER_ADDRESS,
    }
    _check_patience(tx, free, now)
    found = credentials(tx, agency_key=agency, username=username)
    if not matches(password, None if found is None else found.password_hash) or found is None:
        _count(tx, free, now)
        raise NotSignedIn("The agency, the username or the password is wrong.")
    forget_failures(tx, account(agency, username))
    forget_expired(tx, before=now)
    token = secrets.token_urlsafe(_TOKEN_BYTES)
    add_sign_in(tx, person_id=found.person.id, token=token, now=now, expires_at=now + lasts)
    append(tx, agency=agency, did="sign in", by=username, at=now)
    return token


def keep_signed_in(tx: Session, *, token: str, now: datetime) -> None:
    """Called when somebody is at work; see `app.lookups.sign_ins.SignedIn.renew`."""
    mark_seen(tx, token=token, now=now)


def sign_out(tx: Session, *, token: str, now: datetime) -> None:
    """Signing out twice is no mistake."""
    ended = revoke(tx, token=token, now=now)
    if ended is not None:
        person = person_by_id(tx, ended)
        append(tx, agency=person.agency, did="sign out", by=person.username, at=now)


def check_password(tx: Session, *, by: Person, password: str, now: datetime) -> None:
    """Call it before anything is changed: a refusal keeps what is already written."""
    free = {account(by.agency, by.username): FREE_PER_ACCOUNT}
    _check_patience(tx, free, now)
    found = credentials_of(tx, by)
    if not matches(password, None if found is None else found.password_hash):
        _count(tx, free, now)
        raise Refused.because("this is not your password", column="password")
    forget_failures(tx, account(by.agency, by.username))


def _check_patience(tx: Session, free: dict[str, int], now: datetime) -> None:
    failures = failures_of(tx, list(free))
    waits = [failures[one].remaining(now, free=free[one]) for one in failures]
    longest = max(waits, default=timedelta())
    if longest > timedelta():
        seconds = math.ceil(longest.total_seconds())
        raise TooMany(f"Too many failed attempts. Try again in {seconds} s.")


def _count(tx: Session, free: dict[str, int], now: datetime) -> None:
    for subject in free:
        count_failure(tx, subject=subject, now=now)
    keep_even_if_refused(tx)
