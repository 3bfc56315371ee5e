"""Who works here."""

from dataclasses import dataclass, field
from typing import Annotated

from fastapi import APIRouter, Form, Request
from fastapi.responses import Response

from app.actions.accounts import end_sessions_of
from app.actions.people import add_person
from app.domain.errors import Fault, Refused
from app.domain.people import Person, Role
from app.domain.permissions import Deed, check_may
from app.lookups.agencies import people_of
from app.web.notices import done
from app.web.render import render
from app.web.sessions import Member
from app.web.transactions import Now, Reading, Writing

router = APIRouter()
Text = Annotated[str, Form(max_length=300)]


@dataclass(frozen=True)
class PeoplePage:
    people: list[Person]
    roles: list[Role]
    typed: dict[str, str] = field(default_factory=dict)
    chosen: frozenset[str] = frozenset()
    faults: tuple[Fault, ...] = ()


@router.get("/{agency}/people")
def people(request: Request, person: Member, tx: Reading) -> Response:
    check_may(person, Deed.MANAGE_PEOPLE)
    page = PeoplePage(people_of(tx, agency_id=person.agency_id), list(Role))
    return render(request, "people/list.html", page)


@router.post("/{agency}/people")
def add(
    request: Request,
    person: Member,
    now: Now,
    username: Text = "",
    name: Text = "",
    password: Annotated[str, Form(max_length=1000)] = "",
    roles: Annotated[list[str] | None, Form()] = None,
) -> Response:
    chosen = frozenset(roles or ()) & {role.value for role in Role}
    database = request.app.state.database
    try:
        with database.writing() as tx:
            added = add_person(
                tx,
                username=username,
                name=name,
                roles=[Role(role) for role in chosen],
                password=password,
                by=person,
                now=now,
            )
    except Refused as refused:
        with database.reading() as tx:
            everybody = people_of(tx, agency_id=person.agency_id)
        typed = {"username": username, "name": name}
        page = PeoplePage(everybody, list(Role), typed, chosen, refused.faults)
        return render(request, "people/list.html", page, status=422)
    return done(f"/{person.agency}/people", f"{added.name} was added.")


@router.post("/{agency}/people/{username}/sign-out")
def sign_out(person: Member, tx: Writing, now: Now, username: str) -> Response:
    """Wherever they are signed in, such as on a lost phone."""
    ended = end_sessions_of(tx, username=username, by=person, now=now)
    told = f"{username} is signed out: {ended} session{'' if ended == 1 else 's'} ended."
    return done(f"/{person.agency}/people", told)
