"""Accounts of one's own agency, for administrators; a token ends access and never gives it."""

from datetime import datetime
from typing import Annotated

from fastapi import APIRouter, Request
from pydantic import BaseModel, ConfigDict, Field

from app.actions.accounts import close_account, end_sessions_of, open_account_again
from app.actions.invitations import invite, make_link
from app.api.access import Member, Now, Reading, Writing, problems
from app.domain.invitations import LINK_LASTS
from app.domain.people import Person, Role
from app.domain.permissions import Deed, check_may
from app.lookups.agencies import closed_people_of, people_of
from app.lookups.invitations import unused_invitations

router = APIRouter(tags=["people"], prefix="/{agency}/people")
REFUSALS = problems(
    _401="Nobody is signed in.",
    _403="Only an administrator may, or the request comes from another site.",
    _404="No such agency, or nobody of that name in it.",
    _409="Nobody else could sign in as administrator.",
    _422="Something is missing or wrong: each is named. Nothing was stored.",
)
Line = Annotated[str, Field(max_length=200)]


class PersonShape(BaseModel):
    username: str
    name: str
    roles: list[Role]
    closed: bool
    link_until: datetime | None = Field(description="Of a link to set a password, not used yet.")


class NewPersonBody(BaseModel):
    model_config = ConfigDict(
        json_schema_extra={
            "example": {"username": "tess", "name": "Tess Loft", "roles": ["technician"]}
        }
    )

    username: Line
    name: Line
    roles: list[Role]


class LinkShape(BaseModel):
    """`link` is told once: whoever opens it first sets the password."""

    username: str
    link: str
    until: datetime


class EndedShape(BaseModel):
    username: str
    sessions: int


@router.get("", summary="Who has an account", responses=REFUSALS)
def people(person: Member, tx: Reading) -> list[PersonShape]:
    """Those who can sign in or are invited, then the closed ones."""
    check_may(person, Deed.END_ACCESS)
    links = {
        username: one.expires_at
        for username, one in unused_invitations(tx, agency_id=person.agency_id).items()
    }
    staff = people_of(tx, agency_id=person.agency_id)
    closed = closed_people_of(tx, agency_id=person.agency_id)
    return [
        *(_shape(one, links.get(one.username), closed=False) for one in staff),
        *(_shape(one, None, closed=True) for one in closed),
    ]


@router.post("", status_code=201, summary="Invite somebody", responses=REFUSALS)
def add(request: Request, person: Member, body: NewPersonBody, tx: Writing, now: Now) -> LinkShape:
    """They set their own password by the link; no token may ask for one."""
    roles = frozenset(body.roles)
    added, token = invite(
        tx, username=body.username, name=body.name, roles=roles, by=person, now=now
    )
    return _link(request, added.username, token, now)


@router.post("/{username}/link", summary="Make another link", responses=REFUSALS)
def link(request: Request, username: str, person: Member, tx: Writing, now: Now) -> LinkShape:
    """For one that ran out, and for a password that is lost."""
    token = make_link(tx, username=username, by=person, now=now)
    return _link(request, username, token, now)


@router.post("/{username}/close", summary="Close an account", responses=REFUSALS)
def close(username: str, person: Member, tx: Writing, now: Now) -> EndedShape:
    """Of somebody who leaves; what they did keeps their name."""
    ended = close_account(tx, username=username, by=person, now=now)
    return EndedShape(username=username, sessions=ended)


@router.post("/{username}/open-again", summary="Open a closed account", responses=REFUSALS)
def open_again(request: Request, username: str, person: Member, tx: Writing, now: Now) -> LinkShape:
    """With a link, by which they set a new password."""
    open_account_again(tx, username=username, by=person, now=now)
    token = make_link(tx, username=username, by=person, now=now)
    return _link(request, username, token, now)


@router.post("/{username}/sign-out", summary="End somebody's sessions", responses=REFUSALS)
def sign_out(username: str, person: Member, tx: Writing, now: Now) -> EndedShape:
    """Wherever they are signed in, such as on a lost phone."""
    ended = end_sessions_of(tx, username=username, by=person, now=now)
    return EndedShape(username=username, sessions=ended)


def _shape(one: Person, link_until: datetime | None, *, closed: bool) -> PersonShape:
    return PersonShape(
        username=one.username,
        name=one.name,
        roles=sorted(one.roles),
        closed=closed,
        link_until=link_until,
    )


def _link(request: Request, username: str, token: str, now: datetime) -> LinkShape:
    address = f"{request.app.state.settings.address}/invitation/{token}"
    return LinkShape(username=username, link=address, until=now + LINK_LASTS)
