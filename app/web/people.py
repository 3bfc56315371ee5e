"""Who works here."""

from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Annotated

from fastapi import APIRouter, Form, Request
from fastapi.responses import Response

from app.actions.accounts import close_account, end_sessions_of, open_account_again
from app.actions.invitations import invite, make_link
from app.domain.errors import Fault, Refused
from app.domain.invitations import Invitation
from app.domain.people import Person, Role
from app.domain.permissions import Deed, check_may
from app.lookups.agencies import closed_people_of, people_of
from app.lookups.invitations import unused_invitations
from app.web.notices import done
from app.web.render import render
from app.web.sessions import Member
from app.web.transactions import Now, Reading, Transaction, Writing

router = APIRouter()
Text = Annotated[str, Form(max_length=300)]


@dataclass(frozen=True)
class PeoplePage:
    """`link`: one just made, and whose it is; nobody can see it again."""

    people: list[Person]
    invitations: dict[str, Invitation]
    now: datetime
    roles: tuple[Role, ...] = tuple(Role)
    typed: dict[str, str] = field(default_factory=dict)
    chosen: frozenset[str] = frozenset()
    faults: tuple[Fault, ...] = ()
    link: tuple[str, str] | None = None
    closed: tuple[Person, ...] = ()


def _page(tx: Transaction, person: Person, now: datetime) -> PeoplePage:
    invitations = unused_invitations(tx, agency_id=person.agency_id)
    closed = tuple(closed_people_of(tx, agency_id=person.agency_id))
    staff = people_of(tx, agency_id=person.agency_id)
    return PeoplePage(staff, invitations, now, closed=closed)


@router.get("/{agency}/people")
def people(request: Request, person: Member, tx: Reading, now: Now) -> Response:
    check_may(person, Deed.MANAGE_PEOPLE)
    return render(request, "people/list.html", _page(tx, person, now))


@router.post("/{agency}/people")
def add(
    request: Request,
    person: Member,
    now: Now,
    username: Text = "",
    name: Text = "",
    roles: Annotated[list[str] | None, Form()] = None,
) -> Response:
    chosen = frozenset(roles or ()) & {role.value for role in Role}
    database = request.app.state.database
    try:
        with database.writing() as tx:
            added, token = invite(
                tx,
                username=username,
                name=name,
                roles=[Role(role) for role in chosen],
                by=person,
                now=now,
            )
            page = _page(tx, person, now)
    except Refused as refused:
        with database.reading() as tx:
            page = _page(tx, person, now)
        typed = {"username": username, "name": name}
        page = replace(page, typed=typed, chosen=chosen, faults=refused.faults)
        return render(request, "people/list.html", page, status=422)
    return _with_link(request, page, added.name, token)


@router.post("/{agency}/people/{username}/link")
def new_link(request: Request, person: Member, tx: Writing, now: Now, username: str) -> Response:
    """For a link that ran out, and for a password that is lost."""
    token = make_link(tx, username=username, by=person, now=now)
    return _with_link(request, _page(tx, person, now), username, token)


@router.post("/{agency}/people/{username}/close")
def close(person: Member, tx: Writing, now: Now, username: str) -> Response:
    ended = close_account(tx, username=username, by=person, now=now)
    told = f"The account {username} is closed: {ended} session{'' if ended == 1 else 's'} ended."
    return done(f"/{person.agency}/people", told)


@router.post("/{agency}/people/{username}/open-again")
def open_again(request: Request, person: Member, tx: Writing, now: Now, username: str) -> Response:
    open_account_again(tx, username=username, by=person, now=now)
    token = make_link(tx, username=username, by=person, now=now)
    return _with_link(request, _page(tx, person, now), username, token)


def _with_link(request: Request, page: PeoplePage, whose: str, token: str) -> Response:
    address = f"{request.app.state.settings.address}/invitation/{token}"
    return render(request, "people/list.html", replace(page, link=(whose, address)))


@router.post("/{agency}/people/{username}/sign-out")
def sign_out(person: Member, tx: Writing, now: Now, username: str) -> Response:
    """Wherever they are signed in, such as on a lost phone."""
    ended = end_sessions_of(tx, username=username, by=person, now=now)
    told = f"{username} is signed out: {ended} session{'' if ended == 1 else 's'} ended."
    return done(f"/{person.agency}/people", told)
