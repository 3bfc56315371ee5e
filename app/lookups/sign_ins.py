from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlmodel import Session

from app.domain.open_sessions import OpenSession
from app.domain.people import Person
from app.storage import sign_ins
from app.storage.sign_ins import live_sign_in

IDLE = timedelta(minutes=60)
_RENEW_EVERY = timedelta(minutes=1)


@dataclass(frozen=True)
class SignedIn:
    """`renew`: the door should call `keep_signed_in`, at most once a minute, not on every page."""

    person: Person
    renew: bool


def signed_in(tx: Session, *, token: str, now: datetime, idle: timedelta = IDLE) -> SignedIn | None:
    """None if signed out, idle for too long, or past the end that was set at the sign-in."""
    found = live_sign_in(tx, token=token, now=now, idle=idle)
    if found is None:
        return None
    return SignedIn(found.person, renew=now - found.last_seen_at >= _RENEW_EVERY)


def sessions_of(
    tx: Session, *, person: Person, token: str, now: datetime, idle: timedelta = IDLE
) -> list[OpenSession]:
    """Where this person is signed in, the newest first; `token` is the one that asks."""
    return sign_ins.open_sessions(tx, person_id=person.id, token=token, now=now, idle=idle)
