"""Accounts, looked after by whoever stands at the machine, for who is locked out."""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import datetime
from typing import Any

from app.actions.accounts import close_account, end_sessions_of, open_account_again
from app.actions.invitations import invite, make_link
from app.domain.errors import NotFound, Refused
from app.domain.people import Person, Role
from app.lookups.agencies import closed_people_of, people_of
from app.settings import Settings
from app.storage.agencies import agency_by_key
from app.storage.database import Database

OPERATOR = "operator"
"""As the ledger names whoever has the machine, and with it the database, in their hands."""


def staff(settings: Settings, agency: str) -> tuple[list[Person], list[Person]]:
    """Those who work there, and closed accounts."""
    with _house(settings) as house, house.reading() as tx:
        number = _operator(tx, agency).agency_id
        return people_of(tx, agency_id=number), closed_people_of(tx, agency_id=number)


def invite_person(
    settings: Settings, agency: str, username: str, name: str, roles: Sequence[str], now: datetime
) -> str:
    """The address of their link."""
    unknown = sorted(set(roles) - {role.value for role in Role})
    if unknown:
        known = ", ".join(role.value for role in Role)
        raise Refused.because(f"there is no such role; known are {known}", column="--role")
    given = [Role(role) for role in roles]
    with _house(settings) as house, house.writing() as tx:
        by = _operator(tx, agency)
        _, token = invite(tx, username=username, name=name, roles=given, by=by, now=now)
    return _link(settings, token)


def link_for(
    settings: Settings, agency: str, username: str, now: datetime, *, again: bool = False
) -> str:
    """`again`: of a closed account, which it opens."""
    with _house(settings) as house, house.writing() as tx:
        by = _operator(tx, agency)
        if again:
            open_account_again(tx, username=username, by=by, now=now)
        token = make_link(tx, username=username, by=by, now=now)
    return _link(settings, token)


def close(settings: Settings, agency: str, username: str, now: datetime) -> int:
    """How many sessions ended."""
    with _house(settings) as house, house.writing() as tx:
        return close_account(tx, username=username, by=_operator(tx, agency), now=now)


def sign_out(settings: Settings, agency: str, username: str, now: datetime) -> int:
    with _house(settings) as house, house.writing() as tx:
        return end_sessions_of(tx, username=username, by=_operator(tx, agency), now=now)


def _link(settings: Settings, token: str) -> str:
    return f"{settings.address}/invitation/{token}"


@contextmanager
def _house(settings: Settings) -> Iterator[Database]:
    house = Database(settings.database_url)
    try:
        yield house
    finally:
        house.dispose()


def _operator(tx: Any, key: str) -> Person:
    agency = agency_by_key(tx, key)
    if agency is None:
        raise NotFound(f"There is no agency {key} here.")
    roles = frozenset({Role.ADMINISTRATOR})
    return Person(0, agency.id, key, OPERATOR, "Whoever runs the service", roles)
