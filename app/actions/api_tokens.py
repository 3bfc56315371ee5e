"""Giving programs their tokens, and taking them back."""

import secrets
from collections.abc import Collection
from datetime import datetime

from sqlmodel import Session

from app.domain.api_tokens import expiry
from app.domain.errors import NotFound, NotNow, Refused
from app.domain.people import Person, Scope
from app.domain.permissions import Deed, check_may
from app.domain.plain_text import line
from app.storage import api_tokens, ledger
from app.storage.agencies import agency_by_id
from app.storage.people import username_taken

_TOKEN_BYTES = 32


def give_token(
    tx: Session,
    *,
    name: str,
    scopes: Collection[Scope],
    days: int,
    by: Person,
    now: datetime,
) -> str:
    """The token, which nobody can ever ask for again."""
    check_may(by, Deed.GIVE_TOKENS)
    name = line(name, column="name")
    if not scopes:
        raise Refused.because("choose what it may do", column="scopes")
    if username_taken(tx, agency_id=by.agency_id, username=api_tokens.username_of(name)):
        raise Refused.because("another token has this name, or had it", column="name", value=name)
    expires_at, token = expiry(days, now=now), secrets.token_urlsafe(_TOKEN_BYTES)
    api_tokens.add_token(
        tx,
        agency=agency_by_id(tx, by.agency_id),
        name=name,
        token=token,
        scopes=scopes,
        by=by,
        now=now,
        expires_at=expires_at,
    )
    about = {"name": name, "scopes": sorted(scopes), "expires_at": expires_at.isoformat()}
    ledger.append(tx, agency=by.agency, did="give a token", by=by.username, at=now, about=about)
    return token


def take_back_token(tx: Session, *, token_id: int, by: Person, now: datetime) -> str:
    """Its name. What it did stays; it does nothing more."""
    check_may(by, Deed.GIVE_TOKENS)
    found = api_tokens.find_token(tx, agency_id=by.agency_id, token_id=token_id)
    if found is None:
        raise NotFound("There is no such token.")
    if found.revoked_at is not None:
        raise NotNow("This token was taken back already.")
    api_tokens.revoke_token(tx, token_id, now=now)
    ledger.append(
        tx,
        agency=by.agency,
        did="take a token back",
        by=by.username,
        at=now,
        about={"name": found.name},
    )
    return found.name


def mark_used(tx: Session, *, token_id: int, now: datetime) -> None:
    """No change of anything that is kept for good, so the ledger is silent about it."""
    api_tokens.mark_used(tx, token_id, now=now)
